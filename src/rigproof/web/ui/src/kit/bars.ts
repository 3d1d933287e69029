/** How full the case and its supply are, from the project and its sheets alone: no proof is waited for. */
import { number } from "../shared/words";
import type { Rig, Row, Sheet, Supply } from "../shared/types";
import type { Place } from "./case";

export interface BarInfo {
  label: string;
  used: number;
  given: number | null;
  keep: number;
  words: string;
}

/** The rails of a supply, in the order in which they are named. */
export const RAILS = ["+12V", "-12V", "+5V"] as const;
/** Where a sheet or the supply says nothing of the surge: so many times the running current, as the checks take it. */
export const SURGE_RATIO = 3;

export const railName = (rail: string): string => rail.replace("-", "−").replace("V", " V");

/** Return the width taken of every row. */
export function widthBars(rows: readonly Row[], places: readonly Place[]): BarInfo[] {
  return rows.map((row, index) => {
    const used = places
      .filter((place) => place.row === index + 1)
      .reduce((sum, place) => sum + place.width, 0);
    return {
      label: `Row ${index + 1} width`,
      used,
      given: row.hp,
      keep: 0,
      words: `${used} of ${row.hp} HP`,
    };
  });
}

/** Return the deepest module of every row against the row's depth. */
export function depthBars(rows: readonly Row[], places: readonly Place[]): BarInfo[] {
  return rows.map((row, index) => {
    const deepest = places
      .filter((place) => place.row === index + 1)
      .reduce<Place | null>(
        (most, place) => (most === null || place.depth_mm > most.depth_mm ? place : most),
        null,
      );
    const used = deepest?.depth_mm ?? 0;
    const who = deepest ? ` (${deepest.id})` : "";
    return {
      label: `Row ${index + 1} depth${who}`,
      used,
      given: row.depth_mm,
      keep: 0,
      words: `${number(used, 1)} of ${number(row.depth_mm, 1)} mm`,
    };
  });
}

/** Return what the modules draw from each rail. [mA] */
export function drawn(
  sheets: readonly (Pick<Sheet, "draw_ma"> | undefined)[],
): Record<string, number> {
  const sums: Record<string, number> = {};
  for (const sheet of sheets)
    for (const [rail, ma] of Object.entries(sheet?.draw_ma ?? {}))
      sums[rail] = (sums[rail] ?? 0) + ma;
  return sums;
}

/** Return the rails that are given or drawn from, in their order. */
export function railsOf(...tables: readonly Record<string, number>[]): string[] {
  const named = new Set(tables.flatMap((table) => Object.keys(table)));
  return [
    ...RAILS.filter((rail) => named.has(rail)),
    ...[...named].filter((rail) => !(RAILS as readonly string[]).includes(rail)).sort(),
  ];
}

/** Return the draw from each rail against what the supply gives. */
export function railBars(
  supply: Pick<Supply, "rails_ma" | "headroom_ratio"> | null,
  drawn_ma: Record<string, number>,
): BarInfo[] {
  const rails_ma = supply?.rails_ma ?? {};
  return railsOf(rails_ma, drawn_ma).map((rail) => {
    const used = drawn_ma[rail] ?? 0;
    const given = rails_ma[rail] ?? 0;
    return {
      label: railName(rail),
      used,
      given: given > 0 ? given : null,
      keep: supply?.headroom_ratio ?? 0,
      words:
        given > 0
          ? `${number(used, 0)} of ${number(given, 0)} mA`
          : used > 0
            ? `${number(used, 0)} mA, no such rail`
            : "none",
    };
  });
}

/** Return the surge at switch-on of each rail of which a sheet or the supply says something. */
export function surgeBars(rig: Rig, sheets: Record<string, Sheet>): BarInfo[] {
  const mounted = rig.modules.map((module) => sheets[module.sheet]);
  const surges = mounted.map((sheet) => (sheet?.surge_ma ?? {}) as Record<string, number>);
  const borne_ma = rig.supply?.surge_ma ?? {};
  return railsOf(borne_ma, ...surges).map((rail) => {
    const used = mounted.reduce(
      (sum, sheet, index) =>
        sum + (surges[index]?.[rail] ?? SURGE_RATIO * (sheet?.draw_ma[rail] ?? 0)),
      0,
    );
    const given = borne_ma[rail] ?? SURGE_RATIO * (rig.supply?.rails_ma[rail] ?? 0);
    return {
      label: `${railName(rail)} surge`,
      used,
      given: given > 0 ? given : null,
      keep: 0,
      words: `${number(used, 0)} of ${number(given, 0)} mA`,
    };
  });
}
