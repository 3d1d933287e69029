/** Made-up things for the page that shows every part in every state. */
import type { ControlNow } from "./types";

export const KNOB: ControlNow = {
  shape: "knob",
  unit: "Hz",
  lo: 20,
  hi: 20000,
  taper: "log",
  choices: [],
  stepped: false,
  default: 440,
  said: null,
  value: 440,
};
