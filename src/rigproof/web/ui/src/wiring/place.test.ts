// @vitest-environment node
import { describe, expect, it } from "vitest";
import type { DrawnGroup } from "../shared/types";
import { keepGroups } from "./place";

const group = (name: string, sort: DrawnGroup["sort"], ...modules: string[]): DrawnGroup => ({
  name,
  sort,
  modules,
  voices: [],
});
const before = [group("bass", "voice", "osc"), group("not heard", "apart", "echo", "spring")];
const named = (groups: readonly DrawnGroup[]) =>
  Object.fromEntries(groups.map((one) => [one.name, one.modules]));

describe("a group of what is not heard", () => {
  it("keeps its blocks and says so when some of them are heard, and all of them", () => {
    const some = [group("bass", "voice", "osc", "echo"), group("not heard", "apart", "spring")];
    expect(named(keepGroups(some, before))).toEqual({
      bass: ["osc"],
      "not all heard": ["echo", "spring"],
    });
    const all = [group("bass", "voice", "osc", "echo", "spring")];
    const kept = keepGroups(all, keepGroups(some, before));
    expect(named(kept)).toEqual({ bass: ["osc"], "wired since": ["echo", "spring"] });
    // The cables are pulled again, and what is put in then is not heard either.
    const none = [before[0]!, group("not heard", "apart", "echo", "spring", "tape")];
    expect(named(keepGroups(none, kept))).toEqual({
      bass: ["osc"],
      "not heard": ["echo", "spring", "tape"],
    });
  });

  it("is said to be heard in part where a module that is not heard joins heard ones", () => {
    const all = [group("bass", "voice", "osc", "echo", "spring")];
    const kept = keepGroups(all, before);
    const one = [...all, group("not heard", "apart", "tape")];
    expect(named(keepGroups(one, kept))).toEqual({
      bass: ["osc"],
      "not all heard": ["echo", "spring", "tape"],
    });
  });
});
