"""Slow voltages: what no ear takes for sound, traced back to what makes it and on to where it would be heard.

A voltage is slow when everything that it is made of is known to change fewer than twenty times a second. Where anything
on the way is unknown, or steered by sound, nothing is said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from rigproof.checks.base import Bench
from rigproof.kinds.base import Beat, Pulse
from rigproof.net.graph import NetSection
from rigproof.readings.paths import Along, Hop
from rigproof.units import quarter_s

LOWEST_HZ = 20.0
"""Below this nothing is heard as a tone: ISO 226 gives its contours of equal loudness from 20 Hz up (from memory)."""
BLOCKING = "ac-coupling"
RUNG = frozenset(
    {
        "channel-filter",
        "comb-filter",
        "ladder-filter",
        "low-pass-gate",
        "multi-peak-filter",
        "sallen-key-filter",
        "state-variable-filter",
        "stereo-filter",
    }
)
"""Kinds that ring when an edge strikes them: an envelope or a step into one of them may be meant as a drum."""


def is_slow_pulse(bench: Bench, pulse: Pulse) -> bool:
    """Whether pulses are known to come fewer than twenty times a second; none at all are slow too."""
    if pulse.beat is Beat.NONE:
        return True
    if pulse.hz is not None:
        return pulse.hz < LOWEST_HZ
    if pulse.per_quarter is None:
        return False
    setlist = bench.project.setlist
    passages = bench.readings.timeline.passages if setlist is not None else ()
    tempo_bpm = max([p.tempo_bpm for p in passages], default=bench.project.patch.tempo_bpm)
    return float(pulse.per_quarter) / quarter_s(tempo_bpm) < LOWEST_HZ


class Told(Enum):
    """What tells how often a maker's voltage changes."""

    BY_A_HAND = "hand"
    """A hand, a message or a loudness: never so often."""
    BY_INPUT = "input"
    """The pulses at one of its inputs."""
    BY_OUTPUT = "output"
    """The pulses that the same output makes."""
    BY_NEW = "new"
    """The pulses at its last output, one for every new voltage."""


@dataclass(frozen=True, slots=True)
class Maker:
    """How a kind makes a control voltage out of something else, or out of single moments of it."""

    told: Told
    port: str = ""
    has_edges: bool = False


MAKERS: Mapping[str, Maker] = {
    "ad-envelope": Maker(Told.BY_INPUT, "gate", has_edges=True),
    "adsr-envelope": Maker(Told.BY_INPUT, "gate", has_edges=True),
    "button-ways": Maker(Told.BY_A_HAND, has_edges=True),
    "cc-pair-to-cv": Maker(Told.BY_A_HAND),
    "cc-to-cv": Maker(Told.BY_A_HAND),
    "envelope-follower": Maker(Told.BY_A_HAND),
    "lfo": Maker(Told.BY_OUTPUT),
    "note-to-cv": Maker(Told.BY_A_HAND, has_edges=True),
    "random-voltage": Maker(Told.BY_NEW, has_edges=True),
    "sample-and-hold": Maker(Told.BY_INPUT, "trigger", has_edges=True),
    "step-sequencer": Maker(Told.BY_INPUT, "clock", has_edges=True),
    "voltage-selector": Maker(Told.BY_A_HAND, has_edges=True),
}
"""What is not listed here and passes nothing on may be sound."""


@dataclass
class Slowness:
    """The rows of a net that are known to be slow, found out as they are asked for."""

    bench: Bench
    _known: dict[int, bool] = field(default_factory=dict)
    _edged: set[int] = field(default_factory=set)

    def is_slow(self, row: int) -> bool:
        """Whether everything that a row is made of is known to be slow; what never changes is."""
        if row not in self._known:
            self._known[row] = True  # round a loop nothing becomes faster
            self._known[row] = self._find(row)
        return self._known[row]

    def has_edges(self, row: int) -> bool:
        """Whether a slow row jumps."""
        return self.is_slow(row) and row in self._edged

    def _find(self, row: int) -> bool:
        writer = self.bench.net.rows[row].writer
        if writer is None:
            return True
        section = self.bench.net.sections[writer]
        hops = self.bench.readings.paths.back(row, along=Along.SIGNAL)
        maker = MAKERS.get(section.kind.name)
        if maker is not None:
            if maker.has_edges:
                self._edged.add(row)
            return self._is_slow_maker(section, maker, row)
        if not hops:
            return False
        if self.is_steered_by_sound(section):
            return False
        if any(self.has_edges(hop.source_row) for hop in hops):
            self._edged.add(row)
        return all(self.is_slow(hop.source_row) for hop in hops)

    def _is_slow_maker(self, section: NetSection, maker: Maker, row: int) -> bool:
        if section.setting.values.get("loop", 0.0) >= 0.5:
            return False  # it starts itself, and how often is not worked out
        if maker.told is Told.BY_A_HAND:
            return True
        if maker.told is Told.BY_INPUT:
            return is_slow_pulse(self.bench, self.bench.pulse(section.input_row(maker.port)))
        pulse = self.bench.pulse(section.outs[-1] if maker.told is Told.BY_NEW else row)
        return pulse.beat is not Beat.NONE and is_slow_pulse(self.bench, pulse)

    def is_steered_by_sound(self, section: NetSection) -> bool:
        """Whether something that may be sound moves a control input of a section, so that what comes out is fast."""
        ports = section.kind.expand_inputs(section.setting.ways)
        return any(
            port.is_control
            and not self.bench.net.rows[row].is_midi
            and not self.is_slow(row)
            and not self._has_slow_pulses(row)
            for port, row in zip(ports, section.ins, strict=True)
        )

    def _has_slow_pulses(self, row: int) -> bool:
        pulse = self.bench.pulse(row)
        return pulse.beat is not Beat.NONE and is_slow_pulse(self.bench, pulse)

    def ears_of(self, row: int, *, is_direct: bool = False) -> list[int]:
        """Return the ears to which a slow row comes as it is; directly means without a capacitor on the way."""
        net, paths = self.bench.net, self.bench.readings.paths
        has_edges = self.has_edges(row)

        def goes_on(hop: Hop) -> bool:
            section = net.sections[hop.section]
            if has_edges and section.kind.name in RUNG:
                return False
            if is_direct and section.kind.name == BLOCKING:
                return False
            return not self.is_steered_by_sound(section)

        seen, todo = {row}, [row]
        while todo:
            for hop in paths.onward(todo.pop(), along=Along.SIGNAL):
                if hop.target_row not in seen and goes_on(hop):
                    seen.add(hop.target_row)
                    todo.append(hop.target_row)
        return [s.index for s in net.ears if seen & set(s.ins)]
