/** How signals are drawn: a line style each, so that colour is never needed to tell them apart. */
import type { Signal } from "./types";

export interface SignalLook {
  signal: Signal;
  name: string;
  /** Lengths of dash and gap, in px at full size; none is a solid line. */
  dash: readonly number[];
  width: number;
  /** A double line: paper shows between two inks. */
  isDouble: boolean;
  colour: string;
}

const look = (
  signal: Signal,
  name: string,
  dash: readonly number[],
  width: number,
  isDouble = false,
): SignalLook => ({ signal, name, dash, width, isDouble, colour: `var(--sig-${signal})` });

export const SIGNALS: Record<Signal, SignalLook> = {
  audio: look("audio", "Audio", [], 2.5),
  cv: look("cv", "CV", [10, 5], 2),
  pitch: look("pitch", "Pitch", [14, 4, 2, 4], 2),
  gate: look("gate", "Gate", [6, 3], 2),
  trigger: look("trigger", "Trigger", [2, 4], 2),
  clock: look("clock", "Clock", [2, 2, 8, 2], 2),
  midi: look("midi", "MIDI", [], 4.5, true),
  usb: look("usb", "USB", [12, 3], 4.5, true),
  link: look("link", "Link", [3, 3], 4.5, true),
};
