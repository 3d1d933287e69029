export interface KeyGroup {
  place: string;
  keys: [string, string][];
}

/**
 * What the keys do, place by place, in an app of so many places: shown on the help sheet, so a key that does something
 * stands here.
 */
export const keysOf = (places: number): KeyGroup[] => [
  {
    place: "Everywhere",
    keys: [
      [`Alt+1 … Alt+${places}`, "go to a place"],
      ["Ctrl+Z", "undo"],
      ["Ctrl+Shift+Z", "redo"],
      ["?", "this sheet"],
      ["Esc", "close, let go"],
    ],
  },
  {
    place: "Kit: a module of the case",
    keys: [
      ["← →", "move by 1 HP, over a neighbour where it stands in the way"],
      ["Shift+← Shift+→", "move by 5 HP"],
      ["↑ ↓", "to another row"],
      ["X Shift+X", "change places with the next, with the one before"],
      ["T", "turn upside down and back"],
      ["Enter", "to its figures"],
      ["Delete", "remove, after a question"],
    ],
  },
  {
    place: "Wiring: the diagram",
    keys: [
      ["Arrows", "on the ground: pan; on blocks, pins and wires: go along them"],
      ["Shift+Arrows", "pan, wherever you are"],
      ["+ − 0 .", "zoom in, zoom out, all of it, what is chosen"],
      ["Enter", "choose; on a chosen block: to its pins; on a pin: take a cable"],
      ["Space", "choose a pin"],
      ["Enter Tab Esc", "cable in the hand: plug in, next jack, let go; letters find a jack"],
      ["M Shift+M", "on a wire: move its far end, its near end"],
      ["M", "on a block: take it; arrows carry it, Enter puts it down, Esc puts it back"],
      ["Delete", "pull out the chosen cable"],
      ["F", "on a block: fold its group, unfold it"],
      ["/", "find"],
    ],
  },
  {
    place: "Wiring: the inspector",
    keys: [
      ["↑ ↓", "in a value: a step up, a step down; in a note: a semitone"],
      ["Shift+↑ Shift+↓", "in a value: ten steps; in a note: an octave"],
      ["← → ↑ ↓", "in a row of steps: go along"],
      ["Space", "on a step: a hit, a rest"],
      ["x X .", "on a step: a hit, an accent, a rest, and on to the next"],
      ["Enter Esc", "in a field: write it, leave it as it was"],
    ],
  },
  {
    place: "Proof",
    keys: [
      ["↑ ↓", "go along the findings"],
      ["Enter", "open a finding"],
      ["C", "copy its place in the file, to go there in an editor"],
    ],
  },
  {
    place: "Hear",
    keys: [
      ["Space", "play, pause"],
      ["A B", "hear the one, hear the other"],
      ["L", "loop this bar, let go of the loop"],
      ["← →", "timeline: a beat back, a beat on"],
      ["Shift+← Shift+→", "timeline: a bar back, a bar on"],
      ["PageUp PageDown", "timeline: to the section before, after"],
      ["[ ]", "timeline: loop from here, to here"],
      ["+ − 0", "timeline, scope: shorter, longer, all"],
      ["T", "scope: hold at a rise"],
    ],
  },
];
