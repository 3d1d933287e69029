"""What a section kind is: ports, parameters, a kernel, and how it carries each reading. Every kind file builds on this.

A kind is one file. Its kernel computes sound, its `interval` what no sample can leave, its `level` what is typical,
its `rate` the pulses, its `delay` the milliseconds. Tests hold them against each other over the whole catalogue.

The kernel
----------
A plain function of arrays and numbers that owns no memory, raises nothing and allocates nothing. The engine compiles
it when sound is wanted; every kernel has the same signature::

    def kernel(bus_v, ins, outs, params, state, start, stop): ...

bus_v : float64[rows, COLUMNS], the voltages of this block, one row a connection, written in place. [V]
ins, outs : int64[], the rows of `bus_v` to read and to write, in the order in which the kind lists its ports.
params : float64[1 + parameters, 2]. Row 0 is the sample rate [Hz], then the parameters in the order listed.
    Column 0 holds the value at column 0 of the bus, column 1 its change a sample, so that a parameter that
    glides is `params[GAIN, 0] + n * params[GAIN, 1]` at column n. Parameters that need no glide read column 0.
state : float64[], whatever the kind carries from block to block, as `prepare` made it.
start, stop : int, the columns to do, `stop` left out. Never below 1: column n - 1 always holds the sample before.

Cheap kernels run several times faster on slices of their rows, `in_v = bus_v[ins[0], start:stop]` and then
`for n in range(stop - start)`: the compiler then knows that no index is negative and makes vector code. The helpers of
`clipping` are written without branches for the same reason.

A kernel may call helpers that are plain functions of this package (`rigproof.kinds.*`); the engine compiles them too.
Module constants it names are frozen when it is compiled. It must do the same in one call as sample by sample, must
turn NaN and infinities at its inputs into finite voltages, and must let its state decay to exact zero, not to
denormals.

MIDI travels on the same bus: a row holds 0 or, at the sample where its last byte has arrived, one whole message as
the number `status + 256 * data1 + 65536 * data2`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any, Protocol

from rigproof.model.sheet import RawValue

BLOCK = 64
"""Samples in a block."""
LEAD = 8
"""Column of the first sample of a block; the column before it keeps the last sample of the block before."""
COLUMNS = LEAD + BLOCK
"""Columns of the bus."""
RATE_HZ = 0
"""Row of `params` that holds the sample rate; the parameters follow from 1."""
RAIL_V = 11.0
"""Where a circuit inside a module stops: its output can go no nearer to the rails. Common practice, no source. [V]"""


@dataclass(frozen=True, slots=True)
class Span:
    """An interval of voltages, or of a parameter, that nothing can leave. Both ends belong to it."""

    lo: float
    hi: float

    def __post_init__(self) -> None:
        """Refuse what is no interval."""
        if not self.lo <= self.hi:
            raise ValueError(f"no interval: {self.lo} to {self.hi}")

    @classmethod
    def point(cls, value: float) -> Span:
        """Return the interval of a single value."""
        return cls(value, value)

    @classmethod
    def around(cls, *values: float) -> Span:
        """Return the smallest interval that holds all the values."""
        return cls(min(values), max(values))

    @property
    def is_point(self) -> bool:
        """Whether it holds one value only."""
        return self.lo == self.hi

    @property
    def peak(self) -> float:
        """The largest distance from zero."""
        return max(abs(self.lo), abs(self.hi))

    @property
    def width(self) -> float:
        """High end less low end."""
        return self.hi - self.lo

    def including(self, value: float) -> Span:
        """Return the smallest interval that holds this one and the value."""
        return Span(min(self.lo, value), max(self.hi, value))

    def hull(self, other: Span) -> Span:
        """Return the smallest interval that holds both."""
        return Span(min(self.lo, other.lo), max(self.hi, other.hi))

    def clipped(self, lo: float, hi: float) -> Span:
        """Return what becomes of it behind a clamp."""
        return Span(min(max(self.lo, lo), hi), min(max(self.hi, lo), hi))

    def holds(self, value: float, *, slack: float = 0.0) -> bool:
        """Whether a value lies in it, give or take `slack`."""
        return self.lo - slack <= value <= self.hi + slack

    def widened(self, by: float) -> Span:
        """Return it with both ends moved outwards."""
        return Span(self.lo - by, self.hi + by)

    def __add__(self, other: Span) -> Span:
        """Interval sum."""
        return Span(self.lo + other.lo, self.hi + other.hi)

    def __sub__(self, other: Span) -> Span:
        """Interval difference."""
        return Span(self.lo - other.hi, self.hi - other.lo)

    def __mul__(self, other: Span) -> Span:
        """Interval product."""
        return Span.around(
            self.lo * other.lo, self.lo * other.hi, self.hi * other.lo, self.hi * other.hi
        )

    def scaled(self, factor: float) -> Span:
        """Return it times a number."""
        return Span.around(self.lo * factor, self.hi * factor)


ZERO = Span(0.0, 0.0)
MIDI_CODES = Span(0.0, float(0xFF + 256 * 0x7F + 65536 * 0x7F))
"""All the numbers a MIDI row can hold."""


@dataclass(frozen=True, slots=True)
class Level:
    """What is typical on a port: the lowest and highest voltage it is expected to reach, its mean, and the RMS about
    that mean while it sounds. [V]
    """

    lo_v: float = 0.0
    hi_v: float = 0.0
    dc_v: float = 0.0
    rms_v: float = 0.0
    hit_v: float = 0.0
    """How far from its mean the strongest of its hits goes, of what comes as hits that die away; 0 for all else. [V]"""
    under_v: float = 0.0
    """The RMS about the mean of all else that is there below that hit. [V]"""

    @property
    def reach_v(self) -> float:
        """How far from its mean it goes, seldom further: `CREST_RATIO` times the RMS, or to the top of a hit."""
        over_v = self.hit_v + UNDER_A_HIT_RATIO * self.under_v if self.hit_v > 0.0 else 0.0
        return max(CREST_RATIO * self.rms_v, over_v)

    def hit_like(self, other: Level, gain: float) -> Level:
        """Return it with the hits of another behind a gain, as far as its own ends allow."""
        if other.hit_v == 0.0:
            return self
        hit_v, under_v = abs(gain) * other.hit_v, abs(gain) * other.under_v
        return Level(self.lo_v, self.hi_v, self.dc_v, self.rms_v, hit_v, under_v)

    @property
    def peak_v(self) -> float:
        """The largest distance from 0 V."""
        return max(abs(self.lo_v), abs(self.hi_v))

    @property
    def is_silent(self) -> bool:
        """Whether nothing moves there."""
        return self.rms_v == 0.0

    @property
    def top_v(self) -> float:
        """The highest voltage that it comes to by itself: where it stands, for what only a hand moves."""
        return self.hi_v if self.rms_v > 0.0 else self.dc_v

    @classmethod
    def steady(cls, value_v: float) -> Level:
        """Return the level of a steady voltage."""
        return cls(value_v, value_v, value_v, 0.0)

    @classmethod
    def swing(cls, peak_v: float, *, crest_ratio: float) -> Level:
        """Return the level of a signal that swings evenly about 0 V; crest is peak to RMS."""
        return cls(-peak_v, peak_v, 0.0, peak_v / crest_ratio)

    def scaled(self, gain: float, offset_v: float = 0.0) -> Level:
        """Return it behind a gain (which may be negative) and an offset."""
        ends = sorted((self.lo_v * gain, self.hi_v * gain))
        return Level(
            ends[0] + offset_v,
            ends[1] + offset_v,
            self.dc_v * gain + offset_v,
            abs(gain) * self.rms_v,
            abs(gain) * self.hit_v,
            abs(gain) * self.under_v,
        )

    def clipped(self, lo_v: float, hi_v: float) -> Level:
        """Return it behind a clamp. The RMS is bounded, not recomputed."""
        lo = min(max(self.lo_v, lo_v), hi_v)
        hi = min(max(self.hi_v, lo_v), hi_v)
        dc = min(max(self.dc_v, lo_v), hi_v)
        most = max(abs(hi - dc), abs(dc - lo))
        is_same = lo == self.lo_v and hi == self.hi_v and dc == self.dc_v
        if is_same and self.rms_v <= most and self.hit_v <= most and self.under_v <= most:
            return self
        rms, hit, under = min(self.rms_v, most), min(self.hit_v, most), min(self.under_v, most)
        return Level(lo, hi, dc, rms, hit, under)


SILENT = Level()


CREST_RATIO = 4.0
"""A sum of unlike signals seldom swings further from its mean than this many times its RMS: 12 dB, and for a normal
distribution 6 samples in 100,000. Common practice, no source."""
UNDER_A_HIT_RATIO = 2.0
"""How many times their RMS the others of a sum add to the top of a hit. A normal distribution is further out for 4.6 %
of the time; a hit is at its top for about a fiftieth of it, and its wave at a tip for a tenth of that: 9 in 100,000.
Hits of others that come on the same beat go further. Our choice."""


def mixed(levels: Sequence[Level]) -> Level:
    """Return the level of a sum of unlike signals: means add, powers add, and peaks add as far as they can meet.

    All the peaks of many signals hardly ever meet, so a typical end lies no further from the mean than `CREST_RATIO`
    times the RMS of the sum, or than the top of the strongest hit with the others below it; and no nearer than where
    the strongest signal alone takes it. What cannot be left at all is the business of `interval`.

    Source: sum of uncorrelated signals, +3.010300 dB for two equal ones (definition of RMS).
    """
    if len(levels) == 1:
        return levels[0]
    lo_v = hi_v = dc_v = power = 0.0
    least_v = most_v = 0.0
    strongest = SILENT
    for level in levels:
        lo_v += level.lo_v
        hi_v += level.hi_v
        dc_v += level.dc_v
        power += level.rms_v**2
        least_v = min(least_v, level.lo_v - level.dc_v)
        most_v = max(most_v, level.hi_v - level.dc_v)
        if level.hit_v > strongest.hit_v:
            strongest = level
    rms_v, hit_v, under_v = math.sqrt(power), strongest.hit_v, 0.0
    seldom_v = CREST_RATIO * rms_v
    if hit_v > 0.0:
        under_v = math.sqrt(max(power - strongest.rms_v**2, 0.0) + strongest.under_v**2)
        seldom_v = max(seldom_v, hit_v + UNDER_A_HIT_RATIO * under_v)
    return Level(
        max(lo_v, dc_v + min(-seldom_v, least_v)),
        min(hi_v, dc_v + max(seldom_v, most_v)),
        dc_v,
        rms_v,
        hit_v,
        under_v,
    )


class Beat(StrEnum):
    """How pulses come."""

    NONE = "none"
    STEADY = "steady"
    """Evenly spaced and locked to the tempo."""
    PATTERN = "pattern"
    """Locked to the tempo, unevenly spaced, the same again each cycle."""
    FREE = "free"
    """Evenly spaced at a frequency of its own."""
    IRREGULAR = "irregular"
    """Nobody can say."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """The pulses on a port. `per_quarter` is the mean number in a quarter note, exact."""

    beat: Beat = Beat.NONE
    per_quarter: Fraction | None = None
    cycle_quarters: Fraction | None = None
    """Quarter notes until the same pulses come again."""
    length_s: float | None = None
    """Length of the shortest pulse. [s]"""
    hz: float | None = None
    """Frequency of free pulses. [Hz]"""
    chance: float = 1.0
    """Share of the pulses that can be expected to come, where probability rules."""

    @classmethod
    def steady(cls, per_quarter: Fraction, *, length_s: float | None = None) -> Pulse:
        """Return evenly spaced pulses, so many a quarter note."""
        return cls(Beat.STEADY, per_quarter, 1 / per_quarter, length_s)


NO_PULSE = Pulse()
IRREGULAR = Pulse(Beat.IRREGULAR)


@dataclass(frozen=True, slots=True)
class Lag:
    """How long a section takes from an input port to an output port. [s]"""

    source: str
    target: str
    lo_s: float = 0.0
    hi_s: float = 0.0
    is_signal: bool = True
    """The input itself comes out again (sound through a filter), instead of steering what comes out."""


@dataclass(frozen=True, slots=True)
class Port:
    """One way in or out of a section. A `many` port stands for `name-1` to `name-N`, N being the section's `ways`."""

    name: str
    doc: str = ""
    rest_v: float = 0.0
    """What an unconnected input reads. [V]"""
    is_midi: bool = False
    is_control: bool = False
    """The input steers what comes out and does not come out itself."""
    many: bool = False


@dataclass(frozen=True, slots=True)
class Param:
    """One number that sets a section, in its unit; a `many` parameter stands for `name-1` to `name-N`."""

    name: str
    unit: str
    lo: float
    hi: float
    default: float
    doc: str = ""
    choices: tuple[str, ...] = ()
    many: bool = False
    from_tempo: bool = False
    """It follows the tempo of the patch, in beats a minute."""


@dataclass(frozen=True, slots=True)
class Option:
    """Something that sets a section and is no number: a pattern in letters, a list of files. `default` as written."""

    name: str
    default: RawValue
    doc: str = ""
    check: Callable[[RawValue], str | None] = lambda value: None
    """Returns what was expected, in words, when the value is no good."""


@dataclass(frozen=True, slots=True)
class Setting:
    """How one section of one patch is set: what its kind is given to work from."""

    name: str = ""
    values: Mapping[str, float] = field(default_factory=dict)
    """Every parameter where it stands at the start, in its unit."""
    spans: Mapping[str, Span] = field(default_factory=dict)
    """Every parameter over the whole set: a point unless a hand can move it."""
    options: Mapping[str, RawValue] = field(default_factory=dict)
    ways: int = 1
    tempo_bpm: float = 120.0
    seed: int = 1
    rate_hz: float = 48_000.0
    sounds: tuple[Any, ...] = ()
    """The section's samples, float64[frames, channels] at `rate_hz`, full scale 1.0; only when sound is wanted."""

    def __getitem__(self, name: str) -> float:
        """Return a parameter where it stands."""
        return self.values[name]

    def span(self, name: str) -> Span:
        """Return a parameter over the whole set."""
        found = self.spans.get(name)
        return found if found is not None else Span.point(self.values[name])

    def all_values(self, name: str) -> tuple[float, ...]:
        """Return the values of a `many` parameter, in order."""
        return tuple(self.values[f"{name}-{i}"] for i in range(1, self.ways + 1))

    def all_spans(self, name: str) -> tuple[Span, ...]:
        """Return the spans of a `many` parameter, in order."""
        return tuple(self.span(f"{name}-{i}") for i in range(1, self.ways + 1))


class Kernel(Protocol):
    """The one signature of all kernels; see the module's docstring."""

    def __call__(
        self, bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int, /
    ) -> None:
        """Do columns `start` to `stop`."""

    def __hash__(self) -> int:
        """A kernel is a function, and so can be a key."""


def no_state(setting: Setting) -> Sequence[float]:
    """Return the state of a kind that carries nothing."""
    return ()


def nothing_pulses(ins: Sequence[Pulse], setting: Setting) -> None:
    """Say that no output pulses; stands for as many `NO_PULSE` as there are outputs."""
    return


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One thing that a circuit or program does. See the module's docstring for what each function owes."""

    name: str
    doc: str
    """The module docstring of its file: what it is, what the model leaves out, `Source: ...`."""
    inputs: tuple[Port, ...] = ()
    outputs: tuple[Port, ...] = ()
    params: tuple[Param, ...] = ()
    options: tuple[Option, ...] = ()
    kernel: Kernel
    prepare: Callable[[Setting], Any] = no_state
    """Makes the state: a sequence or float64 array. May use numpy; called once, before sound."""
    interval: Callable[[Sequence[Span], Setting], Sequence[Span]]
    """Input spans to output spans, in port order. Must hold for every sample from the first, whatever the past."""
    level: Callable[[Sequence[Level], Setting], Sequence[Level]]
    """Input levels to output levels, in port order."""
    rate: Callable[[Sequence[Pulse], Setting], Sequence[Pulse] | None] = nothing_pulses
    """Input pulses to output pulses, in port order; None where nothing pulses."""
    delay: Callable[[Setting], Sequence[Lag]] | None = None
    """Milliseconds (in seconds) from inputs to outputs; None means at once, from every input to every output."""
    timed_by: str = ""
    """The clock input by which the delay law counts quarter notes, so many pulses each as the parameter `ppqn` says;
    empty for a kind that goes by no clock."""
    ways: tuple[int, int, int] | None = None
    """Fewest, most and usual number of `many` ports; None for a kind without."""
    is_internal: bool = False
    """Made by the net itself (junctions, links), not to be named in a sheet."""
    is_ear: bool = False
    """What comes in here is what the room hears."""

    def expand_inputs(self, ways: int) -> tuple[Port, ...]:
        """Return the input ports with every `many` port written out."""
        return _expand(self.inputs, ways)

    def expand_outputs(self, ways: int) -> tuple[Port, ...]:
        """Return the output ports with every `many` port written out."""
        return _expand(self.outputs, ways)

    def expand_params(self, ways: int) -> tuple[Param, ...]:
        """Return the parameters with every `many` parameter written out, in the order of `params` rows from 1."""
        out: list[Param] = []
        for p in self.params:
            if p.many:
                out.extend(
                    Param(f"{p.name}-{i}", p.unit, p.lo, p.hi, p.default, p.doc, p.choices)
                    for i in range(1, ways + 1)
                )
            else:
                out.append(p)
        return tuple(out)

    def lags(self, setting: Setting, pulses: Sequence[Pulse] = ()) -> Sequence[Lag]:
        """Return the delays from inputs to outputs; with the pulses at its inputs, by the clock that it really gets."""
        if self.delay is not None:
            if self.timed_by and pulses:
                names = [port.name for port in self.expand_inputs(setting.ways)]
                clock = pulses[names.index(self.timed_by)]
                setting = replace(setting, tempo_bpm=clocked_bpm(clock, setting))
            return self.delay(setting)
        return tuple(
            Lag(i.name, o.name, 0.0, 0.0, is_signal=not i.is_control)
            for i in self.expand_inputs(setting.ways)
            for o in self.expand_outputs(setting.ways)
        )


def clocked_bpm(clock: Pulse, setting: Setting) -> float:
    """Return the tempo that a section takes a clock for; the patch's where nobody can say, or no clock comes. [bpm]

    >>> sixteenths = Setting(values={"ppqn": 4.0}, tempo_bpm=120.0)
    >>> clocked_bpm(Pulse.steady(Fraction(1)), sixteenths), clocked_bpm(Pulse(), sixteenths)
    (30.0, 120.0)
    """
    if clock.beat is Beat.FREE and clock.hz:
        return 60.0 * clock.hz / setting["ppqn"]
    if clock.beat in (Beat.STEADY, Beat.PATTERN) and clock.per_quarter:
        return setting.tempo_bpm * float(clock.per_quarter) / setting["ppqn"]
    return setting.tempo_bpm


def _expand(ports: tuple[Port, ...], ways: int) -> tuple[Port, ...]:
    out: list[Port] = []
    for port in ports:
        if port.many:
            out.extend(
                Port(f"{port.name}-{i}", port.doc, port.rest_v, port.is_midi, port.is_control)
                for i in range(1, ways + 1)
            )
        else:
            out.append(port)
    return tuple(out)
