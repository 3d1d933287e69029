/** A made-up patch of any size for tests: voices of four modules, a clock, a submix and a desk. */
import type {
  Diagram,
  DrawnBlock,
  DrawnEdge,
  DrawnGroup,
  DrawnJack,
  Signal,
} from "../shared/types";

type Line = [from: string, to: string, signal: Signal];

const jack = (id: string, way: DrawnJack["way"], signal: Signal): DrawnJack => ({
  id,
  label: id.replace("-", " "),
  way,
  signal,
  plug: "mono-3.5",
  lanes: ["tip"],
  is_used: false,
  cables: [],
  is_needed: false,
  at_mm: null,
});

function block(id: string, title: string, group: string, ins: string, outs: string): DrawnBlock {
  const jacks = (words: string, way: "in" | "out"): DrawnJack[] =>
    words.split(" ").flatMap((word) => {
      const [name, signal] = word.split(":");
      return name ? [jack(name, way, (signal ?? "cv") as Signal)] : [];
    });
  return {
    id,
    title,
    sheet: title,
    housing: "module",
    group,
    is_passive: false,
    is_host: false,
    settings: 0,
    mapped: [],
    jacks: [...jacks(ins, "in"), ...jacks(outs, "out")],
  };
}

/** Return a patch of so many voices; 4 modules and about 10 cables each, and 4 modules besides. */
export function madeUp(voices: number): Diagram {
  const numbers = Array.from({ length: voices }, (_, index) => index + 1);
  const many = (name: string, signal: Signal): string =>
    numbers.map((n) => `${name}-${n}:${signal}`).join(" ");
  const steering = "what steers them";
  const shared = "what they share";
  const blocks = [
    block("clock", "A clock", steering, "run:gate", many("beat", "clock")),
    block("wave", "Slow waves", steering, "sync:trigger", many("sine", "cv")),
    ...numbers.flatMap((n) => [
      block(`osc-${n}`, "An oscillator", `voice-${n}`, "pitch:pitch fm", "saw:audio sine:audio"),
      block(`filter-${n}`, "A filter", `voice-${n}`, "in:audio cutoff", "low:audio high:audio"),
      block(`env-${n}`, "An envelope", `voice-${n}`, "gate:gate", "out inverse"),
      block(`seq-${n}`, "A sequencer", `voice-${n}`, "clock:clock reset", "pitch:pitch gate:gate"),
    ]),
    block(
      "submix",
      "A submix",
      shared,
      `${many("in", "audio")} ${many("cv", "cv")}`,
      "mix:audio side:audio",
    ),
    block("desk", "A desk", "the way out", "left:audio right:audio", ""),
  ];
  const lines: Line[] = [
    ...numbers.flatMap((n): Line[] => [
      [`clock.beat-${n}`, `seq-${n}.clock`, "clock"],
      [`seq-${n}.pitch`, `osc-${n}.pitch`, "pitch"],
      [`seq-${n}.gate`, `env-${n}.gate`, "gate"],
      [`osc-${n}.saw`, `filter-${n}.in`, "audio"],
      [`env-${n}.out`, `filter-${n}.cutoff`, "cv"],
      [`env-${n}.inverse`, `submix.cv-${n}`, "cv"],
      [`wave.sine-${n}`, `osc-${n}.fm`, "cv"],
      [`filter-${n}.low`, `submix.in-${n}`, "audio"],
      [`filter-${n}.high`, `seq-${(n % voices) + 1}.reset`, "audio"],
    ]),
    ["submix.mix", "desk.left", "audio"],
    ["submix.side", "desk.right", "audio"],
  ];
  const edges = lines.map(([source, target, signal], cable): DrawnEdge => ({
    sort: "cable",
    cable,
    source,
    target,
    is_backwards: false,
    signal,
    driver: source,
    colour: null,
    cm: null,
    lead: null,
    is_loop: false,
  }));
  for (const one of blocks) {
    for (const hole of one.jacks) {
      const name = `${one.id}.${hole.id}`;
      hole.cables = edges.flatMap((edge) =>
        edge.cable !== null && (edge.source === name || edge.target === name) ? [edge.cable] : [],
      );
      hole.is_used = hole.cables.length > 0;
    }
  }
  const group = (name: string, sort: DrawnGroup["sort"]): DrawnGroup => ({
    name,
    sort,
    modules: blocks.filter((one) => one.group === name).map((one) => one.id),
    voices: [],
  });
  return {
    revision: 1,
    blocks,
    edges,
    meetings: [],
    groups: [
      group(steering, "steering"),
      ...numbers.map((n) => group(`voice-${n}`, "voice")),
      group(shared, "shared"),
      group("the way out", "out"),
    ],
  };
}
