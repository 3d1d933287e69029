import { describe, expect, it } from "vitest";
import { freeId, idFrom, idTrouble } from "./ids";

describe("ids", () => {
  it("proposes the name, and numbers from the second on", () => {
    expect(freeId("mixer-4", [])).toBe("mixer-4");
    expect(freeId("mixer-4", ["mixer-4"])).toBe("mixer-4-no-2");
    expect(freeId("mixer-4", ["mixer-4", "mixer-4-no-2"])).toBe("mixer-4-no-3");
  });
  it("always proposes a good one", () => {
    const long = "a".repeat(64);
    const id = freeId(long, [long]);
    expect(idTrouble(id, [long])).toBe("");
  });
  it("says what is wrong", () => {
    expect(idTrouble("bass-vca", ["vca"])).toBe("");
    expect(idTrouble("vca", ["vca"])).toBe("There is a vca already.");
    for (const bad of ["", "Vca", "my vca", "-vca", "vca-", "v--a", "a".repeat(65), "vcä"])
      expect(idTrouble(bad, []), bad).not.toBe("");
  });
  it("makes an id of a title", () => {
    expect(idFrom("Two LFOs, slow & steady")).toBe("two-lfos-slow-steady");
    expect(idFrom("Überblende")).toBe("uberblende");
    expect(idFrom("…")).toBe("");
  });
});
