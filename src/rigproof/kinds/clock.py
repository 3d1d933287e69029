"""Master clock: pulses locked to the tempo, any ratio of a quarter note on each output, with swing, and a reset pulse.

Time is counted in tempo times samples, of which a quarter note takes 60 times the sample rate. At a whole tempo the
count is exact, at any other the rounding of every addition is carried along (compensated summation), so that nothing
drifts and a gliding tempo still puts every pulse on its sample. A pulse rises at the first sample at or after its time.

An output gives `times` pulses in `over` quarter notes: 4 over 1 is sixteenths, 1 over 4 a pulse a bar of 4/4. Swing
takes them in pairs: the second comes at that share of the pair, 0.5 being straight. A pulse is never longer than half
the way to the next. The clock stands still while `run` is low or switched off; when it starts, and when `restart`
rises, it begins at beat 0 with a pulse on the reset output and the first pulse of every output on the same sample.

Left out: the jitter of a real clock's own interrupt.

Source: 60 s over the tempo is a quarter note; compensated summation: W. Kahan, Further Remarks on Reducing Truncation
Errors, Communications of the ACM 8 (1965), 40; swing as the share of a pair: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from rigproof.kinds.base import (
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
from rigproof.kinds.clipping import clamp
from rigproof.kinds.edges import hold_gate, is_steady, schmitt
from rigproof.units import quarter_s

TEMPO_BPM, RUN, LEVEL_V, WIDTH_S, TIMES = 1, 2, 3, 4, 5
RUN_IN, RESTART_IN = 0, 1

RUN_HIGH, RESTART_HIGH, RUNNING, COUNT, LOST, RESET_LEFT, OUTPUTS = 0, 1, 2, 3, 4, 5, 6
NEXT, LEFT, LAST_TIMES, LAST_OVER, EACH = 0, 1, 2, 3, 4
"""State of one output: number of its next pulse, samples left of this one, the ratio that numbers them."""

THRESHOLD_V = 1.0
"""Run and restart are high from here up. Common practice, no source. [V]"""
PULSES_MOST = 96.0


def pulse_time(number: float, swing: float) -> float:
    """Return when pulse `number` comes, in unswung pulses from beat 0."""
    if int(number) % 2 == 1:
        return number - 1.0 + 2.0 * swing
    return number


def whole(value: float) -> float:
    """Return the nearest whole number from 1 to `PULSES_MOST`."""
    return float(int(clamp(value, 1.0, PULSES_MOST) + 0.5))


def is_undisturbed(bus_v: Any, ins: Any, params: Any, state: Any, start: int, stop: int) -> bool:
    """Return whether the clock goes on as it was over these columns: no start, stop, restart or glide of the tempo."""
    run_v, restart_v = bus_v[ins[RUN_IN], start:stop], bus_v[ins[RESTART_IN], start:stop]
    running = 1.0 if state[RUN_HIGH] > 0.0 and params[RUN, 0] > 0.5 else 0.0
    return (
        running == state[RUNNING]
        and params[TEMPO_BPM, 1] == 0.0
        and is_steady(run_v, state[RUN_HIGH], THRESHOLD_V)
        and is_steady(restart_v, state[RESTART_HIGH], THRESHOLD_V)
    )


def clock(bus_v: Any, ins: Any, outs: Any, params: Any, state: Any, start: int, stop: int) -> None:
    """Count samples times tempo; raise every output whose next pulse is due."""
    rate_hz = params[RATE_HZ, 0]
    quarter = 60.0 * rate_hz
    ways = outs.shape[0] - 1
    count = state[COUNT]
    lost = state[LOST]
    if is_undisturbed(bus_v, ins, params, state, start, stop):
        tempo = params[TEMPO_BPM, 0]
        ahead = count
        ahead_lost = lost
        is_whole = lost == 0.0 and tempo == float(int(tempo)) and count == float(int(count))
        if state[RUNNING] > 0.0 and is_whole:
            ahead = count + (stop - start) * tempo  # exact, in one go as one by one
        elif state[RUNNING] > 0.0:
            for _ in range(stop - start):
                added = tempo - ahead_lost
                total = ahead + added
                ahead_lost = (total - ahead) - added
                ahead = total
        is_due = False
        for i in range(ways):
            here = OUTPUTS + i * EACH
            times, over = state[here + LAST_TIMES], state[here + LAST_OVER]
            due = pulse_time(state[here + NEXT], params[TIMES + 2 * ways + i, 0]) * over * quarter
            is_changed = times != whole(params[TIMES + i, 0])
            is_changed = is_changed or over != whole(params[TIMES + ways + i, 0])
            is_due = is_due or is_changed or (state[RUNNING] > 0.0 and ahead * times >= due)
        if not is_due:
            level_0, level_step = (
                params[LEVEL_V, 0] + start * params[LEVEL_V, 1],
                params[LEVEL_V, 1],
            )
            for i in range(ways):
                here = OUTPUTS + i * EACH
                hold_gate(bus_v[outs[i], start:stop], state[here + LEFT], level_0, level_step)
                state[here + LEFT] = max(0.0, state[here + LEFT] - (stop - start))
            hold_gate(bus_v[outs[ways], start:stop], state[RESET_LEFT], level_0, level_step)
            state[RESET_LEFT] = max(0.0, state[RESET_LEFT] - (stop - start))
            state[COUNT] = ahead
            state[LOST] = ahead_lost
            return
    for n in range(start, stop):
        tempo = params[TEMPO_BPM, 0] + n * params[TEMPO_BPM, 1]
        level_v = params[LEVEL_V, 0] + n * params[LEVEL_V, 1]
        width = (params[WIDTH_S, 0] + n * params[WIDTH_S, 1]) * rate_hz
        state[RUN_HIGH] = schmitt(bus_v[ins[RUN_IN], n], state[RUN_HIGH], THRESHOLD_V)
        restart = schmitt(bus_v[ins[RESTART_IN], n], state[RESTART_HIGH], THRESHOLD_V)
        running = 1.0 if state[RUN_HIGH] > 0.0 and params[RUN, 0] > 0.5 else 0.0
        if running > state[RUNNING] or (running > 0.0 and restart > state[RESTART_HIGH]):
            count = 0.0
            lost = 0.0
            state[RESET_LEFT] = float(int(width + 0.5))
            for i in range(ways):
                state[OUTPUTS + i * EACH + NEXT] = 0.0
        state[RESTART_HIGH] = restart
        state[RUNNING] = running
        for i in range(ways):
            here = OUTPUTS + i * EACH
            times = whole(params[TIMES + i, 0])
            over = whole(params[TIMES + ways + i, 0])
            swing = params[TIMES + 2 * ways + i, 0]
            if times != state[here + LAST_TIMES] or over != state[here + LAST_OVER]:
                # A new ratio goes on from the next of its own pulses.
                state[here + NEXT] = float(math.ceil(count * times / (over * quarter)))
                state[here + LAST_TIMES] = times
                state[here + LAST_OVER] = over
            each = over * quarter
            number = state[here + NEXT]
            if running > 0.0 and count * times >= pulse_time(number, swing) * each:
                gap = pulse_time(number + 1.0, swing) - pulse_time(number, swing)
                longest = 0.5 * gap * each / (times * tempo)
                state[here + LEFT] = max(1.0, float(int(min(width, longest) + 0.5)))
                state[here + NEXT] = number + 1.0
            if state[here + LEFT] > 0.0:
                bus_v[outs[i], n] = level_v
                state[here + LEFT] -= 1.0
            else:
                bus_v[outs[i], n] = 0.0
        if state[RESET_LEFT] > 0.0:
            bus_v[outs[ways], n] = level_v
            state[RESET_LEFT] -= 1.0
        else:
            bus_v[outs[ways], n] = 0.0
        if running > 0.0:
            added = tempo - lost
            total = count + added
            lost = (total - count) - added
            count = total
    state[COUNT] = count
    state[LOST] = lost


def prepare(setting: Setting) -> list[float]:
    """Stand at beat 0, not yet running, every output at its first pulse."""
    state = [0.0] * OUTPUTS
    for times, over in _ratios(setting):
        state += [0.0, 0.0, float(times), float(over)]
    return state


def _ratios(setting: Setting) -> list[tuple[int, int]]:
    pairs = zip(setting.all_values("times"), setting.all_values("over"), strict=True)
    return [(int(whole(times)), int(whole(over))) for times, over in pairs]


def _pulses(setting: Setting) -> list[Pulse]:
    fastest = setting.span("tempo").hi
    found = []
    for (times, over), swing in zip(_ratios(setting), setting.all_values("swing"), strict=True):
        per_quarter = Fraction(times, over)
        shortest_gap = 2.0 * min(swing, 1.0 - swing) * quarter_s(fastest) * over / times
        length_s = min(setting.span("width").lo, shortest_gap / 2.0)
        beat, pulses = (Beat.STEADY, 1) if swing == 0.5 else (Beat.PATTERN, 2)
        found.append(Pulse(beat, per_quarter, pulses / per_quarter, length_s))
    return found


def interval(ins: Sequence[Span], setting: Setting) -> list[Span]:
    """Low is 0 V, high is the level."""
    high = setting.span("level").including(0.0)
    return [high] * (setting.ways + 1)


def level(ins: Sequence[Level], setting: Setting) -> list[Level]:
    """A rectangle: its mean and RMS follow from the share of the time it is high."""
    found = []
    for pulse in _pulses(setting):
        assert pulse.per_quarter is not None
        assert pulse.length_s is not None
        duty = min(1.0, pulse.length_s * float(pulse.per_quarter) / quarter_s(setting["tempo"]))
        high = setting["level"]
        found.append(Level(0.0, high, high * duty, high * math.sqrt(duty * (1.0 - duty))))
    return [*found, Level(0.0, setting["level"], 0.0, 0.0)]


def rate(ins: Sequence[Pulse], setting: Setting) -> list[Pulse]:
    """Each output as its ratio says, none while the clock is switched off; the reset pulse comes once."""
    if setting["run"] < 0.5:
        return [NO_PULSE] * (setting.ways + 1)
    return [*_pulses(setting), NO_PULSE]


KIND = Kind(
    name="clock",
    doc=__doc__,
    inputs=(
        Port("run", "the clock runs while this is high", rest_v=5.0, is_control=True),
        Port("restart", "a rise starts again at beat 0", is_control=True),
    ),
    outputs=(
        Port("out", "pulses", many=True),
        Port("reset", "one pulse when the clock starts"),
    ),
    params=(
        Param("tempo", "bpm", 1.0, 1000.0, 120.0, "quarter notes a minute", from_tempo=True),
        Param("run", "ratio", 0.0, 1.0, 1.0, "whether it runs", choices=("off", "on")),
        Param("level", "V", 0.0, 10.0, 5.0, "voltage of a pulse"),
        Param(
            "width", "s", 1e-4, 1.0, 0.005, "length of a pulse, at most half the way to the next"
        ),
        Param("times", "steps", 1.0, PULSES_MOST, 4.0, "so many pulses", many=True),
        Param("over", "steps", 1.0, PULSES_MOST, 1.0, "in so many quarter notes", many=True),
        Param("swing", "ratio", 0.5, 0.75, 0.5, "where the second of two pulses comes", many=True),
    ),
    kernel=clock,
    prepare=prepare,
    interval=interval,
    level=level,
    rate=rate,
    ways=(1, 8, 4),
)
