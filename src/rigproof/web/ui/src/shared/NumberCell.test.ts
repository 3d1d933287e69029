import { cleanup, fireEvent, render } from "@testing-library/svelte";
import { afterEach, expect, it, vi } from "vitest";
import NumberCell from "./NumberCell.svelte";

afterEach(cleanup);

async function left(typed: string): Promise<{ field: HTMLInputElement; set: number[] }> {
  const onset = vi.fn<(value: number) => void>();
  render(NumberCell, { label: "Depth", value: 30, most: 200, onset });
  const field = document.querySelector("input")!;
  await fireEvent.input(field, { target: { value: typed } });
  await fireEvent.blur(field);
  return { field, set: onset.mock.calls.map(([value]) => value) };
}

it("writes a number when it is left, with a comma as well as with a point", async () => {
  expect((await left("25,5")).set).toEqual([25.5]);
});

it.each([
  ["2 cm", "a number"],
  ["500", "0 to 200"],
])("keeps %s as it was typed and says that it wants %s", async (typed, wanted) => {
  const { field, set } = await left(typed);
  expect(set).toEqual([]);
  expect(field.value).toBe(typed);
  expect(document.querySelector("[role=alert]")?.textContent).toBe(wanted);
  await fireEvent.keyDown(field, { key: "Escape" });
  expect(field.value).toBe("30");
  expect(document.querySelector("[role=alert]")).toBeNull();
});

it("goes back to what it was where nothing is typed", async () => {
  const { field, set } = await left("");
  expect(set).toEqual([]);
  expect(field.value).toBe("30");
});
