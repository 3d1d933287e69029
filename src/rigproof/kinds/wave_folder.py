"""Wave folder: what goes beyond `peak` is folded back, again and again, along a triangle or a sine.

`fold` is the gain in front, to which `fold-depth` is added for each volt at `fold`; it stops at 0 and at 40. `offset`
and its input shift the sound first, which makes the folding uneven and adds even harmonics; a steady offset stays in
the output as it is folded. The triangle leaves what is below the peak as it is; the sine bends from the start.

Each sample is the mean of the curve between two samples, so that little aliases: for a 3 kHz sine at 48 kHz folded
eight times, what folds down below 3 kHz lies 24 dB lower than without. It comes out 1.5 samples late; what is not
folded is flat within 0.1 dB up to 6 kHz at 48 kHz.

Left out: the rounded corners of diodes and transistors, stages that differ, distortion of the gain in front.

Source: J. D. Parker, V. Zavalishin, E. Le Bivic, Reducing the Aliasing of Nonlinear Waveshaping Using Continuous-Time
Convolution, Proc. DAFx-16, 2016 (from memory; measured by tests). The harmonics of a folded sine are Bessel functions,
sin(z sin t) = 2 sum J(2k+1)(z) sin((2k+1) t) (Jacobi and Anger).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import floor
from typing import Any

from rigproof.kinds.antialiased import LATE_SAMPLES, NEAR, OVERSHOOT, emphasised
from rigproof.kinds.base import RAIL_V, Kind, Lag, Level, Param, Port, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.delay_line import between
from rigproof.kinds.waves import cosine_of_turn, sine_of_turn

SHAPE, FOLD, FOLD_DEPTH, OFFSET_V, PEAK_V = 1, 2, 3, 4, 5
SIGNAL_IN, FOLD_IN, OFFSET_IN = 0, 1, 2
NEWEST, MIDDLE, BEFORE = 0, 1, 2
"""State: the last two samples over the peak, and the last emphasised one."""

TRIANGLE, SINE = 0, 1
MOST_FOLD = 40.0


def folded(shape: int, u: float) -> float:
    """Return the curve, which comes again after 4: 0 at 0, 1 at 1, 0 at 2, -1 at 3."""
    turn = 0.25 * u
    turn -= floor(turn)
    if shape == SINE:
        return sine_of_turn(turn)
    return 1.0 - abs(4.0 * turn - 1.0) if turn < 0.75 else 4.0 * turn - 4.0


def area(shape: int, u: float) -> float:
    """Return the curve's antiderivative, which comes again after 4 too."""
    turn = 0.25 * u
    turn -= floor(turn)
    if shape == SINE:
        return -2.0 / math.pi * cosine_of_turn(turn)
    if turn > 0.25 and turn < 0.75:
        return 1.0 - 8.0 * (turn - 0.5) * (turn - 0.5)
    turn = turn - 1.0 if turn >= 0.75 else turn
    return 8.0 * turn * turn


def wave_folder(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Amplify, shift, emphasise, take the mean of the curve."""
    in_v, fold_v = bus_v[ins[SIGNAL_IN], start:stop], bus_v[ins[FOLD_IN], start:stop]
    offset_v, out_v = bus_v[ins[OFFSET_IN], start:stop], bus_v[outs[0], start:stop]
    shape = SINE if params[SHAPE, 0] > 0.5 else TRIANGLE
    fold_step, depth_step = params[FOLD, 1], params[FOLD_DEPTH, 1]
    offset_step, peak_step = params[OFFSET_V, 1], params[PEAK_V, 1]
    fold_0 = params[FOLD, 0] + start * fold_step
    depth_0 = params[FOLD_DEPTH, 0] + start * depth_step
    offset_0 = params[OFFSET_V, 0] + start * offset_step
    peak_0 = params[PEAK_V, 0] + start * peak_step
    newest, middle, before = state[NEWEST], state[MIDDLE], state[BEFORE]
    area_before = area(shape, before)
    for n in range(stop - start):
        depth = depth_0 + n * depth_step
        gain = fold_0 + n * fold_step + depth * clamp(fold_v[n], -RAIL_V, RAIL_V)
        gain = clamp(gain, 0.0, MOST_FOLD)
        shift_v = offset_0 + n * offset_step + clamp(offset_v[n], -RAIL_V, RAIL_V)
        peak_v = peak_0 + n * peak_step
        oldest = middle
        middle = newest
        newest = (gain * clamp(in_v[n], -RAIL_V, RAIL_V) + shift_v) / peak_v
        u = emphasised(newest, middle, oldest)
        area_here = area(shape, u)
        if abs(u - before) > NEAR:
            v = clamp((area_here - area_before) / (u - before), -1.0, 1.0)
        else:
            v = folded(shape, 0.5 * (u + before))
        before = u
        area_before = area_here
        out_v[n] = peak_v * v
    state[NEWEST] = newest
    state[MIDDLE] = middle
    state[BEFORE] = before


def prepare(setting: Setting) -> list[float]:
    """Start where the offset rests."""
    return [setting["offset"] / setting["peak"]] * 3


def _shapes(setting: Setting) -> list[int]:
    span = setting.span("shape")
    return [s for s in (TRIANGLE, SINE) if span.lo - 0.5 <= s <= span.hi + 0.5]


def _curve_span(shape: int, u: Span) -> Span:
    """Return what the curve reaches between two points: its ends, and the tops and bottoms between."""
    reached = Span.around(folded(shape, u.lo), folded(shape, u.hi))
    if math.floor((u.hi - 1.0) / 4.0) >= math.ceil((u.lo - 1.0) / 4.0):
        reached = reached.including(1.0)
    if math.floor((u.hi + 1.0) / 4.0) >= math.ceil((u.lo + 1.0) / 4.0):
        reached = reached.including(-1.0)
    return reached


def _gain_span(cv: Span, setting: Setting) -> Span:
    by_cv = cv.clipped(-RAIL_V, RAIL_V) * setting.span("fold-depth")
    return (setting.span("fold") + by_cv).clipped(0.0, MOST_FOLD)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """What the curve reaches over all that is fed to it, the emphasis' overshoot included."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    shift = setting.span("offset") + ins[OFFSET_IN].clipped(-RAIL_V, RAIL_V)
    fed = source * _gain_span(ins[FOLD_IN], setting) + shift
    peak = setting.span("peak")
    ends = Span.around(*(v / p for v in (fed.lo, fed.hi) for p in (peak.lo, peak.hi)))
    inside = between(ends.including(setting["offset"] / setting["peak"]), OVERSHOOT)
    spans = [_curve_span(shape, inside) for shape in _shapes(setting)]
    reached = spans[0].hull(spans[-1])
    return [reached * peak]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """As if the sound were a sine of the same RMS: mean and RMS over one turn of it."""
    source = ins[SIGNAL_IN].clipped(-RAIL_V, RAIL_V)
    shape, peak_v = round(setting["shape"]), setting["peak"]
    gain = _gain_span(Span.point(ins[FOLD_IN].dc_v), setting).lo
    shift_v = setting["offset"] + min(max(ins[OFFSET_IN].dc_v, -RAIL_V), RAIL_V)
    points = 256
    swing_v = math.sqrt(2.0) * source.rms_v
    turns = [2.0 * math.pi * (i + 0.5) / points for i in range(points)]
    values = [
        peak_v * folded(shape, (gain * (source.dc_v + swing_v * math.sin(t)) + shift_v) / peak_v)
        for t in turns
    ]
    mean_v = math.fsum(values) / points
    rms_v = math.sqrt(math.fsum((v - mean_v) ** 2 for v in values) / points)
    fed = Span(source.lo_v, source.hi_v).scaled(gain) + Span.point(shift_v)
    ends = _curve_span(shape, fed.scaled(1.0 / peak_v)).scaled(peak_v)
    # What falls back through every fold goes as far as any of it.
    hit_v = max(ends.hi - mean_v, mean_v - ends.lo) if source.hit_v > 0.0 else 0.0
    return [Level(ends.lo, ends.hi, mean_v, rms_v, hit_v).clipped(ends.lo, ends.hi)]


def delay(setting: Setting) -> list[Lag]:
    """A sample and a half."""
    late_s = LATE_SAMPLES / setting.rate_hz
    return [
        Lag("in", "out", late_s, late_s),
        Lag("fold", "out", late_s, late_s, is_signal=False),
        Lag("offset", "out", late_s, late_s, is_signal=False),
    ]


KIND = Kind(
    name="wave-folder",
    doc=__doc__,
    inputs=(
        Port("in", "the sound"),
        Port("fold", "adds `fold-depth` to the gain for each volt", is_control=True),
        Port("offset", "added to the offset", is_control=True),
    ),
    outputs=(Port("out", "the sound, folded"),),
    params=(
        Param("shape", "ratio", 0.0, 1.0, 0.0, "what it folds along", ("triangle", "sine")),
        Param("fold", "ratio", 0.0, MOST_FOLD, 1.0, "gain in front, at 0 V"),
        Param("fold-depth", "ratio", -4.0, 4.0, 1.0, "added to the gain for each volt at `fold`"),
        Param("offset", "V", -10.0, 10.0, 0.0, "shifts the sound before it is folded"),
        Param("peak", "V", 0.5, 10.0, 5.0, "where it folds"),
    ),
    kernel=wave_folder,
    prepare=prepare,
    interval=interval,
    level=level,
    delay=delay,
)
