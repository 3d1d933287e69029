"""ADSR envelope: attack, decay and release by a gate, sustain in between; may loop. With a pulse at its end.

A gate that rises through 1 V starts the attack from where the voltage stands; at the peak the decay begins, and goes
down to the sustain level, which is held until the gate falls. Then comes the release. A rise at `retrigger` while the
gate is high starts the attack again. Looped, the attack starts again whenever the decay is over, for as long as the
gate is high.

Times are exact to the sample: at the edge the voltage starts, from 0 V the peak is reached `attack` later, the sustain
level `decay` after that, and 0 V `release` after the gate's fall, from wherever that was. Exponential: the attack
charges towards one and a half times the peak; decay and release are the discharge of a capacitor, told as the time to
-60 dB (a thousandth) of the way, where the rest drops. Linear: straight lines. The end pulse comes when the release is
over, and when a loop starts again; it is 5 V and lasts 5 ms, or half of the release (in a loop, of attack and decay)
where that is shorter.

Left out: the capacitor's leakage, voltage control of the times; times do not glide within a block.

Source: charge and discharge of an RC (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1): aiming at T times the
peak takes tau ln(T / (T - 1)), a fall to -60 dB takes 6.907755 tau. One and a half times the peak, the threshold and
the end pulse are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp
from typing import Any

from rigproof.kinds.ad_envelope import (
    AIM_RATIO,
    ATTACK_NEPER,
    DECAY_NEPER,
    END_RATIO,
    GATE_V,
    PULSE_S,
    PULSE_V,
    ROUNDING,
)
from rigproof.kinds.base import (
    IRREGULAR,
    NO_PULSE,
    RATE_HZ,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.kinds.edges import schmitt
from rigproof.units import quarter_s

ATTACK_S, DECAY_S, SUSTAIN, RELEASE_S, CURVE, PEAK_V, LOOP = 1, 2, 3, 4, 5, 6, 7
GATE_IN, RETRIGGER_IN = 0, 1
STAGE, HEIGHT, GATE_HIGH, RETRIGGER_HIGH, PULSE_LEFT, RELEASED = 0, 1, 2, 3, 4, 5
IDLE, ATTACK, DECAY, HOLD, RELEASE = 0.0, 1.0, 2.0, 3.0, 4.0


def adsr_envelope(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Go through the stages, sample by sample; sustain and peak glide."""
    rate_hz = params[RATE_HZ, 0]
    attack = max(params[ATTACK_S, 0] * rate_hz, 1.0)
    decay = max(params[DECAY_S, 0] * rate_hz, 1.0)
    release = max(params[RELEASE_S, 0] * rate_hz, 1.0)
    is_linear = params[CURVE, 0] < 0.5
    is_loop = params[LOOP, 0] >= 0.5
    # Each stage is one product and one sum: height times `keep` plus `add`; of the latter two depend on heights.
    rise_keep = 1.0 if is_linear else exp(-ATTACK_NEPER / attack)
    rise_add = 1.0 / attack if is_linear else AIM_RATIO * (1.0 - rise_keep)
    decay_keep = 1.0 if is_linear else exp(-DECAY_NEPER / decay)
    release_keep = 1.0 if is_linear else exp(-DECAY_NEPER / release)
    end_ratio = ROUNDING if is_linear else END_RATIO * (1.0 + ROUNDING)
    pulse = PULSE_S * rate_hz
    loop_pulse = max(math.floor(min(pulse, 0.5 * (attack + decay)) + 0.5), 1.0)
    end_pulse = max(math.floor(min(pulse, 0.5 * release) + 0.5), 1.0)
    gate_in, retrigger_in, cv_out, end_out = ins[GATE_IN], ins[RETRIGGER_IN], outs[0], outs[1]
    sustain_0, sustain_step = params[SUSTAIN, 0], params[SUSTAIN, 1]
    peak_v, peak_step = params[PEAK_V, 0], params[PEAK_V, 1]
    stage, height, released = state[STAGE], state[HEIGHT], state[RELEASED]
    gate_was, retrigger_was = state[GATE_HIGH], state[RETRIGGER_HIGH]
    pulse_left = state[PULSE_LEFT]
    for n in range(start, stop):
        sustain = sustain_0 + n * sustain_step
        if stage == ATTACK:
            height = rise_keep * height + rise_add
            if height >= 1.0 - ROUNDING:
                height = 1.0
                stage = DECAY
        elif stage == DECAY:
            way = 1.0 - sustain
            if is_linear:
                height -= way / decay
            else:
                height = sustain + decay_keep * (height - sustain)
            if height - sustain <= end_ratio * way:
                height = sustain
                stage = HOLD
                if is_loop:
                    stage = ATTACK
                    pulse_left = loop_pulse
        elif stage == RELEASE:
            height = height - released / release if is_linear else height * release_keep
            if height <= end_ratio * released:
                height = 0.0
                stage = IDLE
                pulse_left = end_pulse
        elif stage == HOLD:
            height = sustain
            if is_loop:
                stage = ATTACK
        gate = schmitt(bus_v[gate_in, n], gate_was, GATE_V)
        retrigger = schmitt(bus_v[retrigger_in, n], retrigger_was, GATE_V)
        if gate > gate_was or (gate > 0.0 and retrigger > retrigger_was):
            stage = ATTACK
        elif gate < gate_was:
            stage = RELEASE
            released = height
        gate_was = gate
        retrigger_was = retrigger
        bus_v[cv_out, n] = (peak_v + n * peak_step) * height
        bus_v[end_out, n] = PULSE_V if pulse_left > 0.0 else 0.0
        pulse_left = max(pulse_left - 1.0, 0.0)
    state[STAGE], state[HEIGHT], state[RELEASED] = stage, height, released
    state[GATE_HIGH], state[RETRIGGER_HIGH] = gate_was, retrigger_was
    state[PULSE_LEFT] = pulse_left


def prepare(setting: Setting) -> list[float]:
    """Start at rest."""
    return [0.0] * 6


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Between 0 V and the peak; nothing at all from a gate that cannot fire."""
    if ins[GATE_IN].hi < GATE_V:
        return [Span.point(0.0), Span.point(0.0)]
    return [Span(0.0, setting.span("peak").hi), Span(0.0, PULSE_V)]


def _rise_means(is_linear: bool) -> tuple[float, float]:
    """Return mean and mean square of the attack, for a peak of 1. Integrals of the curve."""
    if is_linear:
        return 0.5, 1.0 / 3.0
    a = 1.0 / ATTACK_NEPER
    left = 1.0 - 1.0 / AIM_RATIO
    return (
        AIM_RATIO * (1.0 - a * (1.0 - left)),
        AIM_RATIO**2 * (1.0 - 2.0 * a * (1.0 - left) + a / 2.0 * (1.0 - left**2)),
    )


def _fall_means(top: float, bottom: float, is_linear: bool) -> tuple[float, float]:
    """Return mean and mean square of a fall from one height to another."""
    way = top - bottom
    if is_linear:
        mean, square = 0.5, 1.0 / 3.0
    else:
        d = 1.0 / DECAY_NEPER
        mean, square = d * (1.0 - END_RATIO), d / 2.0 * (1.0 - END_RATIO**2)
    return bottom + way * mean, bottom**2 + 2.0 * bottom * way * mean + way**2 * square


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Mean and RMS of one attack, decay and release, as if the gate fell with the decay's end and came again with the
    release's; looped, of attack and decay.
    """
    if ins[GATE_IN].hi_v < GATE_V:
        return [Level(), Level()]
    is_linear, sustain, peak_v = setting["curve"] < 0.5, setting["sustain"], setting["peak"]
    parts = [
        (setting["attack"], _rise_means(is_linear)),
        (setting["decay"], _fall_means(1.0, sustain, is_linear)),
        (setting["release"], _fall_means(sustain, 0.0, is_linear)),
    ]
    if setting["loop"] >= 0.5:
        parts = parts[:2]
    cycle_s = sum(time_s for time_s, _ in parts)
    mean = sum(time_s * means[0] for time_s, means in parts) / cycle_s
    square = sum(time_s * means[1] for time_s, means in parts) / cycle_s
    last_s = cycle_s if len(parts) == 2 else setting["release"]
    high = min(PULSE_S, last_s / 2.0) / cycle_s
    return [
        Level(0.0, peak_v, peak_v * mean, peak_v * math.sqrt(max(square - mean**2, 0.0))),
        Level(0.0, PULSE_V, PULSE_V * high, PULSE_V * math.sqrt(high * (1.0 - high))),
    ]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """One envelope a gate; the end pulse is missed where the next gate comes first. Looped nobody can say."""
    gate, retrigger = ins[GATE_IN], ins[RETRIGGER_IN]
    if gate.beat is Beat.NONE:
        return [NO_PULSE] * 2
    if setting["loop"] >= 0.5 or retrigger.beat is not Beat.NONE:
        return [IRREGULAR] * 2
    cv = Pulse(gate.beat, gate.per_quarter, gate.cycle_quarters, None, gate.hz, gate.chance)
    gap_s: float | None = None
    if gate.per_quarter:
        gap_s = quarter_s(setting.tempo_bpm) / float(gate.per_quarter)
    elif gate.hz:
        gap_s = 1.0 / gate.hz
    is_even = gate.beat in (Beat.STEADY, Beat.FREE)
    if not is_even or gap_s is None or gate.length_s is None:
        return [cv, IRREGULAR]
    if gate.length_s + setting["release"] >= gap_s:
        return [cv, NO_PULSE]
    length_s = min(PULSE_S, setting["release"] / 2.0)
    return [
        cv,
        Pulse(gate.beat, gate.per_quarter, gate.cycle_quarters, length_s, gate.hz, gate.chance),
    ]


KIND = Kind(
    name="adsr-envelope",
    doc=__doc__,
    inputs=(
        Port("gate", "attack and decay while it is high, release when it falls", is_control=True),
        Port("retrigger", "a rise starts the attack again", is_control=True),
    ),
    outputs=(
        Port("cv", "the envelope"),
        Port("end", "a pulse when the release is over"),
    ),
    params=(
        Param("attack", "s", 1e-4, 60.0, 0.005, "time of the rise from 0 V to the peak"),
        Param("decay", "s", 1e-3, 60.0, 0.1, "time from the peak to the sustain level"),
        Param("sustain", "ratio", 0.0, 1.0, 0.5, "level held while the gate is high"),
        Param("release", "s", 1e-3, 60.0, 0.2, "time from the gate's fall to 0 V"),
        Param("curve", "ratio", 0.0, 1.0, 1.0, "shape of the stages", ("linear", "exponential")),
        Param("peak", "V", 0.0, 10.0, 5.0, "top of the envelope"),
        Param("loop", "ratio", 0.0, 1.0, 0.0, "starts itself again while gated", ("off", "on")),
    ),
    kernel=adsr_envelope,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
)
