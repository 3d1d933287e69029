import { describe, expect, it } from "vitest";
import { cutTo, LEAST_PX, MOST_PX, plateOf, widthOf } from "./nameplate";

describe("plateOf", () => {
  it("writes a name on one line, as large as fits and no larger than needed", () => {
    const plate = plateOf("clock", 60, 40);
    expect(plate).toMatchObject({ lines: ["clock"], isUpright: false, isCut: false });
    expect(plate.size).toBeGreaterThan(LEAST_PX);
    expect(widthOf("clock") * plate.size).toBeLessThanOrEqual(60);
    expect(plateOf("clock", 900, 900).size).toBe(MOST_PX);
  });

  it("breaks a name after a dash where one line is too narrow", () => {
    expect(plateOf("submix-3", 52, 40)).toMatchObject({ lines: ["submix-", "3"], isCut: false });
  });

  it("writes upright in a block that is tall and narrow", () => {
    expect(plateOf("sampler", 22, 80)).toMatchObject({ lines: ["sampler"], isUpright: true });
  });

  it("narrows the letters a little before it leaves any out", () => {
    const plate = plateOf("env-1", 30, 21);
    expect(plate).toMatchObject({ lines: ["env-1"], isCut: false, size: LEAST_PX });
    expect(plate.squeeze).toBeGreaterThan(0.8);
    expect(plate.squeeze).toBeLessThan(1);
  });

  it("shortens what fits in no way, and writes nothing where not two letters fit", () => {
    expect(plateOf("sampler", 36, 20)).toEqual({
      lines: ["samp…"],
      isUpright: false,
      isCut: true,
      size: LEAST_PX,
      squeeze: 0.82,
    });
    expect(plateOf("sampler", 12, 10)).toMatchObject({ lines: [], isCut: true });
  });

  it("is never smaller than can be read, nor wider or taller than the block", () => {
    for (const name of ["vcas", "mmmmmm", "a-very-long-name-of-a-module", "wave folder"]) {
      for (let width = 10; width < 120; width += 7) {
        for (let height = 10; height < 90; height += 7) {
          const { lines, size, squeeze, isUpright } = plateOf(name, width, height);
          if (lines.length === 0) continue;
          expect(size).toBeGreaterThanOrEqual(LEAST_PX);
          const [along, across] = isUpright ? [height, width] : [width, height];
          expect(Math.max(...lines.map(widthOf)) * size * squeeze).toBeLessThanOrEqual(along);
          expect(lines.length * size * 0.8).toBeLessThanOrEqual(across);
        }
      }
    }
  });
});

describe("cutTo", () => {
  it("leaves what fits, and says where something is left out", () => {
    expect(cutTo("bass", 9)).toBe("bass");
    expect(cutTo("what steers them", 4)).toMatch(/^what…$/);
    expect(cutTo("bass", 0.2)).toBe("");
  });
});
