import { beforeEach, describe, expect, it } from "vitest";
import { madeUp } from "./made_up";
import { recall, remember } from "./stay";

const diagram = madeUp(2);
const spots = new Map(diagram.blocks.map((block, index) => [block.id, { x: 12 * index, y: 24 }]));

describe("stay", () => {
  beforeEach(() => localStorage.clear());

  it("gives back what was kept", () => {
    const stay = { groups: diagram.groups, spots, folded: new Set(["voice-1"]) };
    remember("harbour", stay);
    expect(recall("harbour", diagram)).toEqual(stay);
    expect(recall("another", diagram)).toBe(null);
  });

  it("begins anew where most modules are others", () => {
    const few = new Map([...spots].slice(0, 3));
    remember("harbour", { groups: diagram.groups, spots: few, folded: new Set() });
    expect(recall("harbour", diagram)).toBe(null);
  });

  it.each([
    "{",
    "null",
    '{"version":0}',
    '{"version":1,"groups":[],"spots":[["clock",{"x":null,"y":0}]],"folded":[]}',
    '{"version":1,"groups":7,"spots":[],"folded":[]}',
  ])("trusts nothing that is not whole: %s", (text) => {
    localStorage.setItem("rigproof-wiring:harbour", text);
    expect(recall("harbour", diagram)).toBe(null);
  });
});
