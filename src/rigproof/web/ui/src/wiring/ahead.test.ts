import { describe, expect, it } from "vitest";
import { nthOf, withCable, withoutCable, withReplugged } from "./ahead";
import { madeUp } from "./made_up";

const jack = (diagram: ReturnType<typeof madeUp>, name: string) => {
  const [module, id] = name.split(".");
  return diagram.blocks.find((one) => one.id === module)!.jacks.find((one) => one.id === id)!;
};
const before = madeUp(2);
const count = before.edges.length;

describe("withCable", () => {
  it("puts the cable at the end of the list and its plugs into the jacks", () => {
    const after = withCable(before, { source: "osc-1.sine", target: "clock.run" });
    expect(after.edges.at(-1)).toMatchObject({
      cable: count,
      source: "osc-1.sine",
      target: "clock.run",
      signal: "audio",
    });
    expect(jack(after, "osc-1.sine")).toMatchObject({ is_used: true, cables: [count] });
    expect(jack(after, "clock.run")).toMatchObject({ is_used: true, cables: [count] });
    expect(jack(before, "clock.run").is_used).toBe(false);
  });

  it("keeps normals behind the cables", () => {
    const normal = { ...before.edges[0]!, sort: "normal" as const, cable: null };
    const some = { ...before, edges: [...before.edges, normal] };
    const after = withCable(some, { source: "osc-1.sine", target: "clock.run" });
    expect(after.edges.map((edge) => edge.cable)).toEqual([...Array(count + 1).keys(), null]);
  });
});

describe("withoutCable", () => {
  it("takes the plugs out and moves the later cables up", () => {
    const gone = before.edges[3]!;
    const after = withoutCable(before, 3);
    expect(after.edges.map((edge) => edge.cable)).toEqual([...Array(count - 1).keys()]);
    expect(after.edges.some((edge) => edge.target === gone.target)).toBe(false);
    expect(jack(after, gone.target).is_used).toBe(false);
    expect(jack(after, after.edges[3]!.target).cables).toEqual([3]);
  });
});

describe("withReplugged", () => {
  it("moves one end", () => {
    const after = withReplugged(before, 0, { source: "clock.beat-1", target: "wave.sync" });
    expect(jack(after, "wave.sync").cables).toEqual([0]);
    expect(jack(after, "seq-1.clock").is_used).toBe(false);
  });
});

describe("nthOf", () => {
  it("counts the cables before it with the same ends", () => {
    const { source, target } = before.edges[0]!;
    const twice = withCable(before, { source, target });
    expect(nthOf(twice, 0)).toBe(0);
    expect(nthOf(twice, count)).toBe(1);
  });
});
