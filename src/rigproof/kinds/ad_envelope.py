"""AD envelope: a rise and a fall, started by a gate's edge, or for ever when looped. With a pulse at its end.

The gate starts it when it rises through 1 V; how long the gate stays high does not matter, and another edge starts
the rise again from where the voltage stands. Times are exact to the sample: at the edge the voltage starts, `attack`
later it is at the peak, `decay` after that the fall is over. Exponential: the rise charges towards one and a half
times the peak, the fall is the discharge of a capacitor, `decay` being the time to -60 dB (a thousandth), where it
drops to 0 V. Linear: straight lines. `decay-cv` is looked at when the rise starts and stretches the decay by an
octave (twice the time) a volt. The end pulse is 5 V and lasts 5 ms, or half a cycle where that is shorter.

Left out: the capacitor's leakage, times that depend on the peak; times do not glide within a block. The readings of the
end pulse take the decay as it is set, without its CV.

Source: charge and discharge of an RC (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1): aiming at T times the
peak takes tau ln(T / (T - 1)), a fall to -60 dB takes 6.907755 tau. One and a half times the peak, the threshold and
the end pulse are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.base import RATE_HZ, Beat, Kind, Level, Param, Port, Pulse, Setting, Span
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import schmitt
from rigproof.units import quarter_s

ATTACK_S, DECAY_S, CURVE, PEAK_V, LOOP = 1, 2, 3, 4, 5
STAGE, HEIGHT, GATE_HIGH, PULSE_LEFT, STRETCH = 0, 1, 2, 3, 4
GATE_IN, DECAY_IN = 0, 1
IDLE, ATTACK, DECAY = 0.0, 1.0, 2.0

AIM_RATIO = 1.5
"""An exponential rise aims at this times the peak."""
ATTACK_NEPER = math.log(AIM_RATIO / (AIM_RATIO - 1.0))
"""Time constants in an exponential rise: ln 3."""
END_RATIO = 1e-3
"""Where an exponential fall is over: -60 dB."""
DECAY_NEPER = -math.log(END_RATIO)
"""Time constants in an exponential fall: 6.907755."""
LN_2 = math.log(2.0)
ROUNDING = 1e-9
"""Share of the peak by which an end may be missed for rounding; far less than any step."""
MOST_OCTAVES = 5.0
"""The decay CV stretches or shortens the decay by no more than this: 32 times. Our choice."""
GATE_V = 1.0
PULSE_V = 5.0
PULSE_S = 0.005


def fall_a_sample(decay: float, stretch: float, is_linear: bool) -> float:
    """Return what a fall of so many samples, stretched, takes off or leaves in one sample."""
    longer = max(decay * stretch, 1.0)
    return 1.0 / longer if is_linear else exp(-DECAY_NEPER / longer)


def ad_envelope(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Go through the stages, sample by sample; the peak glides."""
    rate_hz = params[RATE_HZ, 0]
    attack = max(params[ATTACK_S, 0] * rate_hz, 1.0)
    decay = max(params[DECAY_S, 0] * rate_hz, 1.0)
    is_linear = params[CURVE, 0] < 0.5
    is_loop = params[LOOP, 0] >= 0.5
    rise = 1.0 / attack if is_linear else 1.0 - exp(-ATTACK_NEPER / attack)
    fall = fall_a_sample(decay, state[STRETCH], is_linear)
    pulse_length = max(float(round(min(PULSE_S * rate_hz, 0.5 * (attack + decay)))), 1.0)
    gate, cv, end = ins[GATE_IN], outs[0], outs[1]
    peak_v, peak_step = params[PEAK_V, 0], params[PEAK_V, 1]
    stage = state[STAGE]
    height = state[HEIGHT]
    was_high = state[GATE_HIGH]
    pulse_left = state[PULSE_LEFT]
    for n in range(start, stop):
        if stage == ATTACK:
            height += rise if is_linear else rise * (AIM_RATIO - height)
            if height >= 1.0 - ROUNDING:
                height = 1.0
                stage = DECAY
        elif stage == DECAY:
            if is_linear:
                height -= fall
            else:
                height *= fall
            if height <= (ROUNDING if is_linear else END_RATIO * (1.0 + ROUNDING)):
                height = 0.0
                stage = IDLE
                pulse_left = pulse_length
        is_high = schmitt(clamp(bus_v[gate, n], -100.0, 100.0), was_high, GATE_V)
        if is_high > was_high or (is_loop and stage == IDLE):
            stage = ATTACK
            octaves = clamp(bus_v[ins[DECAY_IN], n], -MOST_OCTAVES, MOST_OCTAVES)
            stretch = exp(LN_2 * octaves)
            if stretch != state[STRETCH]:
                state[STRETCH] = stretch
                fall = fall_a_sample(decay, stretch, is_linear)
        was_high = is_high
        bus_v[cv, n] = (peak_v + n * peak_step) * height
        bus_v[end, n] = PULSE_V if pulse_left > 0.0 else 0.0
        if pulse_left > 0.0:
            pulse_left -= 1.0
    state[STAGE] = stage
    state[HEIGHT] = height
    state[GATE_HIGH] = was_high
    state[PULSE_LEFT] = pulse_left


def prepare(setting: Setting) -> list[float]:
    """Start at rest."""
    return [IDLE, 0.0, 0.0, 0.0, 1.0]


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Between 0 V and the peak; nothing at all from a gate that cannot fire."""
    if ins[GATE_IN].hi < GATE_V and setting.span("loop").hi < 0.5:
        return [Span.point(0.0), Span.point(0.0)]
    return [Span(0.0, setting.span("peak").hi), Span(0.0, PULSE_V)]


def _means(setting: Setting) -> tuple[float, float]:
    """Return mean and mean square over one rise and fall, for a peak of 1. Integrals of the curves."""
    attack_s, decay_s = setting["attack"], setting["decay"]
    if setting["curve"] < 0.5:
        return 0.5, 1.0 / 3.0
    a, d = 1.0 / ATTACK_NEPER, 1.0 / DECAY_NEPER
    left = 1.0 - 1.0 / AIM_RATIO
    rise = AIM_RATIO * (1.0 - a * (1.0 - left))
    rise_square = AIM_RATIO**2 * (1.0 - 2.0 * a * (1.0 - left) + a / 2.0 * (1.0 - left**2))
    fall, fall_square = d * (1.0 - END_RATIO), d / 2.0 * (1.0 - END_RATIO**2)
    share = attack_s / (attack_s + decay_s)
    return share * rise + (1.0 - share) * fall, share * rise_square + (1.0 - share) * fall_square


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Mean and RMS over one rise and fall, as if the next followed at once."""
    if ins[GATE_IN].hi_v < GATE_V and setting["loop"] < 0.5:
        return [Level(), Level()]
    peak_v = setting["peak"]
    mean, square = _means(setting)
    cycle_s = setting["attack"] + setting["decay"]
    high = min(PULSE_S / cycle_s, 0.5)
    return [
        Level(0.0, peak_v, peak_v * mean, peak_v * math.sqrt(square - mean**2)),
        Level(0.0, PULSE_V, PULSE_V * high, PULSE_V * math.sqrt(high * (1.0 - high))),
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One envelope a gate; the end pulse is missed where the next gate comes first."""
    cycle_s = setting["attack"] + setting["decay"]
    length_s = min(PULSE_S, cycle_s / 2.0)
    if setting["loop"] >= 0.5:
        if ins[0].beat is Beat.NONE:
            free = Pulse(Beat.FREE, hz=1.0 / cycle_s)
            return [free, Pulse(Beat.FREE, length_s=length_s, hz=1.0 / cycle_s)]
        return [Pulse(Beat.IRREGULAR), Pulse(Beat.IRREGULAR)]
    gate = ins[0]
    cv = Pulse(gate.beat, gate.per_quarter, gate.cycle_quarters, None, gate.hz, gate.chance)
    if gate.beat is Beat.NONE:
        return [Pulse(), Pulse()]
    gap_s: float | None
    if gate.per_quarter:
        gap_s = quarter_s(setting.tempo_bpm) / float(gate.per_quarter)
    else:
        gap_s = 1.0 / gate.hz if gate.hz else None
    if gate.beat in (Beat.STEADY, Beat.FREE) and gap_s is not None:
        is_over = cycle_s < gap_s
        end = Pulse(
            gate.beat, gate.per_quarter, gate.cycle_quarters, length_s, gate.hz, gate.chance
        )
        return [cv, end if is_over else Pulse()]
    return [cv, Pulse(Beat.IRREGULAR)]


KIND = Kind(
    name="ad-envelope",
    doc=__doc__,
    inputs=(
        Port("gate", "starts the rise when it goes through 1 V", is_control=True),
        Port("decay-cv", "each volt doubles the decay", is_control=True),
    ),
    outputs=(
        Port("cv", "the envelope"),
        Port("end", "a pulse when the fall is over"),
    ),
    params=(
        Param("attack", "s", 1e-4, 60.0, 0.002, "time of the rise from 0 V to the peak"),
        Param(
            "decay",
            "s",
            1e-3,
            60.0,
            0.2,
            "time of the fall from the peak; to -60 dB when exponential",
        ),
        Param("curve", "ratio", 0.0, 1.0, 1.0, "shape of rise and fall", ("linear", "exponential")),
        Param("peak", "V", 0.0, 10.0, 5.0, "top of the envelope"),
        Param("loop", "ratio", 0.0, 1.0, 0.0, "starts itself again", ("off", "on")),
    ),
    kernel=ad_envelope,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
