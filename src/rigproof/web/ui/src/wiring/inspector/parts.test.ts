import { describe, expect, it } from "vitest";
import type { Finding, Project } from "../../shared/types";
import {
  cableName,
  findingsOf,
  freeCc,
  inTheSet,
  jackOf,
  lanesOf,
  listeningSlots,
  mappings,
  mappingsOf,
  nthOf,
  pluggedIn,
  sendingControls,
  sheetOf,
  slotsOf,
  split,
  valuesOf,
} from "./parts";

const cable = (source: string, target: string): object => ({ source, target, colour: "red" });
const project = {
  rig: {
    modules: [
      { id: "steps", sheet: "step-sheet" },
      { id: "steps-2", sheet: "step-sheet" },
    ],
    outside: [{ id: "box", sheet: "box-sheet" }],
    programs: [{ id: "mill/reverb", sheet: "step-sheet" }],
  },
  patch: {
    cables: [
      cable("steps.gate", "steps-2.clock"),
      cable("steps.gate", "steps-2.reset"),
      cable("steps.gate", "steps-2.clock"),
    ],
    rhythms: [{ slot: "steps.one", values: { steps: "x..." } }],
    samples: [],
    maps: [
      { control: "box.f1", cc: 20, channel: 1, to: ["steps.level"] },
      { control: "box.f2", cc: 21, channel: 2, to: [] },
      { control: "box.f1", cc: 22, channel: 1, to: ["steps-2.level"] },
    ],
  },
  set: {
    sections: [
      {
        id: "a",
        title: "Ebb",
        settings: [{ control: "box.f1", value: 0 }],
        moves: [{ control: "box.f1" }, { control: "box.f1" }, { control: "box.f2" }],
      },
      { id: "b", title: "", settings: [], moves: [{ control: "box.f1" }] },
    ],
  },
  controls: { "steps.chance": {}, "box.f1": {} },
  sheets: {
    "step-sheet": {
      jacks: { clock: { id: "clock" }, gate: { id: "gate" } },
      controls: {
        chance: { id: "chance", sets: ["track.probability"] },
        tone: { id: "tone", sets: ["filter.cutoff"] },
      },
      sections: { track: { kind: "gate-sequencer" }, filter: { kind: "filter" } },
      slots: {
        one: { id: "one", takes: "rhythm", sections: ["track"] },
        level: { id: "level", takes: "cc", sections: ["filter"] },
      },
    },
    "box-sheet": {
      jacks: {},
      controls: { f1: { id: "f1", sets: ["fader-1.position"] }, led: { id: "led", sets: [] } },
      sections: { "fader-1": { kind: "cc-sender" } },
      slots: {},
    },
  },
} as unknown as Project;

describe("names", () => {
  it("parts a name at its first dot", () => {
    expect(split("mill/reverb.size")).toEqual(["mill/reverb", "size"]);
    expect(split("mult")).toEqual(["mult", ""]);
  });
  it("finds sheets and jacks of modules, of what stands beside, and of programs", () => {
    expect(sheetOf(project, "box")).toBe(project.sheets["box-sheet"]);
    expect(sheetOf(project, "mill/reverb")).toBe(project.sheets["step-sheet"]);
    expect(sheetOf(project, "nobody")).toBeNull();
    expect(jackOf(project, "steps.gate")?.id).toBe("gate");
    expect(jackOf(project, "steps.nothing")).toBeNull();
  });
});

describe("cables", () => {
  it("tells cables with the same ends apart by how many stand before", () => {
    const cables = project.patch?.cables ?? [];
    expect(nthOf(cables, 0)).toBe(0);
    expect(nthOf(cables, 1)).toBe(0);
    expect(nthOf(cables, 2)).toBe(1);
    expect(cableName(cables, 2)).toEqual({ source: "steps.gate", target: "steps-2.clock", nth: 1 });
    expect(cableName(cables, 3)).toBeNull();
  });
  it("finds what is in a jack, whichever end it is", () => {
    expect(pluggedIn(project, "steps.gate").map((one) => [one.index, one.other])).toEqual([
      [0, "steps-2.clock"],
      [1, "steps-2.reset"],
      [2, "steps-2.clock"],
    ]);
    expect(pluggedIn(project, "steps-2.reset").map((one) => one.other)).toEqual(["steps.gate"]);
    expect(pluggedIn(project, "steps.clock")).toEqual([]);
  });
});

describe("mappings", () => {
  it("counts those of one control", () => {
    expect(mappings(project).map((one) => one.nth)).toEqual([0, 0, 1]);
  });
  it("finds those that a module sends or hears, and not those of a name that begins alike", () => {
    expect(mappingsOf(project, "steps").map((one) => one.index)).toEqual([0]);
    expect(mappingsOf(project, "steps-2").map((one) => one.index)).toEqual([2]);
    expect(mappingsOf(project, "box").map((one) => one.index)).toEqual([0, 1, 2]);
  });
  it("knows what sends and what listens", () => {
    expect(sendingControls(project)).toEqual(["box.f1"]);
    expect(listeningSlots(project)).toEqual(["steps.level", "steps-2.level", "mill/reverb.level"]);
  });
  it("offers the lowest number that nothing sends on the channel", () => {
    const maps = project.patch?.maps ?? [];
    expect(freeCc(maps, 1)).toBe(21);
    expect(freeCc(maps, 2)).toBe(20);
    const all = Array.from({ length: 12 }, (_, i) => ({ ...maps[0]!, cc: 20 + i }));
    expect(freeCc(all, 1)).toBe(102);
  });
});

it("finds slots with what is in them and the controls that turn the same", () => {
  const [view, ...others] = slotsOf(project, "steps");
  expect(others).toEqual([]);
  expect(view?.name).toBe("steps.one");
  expect(view?.kinds).toEqual(["gate-sequencer"]);
  expect(view?.controls).toEqual(["chance"]);
  expect(view && valuesOf(view)).toEqual({ steps: "x..." });
  expect(slotsOf(project, "steps-2").map(valuesOf)).toEqual([{}]);
});

it("finds the lanes of one jack only", () => {
  const reading = (module: string, jack: string, lane: string): object => ({ module, jack, lane });
  const readings = {
    "a.out": reading("a", "out", "tip"),
    "a.out:ring": reading("a", "out", "ring"),
    "a.out-2": reading("a", "out-2", "tip"),
  } as never;
  expect(lanesOf(readings, "a.out").map((one) => one.key)).toEqual(["a.out", "a.out:ring"]);
});

it("finds the findings of what is chosen, but not those that were let stand", () => {
  const finding = (at: string, declined: string | null = null): Finding =>
    ({ finding: `at-${at}`, at, declined, family: "cables" }) as Finding;
  const all = [
    finding("steps.gate"),
    finding("steps.gate to steps-2.clock"),
    finding("steps-2"),
    finding("steps.chance"),
    finding("steps.clock", "on purpose"),
  ];
  const at = (chosen: Parameters<typeof findingsOf>[1]): string[] =>
    findingsOf(all, chosen, project).map((one) => one.at);
  expect(at({ sort: "jack", name: "steps.gate" })).toEqual([
    "steps.gate",
    "steps.gate to steps-2.clock",
  ]);
  expect(at({ sort: "module", name: "steps-2" })).toEqual([
    "steps.gate to steps-2.clock",
    "steps-2",
  ]);
  expect(at({ sort: "control", name: "steps.chance" })).toEqual(["steps.chance"]);
  expect(at({ sort: "cable", index: 0 })).toEqual(["steps.gate to steps-2.clock"]);
  expect(at({ sort: "cable", index: 1 })).toEqual([]);
  expect(at({ sort: "jack", name: "steps.clock" })).toEqual([]);
  expect(at({ sort: "finding", finding: "at-steps-2", at: "steps-2" })).toEqual(["steps-2"]);
  expect(at(null)).toEqual([]);
});

it("says where in the set a control is set or moved", () => {
  expect(inTheSet(project, "box.f1")).toEqual([
    "Ebb: set when it begins",
    "Ebb: 2 moves",
    "b: one move",
  ]);
  expect(inTheSet(project, "box.f3")).toEqual([]);
});
