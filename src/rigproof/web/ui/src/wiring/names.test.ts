import { describe, expect, it } from "vitest";
import { madeUp } from "./made_up";
import { blockName, cut, pinName, wireName } from "./names";
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

  it("reads out what is written at a pin, once", () => {
    const shape = sketchOf(diagram, diagram.groups, new Set()).shapes.find(
      (s) => s.id === "osc-1",
    )!;
    const pin = { ...shape.free[0]!, id: "clock.sixteenth", label: "1/16" };
    expect(pinName(pin)).toBe("clock.sixteenth, 1/16, output, audio, free");
    expect(pinName({ ...pin, id: "lfo.clock-1", label: "Clock 1" })).toMatch(/^lfo\.clock-1, out/);
    expect(pinName({ ...pin, id: "mult.a-1", label: "a1" })).toMatch(/^mult\.a-1, a1, /);
  });

  it("cuts after whole words, so that a cut name is a part of the name", () => {
    expect(cut("Master clock", 12)).toBe("Master clock");
    expect(cut("Master clock, six rates", 20)).toBe("Master clock, six…");
    expect(cut("Master clock, six rates", 14)).toBe("Master clock…");
    expect(cut("note-sequencer-16", 9)).toBe("note…");
    expect(cut("oscillator", 6)).toBe("oscil…");
    for (let letters = 1; letters < 30; letters += 1)
      expect(cut("Master clock, six rates", letters).length).toBeLessThanOrEqual(
        Math.max(2, letters),
      );
  });
});
