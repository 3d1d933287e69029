import { beforeEach, describe, expect, it } from "vitest";
import { madeUp } from "./made_up";
import { keptAs, recall, recallView, remember, rememberView } from "./stay";

const diagram = madeUp(2);
const spots = new Map(diagram.blocks.map((block, index) => [block.id, { x: 12 * index, y: 24 }]));

describe("stay", () => {
  beforeEach(() => localStorage.clear());

  it("gives back what was kept", () => {
    const ways = new Map([
      [
        "a.b>c.d",
        [
          { x: 0, y: 12 },
          { x: 24, y: 12 },
        ],
      ],
    ]);
    const stay = {
      groups: diagram.groups,
      spots,
      folded: new Set(["voice-1"]),
      byHand: new Set(["clock"]),
      ways,
    };
    remember("harbour", stay);
    expect(recall("harbour", diagram)).toEqual(stay);
    expect(recall("another", diagram)).toBe(null);
  });

  it("is kept by the file of the patch, so that another name for it moves no block", () => {
    const files = ["harbour.patch.toml", "rig.toml"];
    expect(keptAs({ folder: "harbour", files })).toBe("harbour/harbour.patch.toml");
    expect(keptAs({ folder: "harbour", files: ["rig.toml"] })).toBe("harbour/");
  });

  it("begins anew where most modules are others", () => {
    const few = new Map([...spots].slice(0, 3));
    remember("harbour", {
      groups: diagram.groups,
      spots: few,
      folded: new Set(),
      byHand: new Set(),
      ways: new Map(),
    });
    expect(recall("harbour", diagram)).toBe(null);
  });

  it.each([
    "{",
    "null",
    '{"version":0}',
    '{"version":4,"groups":[],"spots":[["clock",{"x":null,"y":0}]],"folded":[],"ways":[]}',
    '{"version":4,"groups":[],"spots":[["clock",{"x":0,"y":0}]],"folded":[],"ways":[["a",[{"x":1}]]]}',
    '{"version":4,"groups":[],"spots":[["clock",{"x":0,"y":0}]],"folded":[]}',
    '{"version":4,"groups":7,"spots":[],"folded":[],"ways":[]}',
  ])("trusts nothing that is not whole: %s", (text) => {
    localStorage.setItem("rigproof-wiring:harbour", text);
    expect(recall("harbour", diagram)).toBe(null);
  });
});

describe("how it was looked at", () => {
  beforeEach(() => localStorage.clear());

  it("is kept until the drawing is shown whole again", () => {
    const view = { x: -40, y: 12.5, scale: 0.7 };
    rememberView("harbour", view);
    expect(recallView("harbour")).toEqual(view);
    expect(recallView("another")).toBe(null);
    rememberView("harbour", null);
    expect(recallView("harbour")).toBe(null);
  });

  it.each(["{", "7", '{"x":0,"y":0}', '{"x":0,"y":0,"scale":"1"}'])(
    "is not trusted: %s",
    (text) => {
      localStorage.setItem("rigproof-wiring-view:harbour", text);
      expect(recallView("harbour")).toBe(null);
    },
  );
});
