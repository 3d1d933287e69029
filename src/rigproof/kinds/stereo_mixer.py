"""Stereo mixer: channels with level, pan, mute and two sends, two stereo returns, a master. Stops at the rails.

Pan is equal power: -3.010300 dB on both sides in the middle. Each send is taken before or after the channel's level,
by a switch for all channels; a mute silences a channel's sends as well. Sends are mono. Returns go to the mix and not
to the sends, so that no effect feeds itself. The level glides; a mute is at once and may click.

Left out: crosstalk, noise, equalisers, metering.

Source: summing amplifier (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 4); sine and cosine of a quarter turn
for the pan (see `pan_laws`); sends before and after the fader are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.kinds.base import COLUMNS, RAIL_V, Kind, Lag, Level, Param, Port, Setting, Span, mixed
from rigproof.kinds.clipping import clamp
from rigproof.kinds.pan_laws import EQUAL_POWER, gain_span, quarter_sine

MASTER, RETURN, TAP, CHANNELS = 1, 2, 4, 6
"""Rows of `params`: the master, two returns, two switches, then levels, pans, mutes and two sends of the channels."""
RETURNS = 4
"""Inputs before the first channel."""
LEFT, RIGHT, SEND = 0, 1, 2
TAPS = ("post", "pre")


def add_to(
    out_v: Any, in_v: Any, level: float, level_step: float, gain: float, step: float
) -> None:
    """Add an input times two gains that glide."""
    for n in range(out_v.shape[0]):
        passed_v = clamp(in_v[n], -RAIL_V, RAIL_V)
        out_v[n] += (level + n * level_step) * (gain + n * step) * passed_v


def stereo_mixer(
    bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int
) -> None:
    """Add up the returns, then channel by channel; the gains of a pan go in straight lines through a block."""
    ways = ins.shape[0] - RETURNS
    for o in range(4):
        out_v = bus_v[outs[o], start:stop]
        for n in range(stop - start):
            out_v[n] = 0.0
    for r in range(2):
        step = params[RETURN + r, 1]
        gain = params[RETURN + r, 0] + start * step
        for side in range(2):
            in_v = bus_v[ins[2 * r + side], start:stop]
            add_to(bus_v[outs[side], start:stop], in_v, gain, step, 1.0, 0.0)
    for i in range(ways):
        if params[CHANNELS + 2 * ways + i, 0] >= 0.5:
            continue
        in_v = bus_v[ins[RETURNS + i], start:stop]
        level_step = params[CHANNELS + i, 1]
        level = params[CHANNELS + i, 0] + start * level_step
        pan = params[CHANNELS + ways + i, 0]
        here = 0.5 + 0.5 * clamp(pan, -1.0, 1.0)
        there = 0.5 + 0.5 * clamp(pan + COLUMNS * params[CHANNELS + ways + i, 1], -1.0, 1.0)
        for side in range(2):
            first = quarter_sine(here if side == RIGHT else 1.0 - here)
            last = quarter_sine(there if side == RIGHT else 1.0 - there)
            step = (last - first) / COLUMNS
            gain = first + start * step
            add_to(bus_v[outs[side], start:stop], in_v, level, level_step, gain, step)
        for s in range(2):
            row = CHANNELS + (3 + s) * ways + i
            step = params[row, 1]
            gain = params[row, 0] + start * step
            if gain == 0.0 and step == 0.0:
                continue
            if params[TAP + s, 0] >= 0.5:
                add_to(bus_v[outs[SEND + s], start:stop], in_v, 1.0, 0.0, gain, step)
            else:
                add_to(bus_v[outs[SEND + s], start:stop], in_v, level, level_step, gain, step)
    master_step = params[MASTER, 1]
    master = params[MASTER, 0] + start * master_step
    for o in range(4):
        out_v = bus_v[outs[o], start:stop]
        gain = master if o < SEND else 1.0
        step = master_step if o < SEND else 0.0
        for n in range(stop - start):
            out_v[n] = clamp((gain + n * step) * out_v[n], -RAIL_V, RAIL_V)


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Interval sum and product, then the rails."""
    ins = [span.clipped(-RAIL_V, RAIL_V) for span in ins]
    sums = [
        ins[side] * setting.span("return-a") + ins[2 + side] * setting.span("return-b")
        for side in range(2)
    ] + [Span.point(0.0)] * 2
    equal_power = Span.point(float(EQUAL_POWER))
    for i, span in enumerate(ins[RETURNS:], start=1):
        mute = setting.span(f"mute-{i}")
        if mute.lo >= 0.5:
            continue
        right = setting.span(f"pan-{i}").clipped(-1.0, 1.0).scaled(0.5) + Span.point(0.5)
        faded = span * setting.span(f"level-{i}")
        adds = [
            faded * gain_span(Span.point(1.0) - right, equal_power),
            faded * gain_span(right, equal_power),
        ]
        for send in ("send-a", "send-b"):
            tap = setting.span(f"{send}-tap")
            taken = [s for s, is_it in ((faded, tap.lo < 0.5), (span, tap.hi >= 0.5)) if is_it]
            whole = taken[0].hull(taken[-1])
            adds.append(whole * setting.span(f"{send}-{i}"))
        if mute.hi >= 0.5:
            adds = [add.including(0.0) for add in adds]
        sums = [total + add for total, add in zip(sums, adds, strict=True)]
    master = setting.span("master")
    return [
        (total * master if o < SEND else total).clipped(-RAIL_V, RAIL_V)
        for o, total in enumerate(sums)
    ]


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """Unlike signals add by power."""
    ins = [x.clipped(-RAIL_V, RAIL_V) for x in ins]
    parts: list[list[Level]] = [
        [ins[side].scaled(setting["return-a"]), ins[2 + side].scaled(setting["return-b"])]
        for side in range(2)
    ] + [[], []]
    for i, x in enumerate(ins[RETURNS:], start=1):
        if setting[f"mute-{i}"] >= 0.5:
            continue
        faded = x.scaled(setting[f"level-{i}"])
        right = 0.5 + 0.5 * setting[f"pan-{i}"]
        parts[LEFT].append(faded.scaled(quarter_sine(1.0 - right)))
        parts[RIGHT].append(faded.scaled(quarter_sine(right)))
        for s, send in enumerate(("send-a", "send-b")):
            taken = x if setting[f"{send}-tap"] >= 0.5 else faded
            parts[SEND + s].append(taken.scaled(setting[f"{send}-{i}"]))
    gains = (setting["master"], setting["master"], 1.0, 1.0)
    return [
        mixed(found).scaled(gain).clipped(-RAIL_V, RAIL_V)
        for found, gain in zip(parts, gains, strict=True)
    ]


def delay(setting: Setting) -> list[Lag]:
    """At once; returns reach their side of the mix only."""
    found = [Lag(f"return-{r}-{side}", side) for r in "ab" for side in ("left", "right")]
    for i in range(1, setting.ways + 1):
        found += [Lag(f"in-{i}", out) for out in ("left", "right", "send-a", "send-b")]
    return found


KIND = Kind(
    name="stereo-mixer",
    doc=__doc__,
    inputs=(
        Port("return-a-left", "left of what comes back of send A"),
        Port("return-a-right", "right of what comes back of send A"),
        Port("return-b-left", "left of what comes back of send B"),
        Port("return-b-right", "right of what comes back of send B"),
        Port("in", "a channel", many=True),
    ),
    outputs=(
        Port("left", "left of the mix"),
        Port("right", "right of the mix"),
        Port("send-a", "what goes to effect A"),
        Port("send-b", "what goes to effect B"),
    ),
    params=(
        Param("master", "ratio", 0.0, 4.0, 1.0, "gain of the mix"),
        Param("return-a", "ratio", 0.0, 2.0, 1.0, "gain of return A"),
        Param("return-b", "ratio", 0.0, 2.0, 1.0, "gain of return B"),
        Param("send-a-tap", "ratio", 0.0, 1.0, 0.0, "after or before the level", TAPS),
        Param("send-b-tap", "ratio", 0.0, 1.0, 0.0, "after or before the level", TAPS),
        Param("level", "ratio", 0.0, 2.0, 1.0, "gain of a channel", many=True),
        Param("pan", "ratio", -1.0, 1.0, 0.0, "minus one is left, one is right", many=True),
        Param("mute", "ratio", 0.0, 1.0, 0.0, "silences a channel", ("off", "on"), many=True),
        Param("send-a", "ratio", 0.0, 2.0, 0.0, "gain to effect A", many=True),
        Param("send-b", "ratio", 0.0, 2.0, 0.0, "gain to effect B", many=True),
    ),
    kernel=stereo_mixer,
    interval=interval,
    level=level,
    delay=delay,
    ways=(1, 16, 4),
)
