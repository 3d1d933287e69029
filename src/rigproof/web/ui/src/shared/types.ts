/** What the server answers, as data. Volts, seconds, hertz, milliamps; the unit stands in the name. */

export interface Where {
  file: string;
  line: number | null;
  key: string | null;
}

export type Signal =
  "audio" | "cv" | "pitch" | "gate" | "trigger" | "clock" | "midi" | "usb" | "link";
export type Raw = number | string | boolean | Raw[];

export interface Row {
  hp: number;
  depth_mm: number;
}
export interface Mounted {
  id: string;
  sheet: string;
  row: number;
  hp: number;
  turned: boolean;
  ribbon: string | null;
  where: Where;
}
export interface Outside {
  id: string;
  sheet: string;
  where: Where;
}
export interface CableStock {
  lead: string;
  cm: number;
  count: number;
}
export interface Board {
  id: string;
  modules: string[];
  lead_cm: number | null;
  mm2: number | null;
  limit_ma: Record<string, number>;
}
export interface Supply {
  rails_ma: Record<string, number>;
  headroom_ratio: number;
  surge_ma: Record<string, number>;
  boards: Board[];
}
export interface Rig {
  name: string;
  rows: Row[];
  supply: Supply | null;
  modules: Mounted[];
  outside: Outside[];
  cables: CableStock[];
  programs: Outside[];
}

export interface Cable {
  source: string;
  target: string;
  colour: string | null;
  cm: number | null;
  lead: string | null;
  where: Where;
}
export interface Setting {
  control: string;
  value: Raw;
  where: Where;
}
export interface Filling {
  slot: string;
  values: Record<string, Raw>;
  where: Where;
}
export interface MapLink {
  control: string;
  cc: number;
  channel: number;
  to: string[];
  where: Where;
}
export interface DeclinedFinding {
  finding: string;
  at: string;
  reason: string;
}
export interface Patch {
  name: string;
  rig: string;
  tempo_bpm: number;
  seed: number;
  cables: Cable[];
  settings: Setting[];
  rhythms: Filling[];
  samples: Filling[];
  maps: MapLink[];
  declined: DeclinedFinding[];
}

export interface Move {
  control: string;
  to: number;
  bar: number;
  beat: number;
  beats: number;
  start: number | null;
  hand: string;
  note: string;
}
export interface Passage {
  id: string;
  title: string;
  bars: number;
  tempo_bpm: number | null;
  settings: Setting[];
  moves: Move[];
}
export interface SetList {
  name: string;
  patch: string;
  tempo_bpm: number | null;
  beats_per_bar: number;
  sections: Passage[];
}

export interface Jack {
  id: string;
  way: "in" | "out" | string;
  signal: Signal;
  plug: string;
  lanes: Record<string, string[]>;
  range_v: [number, number];
  resistance_ohm: number;
  clamp_v: [number, number];
  normal: string | null;
  normal_v: number | null;
  /** Bare contacts of the same module that this one is joined to. */
  joins: string[];
  needed: boolean;
  threshold_v: number | null;
  /** The shortest pulse that it is sure to see. */
  min_pulse_s: number | null;
  /** Pulses per quarter note that it expects, an exact fraction. */
  ppqn: string | null;
  is_ac_coupled: boolean;
  is_inside: boolean;
  at_mm: [number, number] | null;
  label: string;
}
export interface ControlSheet {
  id: string;
  shape: string;
  unit: string;
  lo: number;
  hi: number;
  default: number;
  taper: string;
  choices: string[];
  sets: string[];
  at_mm: [number, number] | null;
  size_mm: number | null;
  label: string;
}
export interface Slot {
  id: string;
  takes: "rhythm" | "samples" | "cc";
  label?: string;
  [more: string]: unknown;
}
export interface Sheet {
  id: string;
  title: string;
  summary: string;
  housing: string;
  is_typical: boolean;
  hp: number | null;
  depth_mm: number | null;
  draw_ma: Record<string, number>;
  jacks: Record<string, Jack>;
  controls: Record<string, ControlSheet>;
  sections: Record<string, { id: string; kind: string; values: Record<string, Raw> }>;
  slots: Record<string, Slot>;
  [more: string]: unknown;
}

/** A control of the rig as the patch sets it. `value` is in `unit`, an index into `choices` where there are any. */
export interface ControlNow {
  shape: string;
  unit: string;
  lo: number;
  hi: number;
  taper: string;
  choices: string[];
  stepped: boolean;
  default: number;
  said: Raw | null;
  value: number | null;
}

export interface Trouble {
  sort: string;
  where: Where | null;
  problem: string;
  found: unknown;
  expected: string | null;
  known: string[];
  nearest: string | null;
}

export interface Travel {
  undo: string | null;
  redo: string | null;
}

export interface Project extends Travel {
  revision: number;
  folder: string;
  files: string[];
  errors: Trouble[];
  empty?: boolean;
  rig: Rig | null;
  patch: Patch | null;
  set: SetList | null;
  insides: unknown[];
  sheets: Record<string, Sheet>;
  controls: Record<string, ControlNow>;
}

export type Severity = "stops-the-show" | "hurts" | "worth-knowing";

export interface Finding {
  finding: string;
  /** The family of checks that it belongs to. */
  family: string;
  severity: Severity;
  at: string;
  where: Where | null;
  message: string;
  evidence: Record<string, unknown>;
  fix: { words: string; safe: boolean } | null;
  declined: string | null;
  caution: string;
  explanation: Record<string, string>;
}

export interface Level {
  lo_v: number;
  hi_v: number;
  dc_v: number;
  rms_v: number;
}
export interface Pulse {
  beat: "none" | "steady" | "pattern" | "irregular" | string;
  per_quarter: string | null;
  cycle_quarters: string | null;
  length_s: number | null;
  hz: number | null;
  chance: number;
}
export interface WayOut {
  section: string;
  port: string;
  row: number;
  level: Level;
  full_scale_dbu: number | null;
  typical_dbu: number | null;
  typical_dbfs: number | null;
  peak_dbfs: number | null;
  headroom_db: number | null;
  proved_headroom_db: number | null;
}
/** A line that pulses. */
export interface Track {
  name: string;
  row: number;
  pulse: Pulse;
}
/** After how long what is locked to the tempo repeats; exact fractions as text. */
export interface Cycle {
  quarters: string | null;
  bars: string | null;
  locked: Track[];
  free: Track[];
  by_chance: Track[];
}
/** A section of the set on the clock. */
export interface PassageSpan {
  id: string;
  title: string;
  start_s: number;
  length_s: number;
  tempo_bpm: number;
}
export interface Timeline {
  length_s: number;
  passages: PassageSpan[];
  events: unknown[];
}
/** A few lines of a file around a change: kept, gone or come; `old` and `new` are the numbers of the first. */
export interface FileHunk {
  old: number;
  new: number;
  lines: [" " | "-" | "+", string][];
}
export interface FileChange {
  file: string;
  hunks: FileHunk[];
}
/** The bar of the set in which most arrives at one input of an ear, against its full scale. */
export interface LoudestBar {
  section: string;
  port: string;
  passage: string;
  bar: number;
  at_s: number;
  peak_dbfs: number;
  headroom_db: number;
}
export interface Survey {
  rig: string;
  patch: string;
  setlist: string | null;
  tempo_bpm: number;
  modules: number;
  outside: number;
  cables: number;
  maps: number;
  rows: { row: number; hp: number; used_hp: number }[];
  rails: { rail: string; given_ma: number | null; drawn_ma: number }[];
  way_out: WayOut[];
  /** The loudest bar of the set at each way out; empty without a set. */
  loudest: LoudestBar[];
  clocks: { name: string; pulse: Pulse; depth: number; parent: string | null }[];
  cycle: Cycle;
  timeline: Timeline;
}
export interface Proof {
  revision: number;
  survey: Survey;
  counts: Record<Severity, number>;
  findings: Finding[];
}

export interface Arrival {
  lo_s: number;
  hi_s: number;
  turns: number;
}
export interface JackReading {
  module: string;
  jack: string;
  lane: string;
  signal: Signal;
  plugged: boolean;
  row: number;
  node: number;
  volts: [number, number];
  level: Level | null;
  pulse: Pulse | null;
  /** How late what is here is heard, first and last. */
  heard: Arrival | null;
}
export interface Readings {
  revision: number;
  jacks: Record<string, JackReading>;
  heard_after: Record<string, Arrival | null>;
  differences: unknown[];
  headroom: WayOut[];
}

export interface Hop {
  index: number;
  parent: number | null;
  depth: number;
  place: "control" | "section" | "output" | "input" | "ear";
  name: string;
  through: string;
  kind: string;
  output: string;
  signal: Signal | null;
  row: number | null;
  span: { lo: number; hi: number } | null;
  level: Level | null;
  dbu: number | null;
  change_db: number | null;
  pulse: Pulse | null;
  arrival: Arrival | null;
  is_again: boolean;
}
export interface Trace {
  revision: number;
  start: string;
  at: number | null;
  message: { number: number; channel: number } | null;
  message_value: number | null;
  hops: Hop[];
  heard: Arrival | null;
  /** All of it in a sentence. */
  told: string;
  [more: string]: unknown;
}

export type Stage = "waiting" | "running" | "done" | "failed" | "cancelled";
export interface Job {
  id: string;
  revision: number;
  stage: Stage;
  title: string;
  /** Where in the set the stretch begins. */
  start_s: number;
  /** Whether it was asked to stop and has not yet: what it is at comes to an end first. */
  stopping: boolean;
  /** The share of the sound library that is ready: nothing is rendered before it is. */
  ready_ratio: number;
  done_s: number;
  seconds: number;
  rate_hz: number;
  files: {
    file: string;
    sort: string;
    name: string;
    channels: number;
    full_scale_v: number | null;
  }[];
  errors: Trouble[];
  /** Cables of the patch that were left out, and the finding that was mended, for this render alone. */
  without: number[];
  fix: { finding: string; at: string } | null;
  clipped_samples?: Record<string, number>;
  loudness?: Record<string, number | null>;
  [more: string]: unknown;
}

export interface Changed extends Travel {
  revision: number;
  words: string;
  files: string[];
}

export type Happening =
  | { event: "hello"; revision: number }
  | ({
      event: "changed";
      revision: number;
      by: string;
      words: string;
      files: string[];
      errors: number;
    } & Travel)
  | { event: "job"; id: string; stage: Stage; done_s: number; seconds: number };

/** An edit by its name; the fields are those of the server's edit of that name. */
export type Edit = { do: string } & Record<string, unknown>;

/** An end at which a cable from a jack may end, or why not. */
export interface End {
  jack: string;
  ok: boolean;
  why: string | null;
  warns: string[];
  /** The lead that the cable must be, where a plain one will not do. */
  lead: string | null;
  /** The cables that are plugged in there now. */
  cables: number[];
}
export interface Ends {
  revision: number;
  jack: string;
  ends: End[];
}

export interface DrawnJack {
  id: string;
  label: string;
  way: "in" | "out" | "bare";
  signal: Signal;
  plug: string;
  lanes: string[];
  is_used: boolean;
  cables: number[];
  is_needed: boolean;
  at_mm: [number, number] | null;
}
export interface DrawnBlock {
  id: string;
  title: string;
  sheet: string;
  housing: string;
  group: string;
  is_passive: boolean;
  is_host: boolean;
  settings: number;
  mapped: string[];
  jacks: DrawnJack[];
}
export interface DrawnEdge {
  sort: "cable" | "midi" | "usb" | "link" | "normal";
  cable: number | null;
  source: string;
  target: string;
  is_backwards: boolean;
  signal: Signal;
  driver: string | null;
  colour: string | null;
  cm: number | null;
  lead: string | null;
  is_loop: boolean;
}
/** Where more than two ends meet without anything between them. */
export interface Meeting {
  module: string;
  sort: "mult" | "stack";
  jacks: string[];
  cables: number[];
}
export interface DrawnGroup {
  name: string;
  sort: "voice" | "shared" | "steering" | "out" | "apart";
  modules: string[];
  voices: string[];
}
export interface Diagram {
  revision: number;
  blocks: DrawnBlock[];
  edges: DrawnEdge[];
  meetings: Meeting[];
  groups: DrawnGroup[];
}

/** A sheet that can be added to a rig, in short. One that does not load has `errors` and no facts. */
export interface LibrarySheet {
  name: string;
  is_own: boolean;
  errors: number;
  title: string;
  summary: string;
  housing: string;
  is_typical: boolean;
  hp: number;
  depth_mm: number;
  draw_ma: Record<string, number>;
  jacks: number;
  controls: number;
  signals: { in: Signal[]; out: Signal[] };
  kinds: string[];
}
export interface KindPort {
  name: string;
  doc: string;
  is_midi: boolean;
  is_many: boolean;
}
export interface KindParam {
  name: string;
  unit: string;
  lo: number;
  hi: number;
  default: number;
  choices: string[];
  is_many: boolean;
  doc: string;
}
/** One thing that a circuit or program does. */
export interface KindInfo {
  kind: string;
  doc: string;
  inputs: KindPort[];
  outputs: KindPort[];
  params: KindParam[];
  options: { name: string; default: Raw; doc: string }[];
  ways: { least: number; most: number; usual: number } | null;
  [more: string]: unknown;
}
/** A new sheet as a form has it: begun from a sheet (`like`) or from `kinds`, with what is said otherwise. */
export interface SheetForm {
  name: string;
  /** The project's own sheet of this name is changed. */
  change?: true;
  like?: string;
  kinds?: string[];
  wires?: [string, string][];
  housing?: string;
  title?: string;
  summary?: string;
  hp?: number;
  depth_mm?: number;
  typical?: boolean;
  draw_ma?: Record<string, number>;
  jacks?: Record<string, Record<string, unknown>>;
  controls?: Record<string, Record<string, unknown>>;
}
/** Something amiss with a sheet that loads all the same. */
export interface Flaw {
  at: string;
  message: string;
  lint: string;
  /** What is amiss, and what to do about it, as the lint tells it. */
  fault: string;
  do: string;
  weight: "wrong" | "doubtful" | "note";
}
export interface SheetDraft {
  file: string;
  text: string;
  sheet: Sheet;
  flaws: Flaw[];
  /** What a sheet that is changed says beyond the form, which leaves it alone. */
  beyond: string[];
}
/** One sheet in full; null where its text does not load. */
export interface SheetInFull {
  name: string;
  file: string;
  is_own: boolean;
  errors: Trouble[];
  sheet: Sheet | null;
  text: string;
}

/** What a project is to begin with. */
export interface Beginning {
  start: "demo" | "blank" | "owned";
  name?: string;
  rows?: Row[];
  rails_ma?: Record<string, number>;
  tempo_bpm?: number;
  modules?: string[];
  controller?: string | null;
  interface?: string | null;
  first_sound?: boolean;
}
export interface Begun extends Changed {
  says: string[];
}
