import { describe, expect, it } from "vitest";
import type { Cable, Project } from "../shared/types";
import { leadOf, stockOf } from "./stock";

const sheet = (plugs: Record<string, string>) => ({
  jacks: Object.fromEntries(Object.entries(plugs).map(([id, plug]) => [id, { id, plug }])),
});
const PROJECT = {
  rig: {
    modules: [
      { id: "osc", sheet: "osc" },
      { id: "mix", sheet: "mix" },
    ],
    outside: [{ id: "desk", sheet: "desk" }],
  },
  sheets: {
    osc: sheet({ saw: "mono-3.5", midi: "midi-trs-a" }),
    mix: sheet({ in: "mono-3.5", out: "stereo-3.5", midi: "midi-trs-b" }),
    desk: sheet({ left: "line-6.3" }),
  },
} as unknown as Project;
const cable = (source: string, target: string, cm: number | null, lead: string | null = null) =>
  ({ source, target, cm, lead, colour: null }) as unknown as Cable;

describe("leads", () => {
  it("follow from the jacks", () => {
    expect(leadOf(PROJECT, cable("osc.saw", "mix.in", 30))).toBe("mono-3.5");
    expect(leadOf(PROJECT, cable("osc.midi", "mix.midi", 30))).toBe("stereo-3.5");
    expect(leadOf(PROJECT, cable("mix.out", "mix.in", 30))).toBe("mono-3.5");
    expect(leadOf(PROJECT, cable("mix.out", "desk.left", 30))).toBe("stereo-3.5");
    expect(leadOf(PROJECT, cable("osc.midi", "mix.midi", 30, "midi-crossed"))).toBe("midi-crossed");
  });
});

describe("the box", () => {
  it("counts what is used, what is short, and what has no length yet", () => {
    const patch = {
      cables: [
        cable("osc.saw", "mix.in", 30),
        cable("osc.saw", "mix.in", 30),
        cable("osc.saw", "mix.in", 90),
        cable("osc.midi", "mix.midi", 30),
        cable("osc.saw", "mix.in", null),
      ],
    } as never;
    const box = [
      { lead: "mono-3.5", cm: 30, count: 1 },
      { lead: "usb", cm: 100, count: 2 },
    ];
    expect(stockOf(PROJECT, patch, box)).toEqual({
      rows: [
        { lead: "mono-3.5", cm: 30, count: 1, used: 2, index: 0 },
        { lead: "usb", cm: 100, count: 2, used: 0, index: 1 },
        { lead: "mono-3.5", cm: 90, count: 0, used: 1, index: null },
        { lead: "stereo-3.5", cm: 30, count: 0, used: 1, index: null },
      ],
      open: { "mono-3.5": 1 },
    });
  });
});
