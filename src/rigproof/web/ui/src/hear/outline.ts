/** The outline of a whole render, asked for in pieces and drawn as one path. */

export interface Outline {
  low: number[];
  high: number[];
}

/** So much is asked for at once: it keeps the server's memory small. [s] */
export const PIECE_S = 60;

export interface Piece {
  at_s: number;
  length_s: number;
  columns: number;
}

/** Return the pieces of a window of the render that together have about so many columns. */
export function piecesOf(from_s: number, to_s: number, columns: number): Piece[] {
  const length_s = to_s - from_s;
  if (!(length_s > 0)) return [];
  const count = Math.ceil(length_s / PIECE_S - 1e-9);
  return Array.from({ length: count }, (_, index) => ({
    at_s: from_s + (index * length_s) / count,
    length_s: length_s / count,
    columns: Math.max(1, Math.round(columns / count)),
  }));
}

/** Return the path round an outline: along the top, and back along the bottom. */
export function outlinePath(
  { low, high }: Outline,
  width: number,
  height: number,
  full: number,
): string {
  if (low.length === 0) return "";
  const x = (index: number): string => ((index / Math.max(1, low.length - 1)) * width).toFixed(1);
  const y = (value: number): number => {
    const inside = Math.max(-1, Math.min(1, value / full));
    return (height / 2) * (1 - inside);
  };
  const top = high.map((value, index) => `${x(index)} ${y(value).toFixed(1)}`);
  // Half a pixel at least, so that silence is a line and not nothing.
  const bottom = low.map(
    (value, index) => `${x(index)} ${Math.max(y(value), y(high[index] ?? value) + 0.5).toFixed(1)}`,
  );
  return `M${top.join("L")}L${bottom.reverse().join("L")}Z`;
}
