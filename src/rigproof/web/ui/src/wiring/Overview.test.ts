import { cleanup, fireEvent, render } from "@testing-library/svelte";
import { afterEach, expect, it, vi } from "vitest";
import { arrange } from "./arrange";
import { madeUp } from "./made_up";
import Overview from "./Overview.svelte";
import { pictureOf } from "./picture";
import { sketchOf } from "./shape";

afterEach(cleanup);

it("shows all blocks and the part that is seen, and goes where it is pressed", async () => {
  const diagram = madeUp(3);
  const { groups } = diagram;
  const folded = new Set<string>();
  const spots = arrange(sketchOf(diagram, groups, folded));
  const { picture } = pictureOf({ diagram, groups, folded, spots, ways: new Map() });
  const { extent } = picture;
  const onmove = vi.fn();
  const seen = { x: 12, y: 24, width: 480, height: 360 };
  const { getByTestId } = render(Overview, { picture, seen, onmove });
  const map = getByTestId("diagram-overview");
  expect(map.querySelectorAll(".block").length).toBe(diagram.blocks.length);
  expect(map.querySelector(".seen")!.getAttribute("width")).toBe("480");
  map.setPointerCapture = vi.fn();
  map.getBoundingClientRect = () => new DOMRect(100, 50, extent.width / 10, extent.height / 10);
  const pointer = (sort: string, buttons: number, clientX: number, clientY: number): MouseEvent =>
    new MouseEvent(sort, { bubbles: true, buttons, clientX, clientY });
  await fireEvent(map, pointer("pointerdown", 1, 110, 70));
  expect(onmove).toHaveBeenLastCalledWith({ x: extent.x + 100, y: extent.y + 200 });
  await fireEvent(map, pointer("pointermove", 0, 120, 70));
  expect(onmove).toHaveBeenCalledTimes(1);
});
