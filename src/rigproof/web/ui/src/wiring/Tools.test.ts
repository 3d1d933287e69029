import { cleanup, fireEvent, render } from "@testing-library/svelte";
import { afterEach, expect, it } from "vitest";
import Tools from "./Tools.svelte";

afterEach(cleanup);
const nothing = (): void => undefined;

function opened(): HTMLDetailsElement {
  render(Tools, { onzoom: nothing, onfit: nothing, onfitchosen: nothing, onshow: nothing });
  const list = document.querySelector("details")!;
  list.open = true;
  return list;
}

it("closes the list of groups when something else is pressed, and not when the list is", async () => {
  const list = opened();
  await fireEvent.pointerDown(list.querySelector("summary")!);
  expect(list.open).toBe(true);
  await fireEvent.pointerDown(document.body);
  expect(list.open).toBe(false);
});

it("closes the list of groups by Escape and goes back to what opened it", async () => {
  const list = opened();
  await fireEvent.keyDown(list.querySelector(".list")!, { key: "Escape" });
  expect(list.open).toBe(false);
  expect(document.activeElement).toBe(list.querySelector("summary"));
});
