"""Quantiser: brings a voltage to the nearest note of a scale, 1 V/octave, and tells when the note changes.

The scales are twelve-tone ones, just ones by ratios, historical and other equal tunings, and a list of one's own in
cents (`cents`, used when `scale` is `user`; chromatic while the list is empty). `root` is the note that a scale starts
from, C being 0 V and every twelfth of a volt above it a semitone. Continuous: the output follows at once, and leaves a
note only when the input is `hysteresis` past the middle between it and the next, so that noise does not trill.
Triggered: the note is chosen at each rise of the trigger and held; until the first the output is 0 V. `change` gives a
trigger of 5 ms whenever the note becomes another; the note at power-on is none. Inputs beyond 10 V count as 10 V.

Left out: the converter's error and the time it takes; a real one reads its input some hundred times a second or more.

Source: scales and tunings see `scales`; 1 V/octave and cents by definition (one cent is 0.833333 mV); hysteresis,
threshold and trigger are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RATE_HZ,
    Beat,
    Kind,
    Level,
    Option,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
from rigproof.kinds.scales import SCALE_NAMES, SCALES, user_scale
from rigproof.model.sheet import RawValue

SCALE, ROOT, MODE, HYSTERESIS = 1, 2, 3, 4
CONTINUOUS, TRIGGERED = 0, 1
NOTE_V, LOW_EDGE_V, HIGH_EDGE_V, TRIGGER_HIGH, PULSE_LEFT, CHOSEN, HAS_NOTE, HEADS = range(8)
HEAD = 3
"""Numbers that describe one scale: where its degrees start, how many there are, its period."""

ROOTS = ("c", "c-sharp", "d", "d-sharp", "e", "f", "f-sharp", "g", "g-sharp", "a", "a-sharp", "b")
CENTS_PER_V = 1200.0
HIGHEST_V = 10.0
"""Inputs count up to here, so that no note lies beyond the rails. [V]"""
LONGEST_PERIOD_CENTS = 2400.0
MOST_DEGREES = 64
FAR_V = 1e9
THRESHOLD_V = 1.0
"""The trigger is high from here up. Common practice, no source. [V]"""
PULSE_V = 5.0
PULSE_S = 0.005


TIE_V = 1e-9
"""Closer than this to half-way between two notes, either may be the nearest. Far above rounding. [V]"""


def nearest_note(state: Any, scale: int, root_v: float, x_v: float) -> tuple[float, float, float]:
    """Return the note nearest to a voltage, and the middles between it and its neighbours below and above. [V]"""
    head = HEADS + HEAD * scale
    at = int(state[head])
    count = int(state[head + 1])
    period_v = state[head + 2]
    octave = math.floor((x_v - root_v) / period_v)
    base_v = root_v + octave * period_v
    rest_v = x_v - base_v
    low = 0
    high = count
    while high - low > 1:
        middle = (low + high) // 2
        if state[at + middle] <= rest_v:
            low = middle
        else:
            high = middle
    if 2.0 * rest_v >= state[at + low] + state[at + low + 1]:
        low += 1
    degree_v = state[at + low]
    below_v = state[at + low - 1] if low > 0 else state[at + count - 1] - period_v
    above_v = state[at + low + 1] if low < count else period_v + state[at + 1]
    return (
        base_v + degree_v,
        base_v + 0.5 * (below_v + degree_v),
        base_v + 0.5 * (degree_v + above_v),
    )


def quantiser(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Choose a note when the input leaves the present one, or at a trigger."""
    in_v, trigger_v = bus_v[ins[0], start:stop], bus_v[ins[1], start:stop]
    out_v, change_v = bus_v[outs[0], start:stop], bus_v[outs[1], start:stop]
    scale = int(params[SCALE, 0] + 0.5)
    root = int(params[ROOT, 0] + 0.5)
    root_v = root / 12.0
    is_triggered = params[MODE, 0] >= 0.5
    gap_step = params[HYSTERESIS, 1] / 12.0
    gap_0 = params[HYSTERESIS, 0] / 12.0 + start * gap_step
    length = max(1.0, math.floor(PULSE_S * params[RATE_HZ, 0] + 0.5))
    chosen = float(16 * scale + root)
    note_v, low_v, high_v = state[NOTE_V], state[LOW_EDGE_V], state[HIGH_EDGE_V]
    was_high = state[TRIGGER_HIGH]
    pulse_left = state[PULSE_LEFT]
    has_note = state[HAS_NOTE]
    if chosen != state[CHOSEN]:  # another scale or root: whatever comes leaves the present note
        state[CHOSEN] = chosen
        low_v = FAR_V
    for n in range(stop - start):
        x_v = clamp(in_v[n], -HIGHEST_V, HIGHEST_V)
        gap_v = gap_0 + n * gap_step
        high = schmitt(trigger_v[n], was_high, THRESHOLD_V)
        asks = high > was_high if is_triggered else x_v < low_v - gap_v or x_v >= high_v + gap_v
        was_high = high
        if asks:
            before_v = note_v
            note_v, low_v, high_v = nearest_note(state, scale, root_v, x_v)
            if abs(note_v - before_v) > 1e-9 and (has_note > 0.0 or is_triggered):
                pulse_left = length
            has_note = 1.0
        out_v[n] = note_v
        change_v[n] = PULSE_V if pulse_left > 0.0 else 0.0
        pulse_left = max(pulse_left - 1.0, 0.0)
    state[NOTE_V], state[LOW_EDGE_V], state[HIGH_EDGE_V] = note_v, low_v, high_v
    state[TRIGGER_HIGH] = was_high
    state[PULSE_LEFT] = pulse_left
    state[HAS_NOTE] = has_note


def prepare(setting: Setting) -> list[float]:
    """Put every scale into the state, in volts; no note yet."""
    written = setting.options["cents"]
    assert isinstance(written, tuple)
    scales = (*SCALES, user_scale([float(str(cents)) for cents in written]))
    state = [0.0] * HEADS
    state[LOW_EDGE_V], state[HIGH_EDGE_V], state[CHOSEN] = FAR_V, FAR_V, -1.0
    at = HEADS + HEAD * len(scales)
    degrees: list[float] = []
    for scale in scales:
        period_v = scale.period_cents / CENTS_PER_V
        state += [float(at + len(degrees)), float(len(scale.cents)), period_v]
        degrees += [*(cents / CENTS_PER_V for cents in scale.cents), period_v]
    return state + degrees


def _choices(span: Span) -> range:
    """Return the places where a switch can stand."""
    return range(int(span.lo + 0.5), int(span.hi + 0.5) + 1)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """From the note nearest to the lowest input to the one nearest to the highest, in every scale and root that can be.

    The hysteresis only keeps notes that were nearest once. A voltage half-way between two notes may fall to either: the
    last bit decides, and it may be rounded otherwise in compiled code.
    """
    source = ins[0].clipped(-HIGHEST_V, HIGHEST_V)
    mode = setting.span("mode")
    can_trigger = ins[1].hi >= THRESHOLD_V
    state = prepare(setting)
    notes_v = [0.0] if mode.hi >= 0.5 else []
    if mode.lo < 0.5 or can_trigger:
        notes_v += [
            nearest_note(state, scale, root / 12.0, x_v)[0]
            for scale in _choices(setting.span("scale"))
            for root in _choices(setting.span("root"))
            for x_v in (source.lo - TIE_V, source.hi + TIE_V)
        ]
    span = Span.around(*notes_v)
    is_moved = any(not setting.span(name).is_point for name in ("scale", "root", "mode"))
    return [span, Span.point(0.0) if span.is_point and not is_moved else Span(0.0, PULSE_V)]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """The input's, its ends on notes; the triggers are short and come nobody knows when."""
    is_triggered = round(setting["mode"]) == TRIGGERED
    if is_triggered and ins[1].hi_v < THRESHOLD_V:
        return [Level(), Level()]
    source = ins[0].clipped(-HIGHEST_V, HIGHEST_V)
    state = prepare(setting)
    scale, root_v = round(setting["scale"]), round(setting["root"]) / 12.0
    lo_v, middle_v, hi_v = (
        nearest_note(state, scale, root_v, v)[0] for v in (source.lo_v, source.dc_v, source.hi_v)
    )
    if lo_v == hi_v:
        return [Level.steady(lo_v), Level()]
    dc_v = middle_v if source.is_silent else min(max(source.dc_v, lo_v), hi_v)
    most_v = math.sqrt(max((hi_v - dc_v) * (dc_v - lo_v), 0.0))
    return [Level(lo_v, hi_v, dc_v, min(source.rms_v, most_v)), Level(0.0, PULSE_V, 0.0, 0.0)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Notes are no pulses; at which times the note changes nobody can say."""
    if round(setting["mode"]) == TRIGGERED and ins[1].beat is Beat.NONE:
        return [NO_PULSE] * 2
    return [NO_PULSE, IRREGULAR]


def check_cents(value: RawValue) -> str | None:
    """Return what was expected when a value is no list of cents."""
    expected = (
        f"up to {MOST_DEGREES} cents above the root, rising, the last where the scale comes again, "
        f"at most {LONGEST_PERIOD_CENTS:g}, such as [203.9, 386.3, 702, 1200]"
    )
    if not isinstance(value, tuple) or len(value) > MOST_DEGREES:
        return expected
    cents = [0.0]
    for raw in value:
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            return expected
        if not cents[-1] < raw <= LONGEST_PERIOD_CENTS:  # NaN is refused here too
            return expected
        cents.append(float(raw))
    # Closer together than a tenth of a cent nobody hears two notes, and a tiny period would make far too many.
    return None if len(cents) == 1 or cents[-1] >= 1.0 else expected


KIND = Kind(
    name="quantiser",
    doc=__doc__,
    inputs=(
        Port("in", "the voltage, 1 V/octave"),
        Port("trigger", "a rise chooses the note, in triggered mode", is_control=True),
    ),
    outputs=(
        Port("out", "the note, 1 V/octave"),
        Port("change", "a trigger when the note becomes another"),
    ),
    params=(
        Param(
            "scale", "ratio", 0.0, len(SCALE_NAMES) - 1.0, 0.0, "the notes there are", SCALE_NAMES
        ),
        Param("root", "ratio", 0.0, len(ROOTS) - 1.0, 0.0, "the note a scale starts from", ROOTS),
        Param("mode", "ratio", 0.0, 1.0, 0.0, "when a note is chosen", ("continuous", "triggered")),
        Param("hysteresis", "semitones", 0.0, 0.5, 0.1, "how far past the middle a note is left"),
    ),
    options=(
        Option("cents", (), "a scale of one's own, in cents above the root", check=check_cents),
    ),
    kernel=quantiser,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
