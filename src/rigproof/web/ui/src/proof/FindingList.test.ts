import { fireEvent, render, screen } from "@testing-library/svelte";
import { expect, it, vi } from "vitest";
import type { Finding } from "../shared/types";
import FindingList from "./FindingList.svelte";
import { grouped, keyOf } from "./order";

const found = (finding: string, more: Partial<Finding> = {}): Finding => ({
  finding,
  family: "levels",
  severity: "hurts",
  at: "a.b",
  where: null,
  message: "",
  evidence: {},
  fix: null,
  declined: null,
  caution: "",
  explanation: {},
  ...more,
});
const findings = [
  found("first", { severity: "stops-the-show", fix: { words: "do so", safe: true } }),
  found("second"),
  found("third", { severity: "worth-knowing" }),
  found("fourth", { declined: "so be it" }),
];
const groups = grouped(findings, { text: "", family: "", module: "" });

it("goes along by keys over all groups, stops at the last one in sight, and opens", async () => {
  const onchoose = vi.fn();
  const onopen = vi.fn();
  render(FindingList, { groups, chosen: null, onchoose, onopen });
  const button = (name: string): HTMLElement => screen.getByTestId(`finding-${name}`);
  expect([button("first").tabIndex, button("second").tabIndex]).toEqual([0, -1]);
  button("first").focus();
  await fireEvent.keyDown(button("first"), { key: "ArrowDown" });
  expect(document.activeElement).toBe(button("second"));
  expect(onchoose.mock.lastCall?.[0]).toBe(findings[1]);
  await fireEvent.keyDown(button("second"), { key: "End" });
  expect(document.activeElement).toBe(button("third"));
  expect(onchoose.mock.lastCall?.[0]).toBe(findings[2]);
  await fireEvent.click(button("third"));
  expect(onopen.mock.lastCall?.[0]).toBe(findings[2]);
});
it("tells which is shown, which has a safe fix, and how many there are", () => {
  render(FindingList, {
    groups,
    chosen: keyOf(findings[1] ?? found("none")),
    onchoose: vi.fn(),
    onopen: vi.fn(),
  });
  expect(screen.getByTestId("finding-second").getAttribute("aria-current")).toBe("true");
  expect(screen.getByTestId("finding-first").textContent).toContain("safe fix");
  expect(screen.getByRole("region", { name: "Hurts, 1" })).toBeTruthy();
  expect(screen.getByText("Declined").textContent).toBe("Declined 1");
});
