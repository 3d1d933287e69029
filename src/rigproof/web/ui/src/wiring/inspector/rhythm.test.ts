import { describe, expect, it } from "vitest";
import {
  euclidOf,
  euclidean,
  lettersOf,
  listOf,
  listText,
  LISTS,
  noteVolts,
  resized,
  shownSteps,
  stepsOf,
  touched,
  transposed,
  withPart,
  withStep,
} from "./rhythm";

describe("letters", () => {
  it("reads hits, accents and rests, and passes over what only helps the eye", () => {
    expect(stepsOf("X.x- | x...")).toEqual([
      "accent",
      "rest",
      "hit",
      "rest",
      "hit",
      "rest",
      "rest",
      "rest",
    ]);
    expect(stepsOf("")).toEqual([]);
    expect(stepsOf("x.o.")).toBeNull();
    expect(stepsOf("x".repeat(64))).toHaveLength(64);
    expect(stepsOf("x".repeat(65))).toBeNull();
  });
  it("changes one step and leaves spaces and bars", () => {
    expect(withStep("x... | x...", 4, "rest")).toBe("x... | ....");
    expect(withStep("x... | x...", 0, "accent")).toBe("X... | x...");
    expect(withStep("x...", 3, "hit")).toBe("x..x");
    expect(withStep("x...", 9, "hit")).toBe("x...");
  });
  it("goes from rest to hit to rest, and past an accent where there are any", () => {
    expect(touched("rest", false)).toBe("hit");
    expect(touched("hit", false)).toBe("rest");
    expect(touched("accent", false)).toBe("rest");
    expect(touched("hit", true)).toBe("accent");
    expect(touched("accent", true)).toBe("rest");
  });
  it("takes another number of steps", () => {
    expect(resized("x..x", 6)).toBe("x..x..");
    expect(resized("x... | x...", 4)).toBe("x...");
    expect(resized("x... | x...", 5)).toBe("x... | x");
    expect(resized("x", 0)).toBe("x");
    expect(resized("x", 100)).toHaveLength(64);
  });
});

describe("even rhythms", () => {
  // G. Toussaint, Proc. BRIDGES 2005, pp. 47-56: E(3,8), E(5,8), E(4,16), E(2,5), E(7,16).
  it.each([
    [3, 8, "x..x..x."],
    [5, 8, "x.xx.xx."],
    [4, 16, "x...x...x...x..."],
    [2, 5, "x.x.."],
    [7, 16, "x..x.x.x..x.x.x."],
  ])("spreads %i hits over %i steps as published", (hits, steps, written) => {
    expect(lettersOf(euclidean(hits, steps))).toBe(written);
  });
  // What the server's own function answers for the same.
  it.each([
    [5, 8, 2, "xx.xx.x."],
    [7, 16, 3, "x.x.x..x.x.x.x.."],
    [9, 16, 0, "x.xx.x.x.xx.x.x."],
    [5, 12, -1, ".x..x.x..x.x"],
    [2, 3, 0, "xx."],
    [13, 24, 0, "x.xx.x.x.x.x.xx.x.x.x.x."],
  ])("%i in %i moved left by %i", (hits, steps, rotation, written) => {
    expect(lettersOf(euclidean(hits, steps, rotation))).toBe(written);
  });
  it("holds as many hits as asked for, whatever the numbers", () => {
    for (let steps = 1; steps <= 64; steps += 1)
      for (let hits = 0; hits <= steps; hits += 1) {
        const found = euclidean(hits, steps, 5);
        expect(found).toHaveLength(steps);
        expect(found.filter((step) => step === "hit")).toHaveLength(hits);
      }
  });
  it("reads what is written, and nothing else", () => {
    expect(euclidOf([3, 8])).toEqual({ hits: 3, steps: 8, rotation: 0 });
    expect(euclidOf([3, 8, 2])).toEqual({ hits: 3, steps: 8, rotation: 2 });
    expect(euclidOf([9, 8])).toBeNull();
    expect(euclidOf([3, 65])).toBeNull();
    expect(euclidOf([3.5, 8])).toBeNull();
    expect(euclidOf("x..")).toBeNull();
    expect(euclidOf(undefined)).toBeNull();
  });
  it("keeps hits and steps where they can be", () => {
    const euclid = { hits: 5, steps: 8, rotation: 0 };
    expect(withPart(euclid, "steps", 4)).toEqual({ hits: 4, steps: 4, rotation: 0 });
    expect(withPart(euclid, "hits", 12)).toEqual({ hits: 8, steps: 8, rotation: 0 });
    expect(withPart(euclid, "steps", 0)).toEqual({ hits: 1, steps: 1, rotation: 0 });
    expect(withPart(euclid, "rotation", -3)).toEqual({ hits: 5, steps: 8, rotation: -3 });
  });
  it("shows letters before even ones, and the usual where nothing is written", () => {
    const usual = { hits: 4, steps: 16, rotation: 0 };
    expect(lettersOf(shownSteps({ steps: "x.X", euclid: [1, 2, 0] }, usual))).toBe("x.X");
    expect(lettersOf(shownSteps({ steps: "", euclid: [1, 2, 0] }, usual))).toBe("x.");
    expect(lettersOf(shownSteps({}, usual))).toBe("x...x...x...x...");
  });
});

describe("lists", () => {
  it("reads notes as volts from C4, twelve semitones an octave", () => {
    expect(noteVolts("C4")).toBe(0);
    expect(noteVolts("A3")).toBeCloseTo(-0.25, 12);
    expect(noteVolts("D2")).toBeCloseTo(-2 + 2 / 12, 12);
    expect(noteVolts("F#2")).toBeCloseTo(-1.5, 12);
    expect(noteVolts("Bb1")).toBeCloseTo(-3 + 10 / 12, 12);
    expect(noteVolts(7)).toBeCloseTo(7 / 12, 12);
    expect(noteVolts("H2")).toBeNull();
  });
  it("moves a note by semitones, written as it was", () => {
    expect(transposed("D2", 1)).toBe("D#2");
    expect(transposed("Bb1", 3)).toBe("Db2");
    expect(transposed("B3", 1)).toBe("C4");
    expect(transposed("C4", -1)).toBe("B3");
    expect(transposed("C0", -12)).toBe("C-1");
    expect(transposed("F#2", 12)).toBe("F#3");
    expect(transposed(7, -2)).toBe(5);
    for (const note of ["A1", "Eb3", "G#5"])
      expect(noteVolts(transposed(note, 5))).toBeCloseTo((noteVolts(note) ?? 0) + 5 / 12, 12);
  });
  it("takes another number of notes", () => {
    expect(listOf(["D2", "A1"], 4, "C3")).toEqual(["D2", "A1", "A1", "A1"]);
    expect(listOf(["D2", "A1"], 1, "C3")).toEqual(["D2"]);
    expect(listOf([], 2, "C3")).toEqual(["C3", "C3"]);
    expect(listOf([], 99, "C3")).toHaveLength(64);
  });
  it("takes commas or spaces, and names what is none", () => {
    expect(LISTS.notes?.read("D2, F#2  7")).toEqual({ values: ["D2", "F#2", 7], wrong: null });
    expect(LISTS.notes?.read("D2 H2").wrong).toContain("'H2'");
    expect(LISTS.chances?.read("1, 0.5").values).toEqual([1, 0.5]);
    expect(LISTS.chances?.read("1.5").values).toBeNull();
    expect(LISTS.ratchets?.read("1 3").values).toEqual([1, 3]);
    expect(LISTS.ratchets?.read("9").values).toBeNull();
    expect(LISTS.conditions?.read("always 2:4 not-first").values).toEqual([
      "always",
      "2:4",
      "not-first",
    ]);
    expect(LISTS.conditions?.read("5:4").values).toBeNull();
    expect(LISTS.volts?.read("").values).toEqual([]);
    expect(LISTS.volts?.read("0 ".repeat(65)).wrong).toBe("at most 64");
  });
  it("writes a list as it is typed", () => {
    expect(listText(["D2", 7])).toBe("D2, 7");
    expect(listText(undefined)).toBe("");
  });
});
