import { expect, it } from "vitest";
import type { Project } from "./types";
import { spotsOf } from "./spots";

const project = {
  rig: {
    modules: [
      { id: "vcas", sheet: "quad-vca" },
      { id: "spread", sheet: "quad-vca" },
    ],
    outside: [{ id: "desk", sheet: "desk" }],
  },
  patch: { cables: [{ source: "vcas.out", target: "desk.left" }] },
  sheets: { "quad-vca": { jacks: { out: {} } }, desk: { jacks: { left: {} } } },
  controls: { "vcas.gain-1": {} },
} as unknown as Project;
const places = (at: string, family = "levels"): string[] =>
  spotsOf(at, family, project).map(
    (spot) => `${spot.chosen?.sort ?? "none"} ${spot.words} ${spot.place}`,
  );

it("finds jack, control, module and section", () => {
  expect(places("vcas.out")).toEqual(["jack vcas.out wiring"]);
  expect(places("vcas.gain-1")).toEqual(["control vcas.gain-1 wiring"]);
  expect(places("vcas")).toEqual(["module vcas wiring"]);
  expect(places("vcas.amp.out-2")).toEqual(["module vcas wiring"]);
});
it("finds a cable by its ends, and the ends besides", () => {
  expect(places("vcas.out to desk.left")).toEqual([
    "cable the cable wiring",
    "jack vcas.out wiring",
    "jack desk.left wiring",
  ]);
});
it("leads to the case in matters of the case", () => {
  expect(places("spread and vcas", "fit")).toEqual(["module spread kit", "module vcas kit"]);
  expect(places("+12V", "power")).toEqual(["none the case kit"]);
});
it("leads nowhere for what is everywhere", () => {
  expect(places("patch")).toEqual([]);
});
