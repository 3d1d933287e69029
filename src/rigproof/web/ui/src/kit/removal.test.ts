import { describe, expect, it } from "vitest";
import type { Project } from "../shared/types";
import { removalOf } from "./removal";

const PROJECT = {
  rig: {
    modules: [{ id: "vca" }, { id: "vca-2" }, { id: "osc" }],
    outside: [{ id: "faders" }],
  },
  patch: {
    cables: [
      { source: "osc.saw", target: "vca.in" },
      { source: "vca-2.out", target: "osc.fm" },
      { source: "vca.out", target: "vca.cv" },
      { source: "osc.saw", target: "vca.in" },
    ],
    maps: [
      { control: "faders.f1", cc: 1, to: ["vca.cc-level"] },
      { control: "faders.f1", cc: 2, to: ["osc.cc-a", "vca.cc-level"] },
      { control: "faders.f2", cc: 3, to: ["osc.cc-a"] },
    ],
    settings: [{ control: "vca.level" }, { control: "vca-2.level" }],
    rhythms: [{ slot: "vca.track" }],
    samples: [{ slot: "vca.bank" }],
  },
  set: {
    sections: [
      {
        id: "drop",
        settings: [{ control: "vca.level" }],
        moves: [{ control: "vca.level" }, { control: "osc.tune" }, { control: "vca.bias" }],
      },
    ],
  },
  insides: [],
} as unknown as Project;

describe("what leaves with a module", () => {
  const { edits, takes, stuck } = removalOf(PROJECT, "vca");

  it("takes all that names it and nothing of its neighbour vca-2", () => {
    expect(edits).toEqual([
      { do: "remove-cable", source: "osc.saw", target: "vca.in", nth: 0 },
      { do: "remove-cable", source: "vca.out", target: "vca.cv", nth: 0 },
      { do: "remove-cable", source: "osc.saw", target: "vca.in", nth: 0 },
      { do: "remove-map", control: "faders.f1", nth: 0 },
      // The first mapping of the fader is gone by then, so the second is the first.
      { do: "set-map-targets", control: "faders.f1", to: ["osc.cc-a"], nth: 0 },
      { do: "forget-control", control: "vca.level" },
      { do: "remove-rhythm", slot: "vca.track" },
      { do: "set-samples", slot: "vca.bank", files: [] },
      { do: "forget-passage-control", passage: "drop", control: "vca.level" },
      { do: "remove-move", passage: "drop", index: 2 },
      { do: "remove-move", passage: "drop", index: 0 },
      { do: "remove-module", module: "vca" },
    ]);
    expect(stuck).toBe("");
  });

  it("names the cables", () => {
    expect(takes.slice(0, 3)).toEqual([
      "cable osc.saw to vca.in",
      "cable vca.out to vca.cv",
      "cable osc.saw to vca.in",
    ]);
    expect(takes).toContain("2 moves in drop");
  });

  it("lets a controller go with its mappings", () =>
    expect(removalOf(PROJECT, "faders").edits).toEqual([
      { do: "remove-map", control: "faders.f1", nth: 0 },
      { do: "remove-map", control: "faders.f1", nth: 0 },
      { do: "remove-map", control: "faders.f2", nth: 0 },
      { do: "remove-outside", id: "faders" },
    ]));

  it("keeps a host in which something runs", () =>
    expect(removalOf({ ...PROJECT, insides: [{ host: "vca" }] } as Project, "vca").stuck).toContain(
      "runs inside vca",
    ));
});
