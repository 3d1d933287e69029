import { describe, expect, it } from "vitest";
import { madeUp } from "./made_up";
import { blockName, pinName, wireName } from "./names";
import { sketchOf } from "./shape";

const diagram = madeUp(2);
const edge = diagram.edges[0]!;

describe("names", () => {
  it("names a wire by its ends as it flows, and by what it carries", () => {
    expect(wireName(edge)).toBe("cable from clock.beat-1 to seq-1.clock, clock");
    expect(wireName({ ...edge, signal: "cv" })).toContain(", CV");
    expect(wireName({ ...edge, is_backwards: true })).toContain("from seq-1.clock to clock.beat-1");
    expect(wireName({ ...edge, is_loop: true })).toContain("part of a feedback loop");
    expect(wireName({ ...edge, driver: "other.out" })).toContain("driven by other.out");
    expect(wireName({ ...edge, sort: "usb", signal: "usb" })).toMatch(/^USB cable from/);
  });

  it("names a block and its pins", () => {
    const shape = sketchOf(diagram, diagram.groups, new Set()).shapes.find(
      (s) => s.id === "osc-1",
    )!;
    expect(blockName(shape)).toBe("osc-1, An oscillator: 3 of 4 jacks in use");
    expect(pinName(shape.pins.find((pin) => pin.id === "osc-1.saw")!)).toBe(
      "osc-1.saw, output, audio, 1 cable",
    );
    expect(pinName(shape.free[0]!)).toBe("osc-1.sine, output, audio, free");
  });
});
