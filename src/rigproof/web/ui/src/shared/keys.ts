/** What the keys do, place by place: shown on the help sheet, so a key that does something stands here. */
export interface KeyGroup {
  place: string;
  keys: [string, string][];
}

export const KEYS: KeyGroup[] = [
  {
    place: "Everywhere",
    keys: [
      ["Alt+1 … Alt+9", "go to a place"],
      ["Ctrl+Z", "undo"],
      ["Ctrl+Shift+Z", "redo"],
      ["?", "this sheet"],
      ["Esc", "close, let go"],
    ],
  },
];
