"""Delay readings of a real echo against its sound: where the echo comes, and where two paths cancel."""

from __future__ import annotations

import numpy as np
import pytest

from rigproof.engine.render import Player, render
from rigproof.engine.schedule import schedule
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.delay import between
from rigproof.readings.proof import read
from tests.readings.fader_rig import OSCILLATOR
from tests.small_rigs import ADDER, jack_in, jack_out, project, sheet

RATE_HZ = 48_000
ECHO = sheet(
    "echo",
    {
        "e": {
            "kind": "stereo-delay",
            "sync": 1,
            "mix": 1.0,
            "feedback": 0.0,
            "tone": 20_000.0,
        }
    },
    [
        jack_in("left", "e.left"),
        jack_out("left-out", "e.left", resistance_ohm=1e-3),
    ],
    {"time": ("e.time", 0.001, 20.0, 0.375, "s")},
)
CLICK = sheet(
    "click",
    {"c": {"kind": "clock", "ways": 1, "times-1": 1, "over-1": 4, "width": 1e-4}},
    [jack_out("out", "c.out-1", Signal.CLOCK, resistance_ohm=1e-3)],
)


@pytest.mark.parametrize("time_s", [0.001, 0.0125, 0.1])
def test_an_echo_comes_when_it_is_read_to_come(time_s: float) -> None:
    """From the rise of a click to the rise of its echo, by threshold, to two samples."""
    net = flatten(
        project({"click": CLICK, "echo": ECHO}, [("click.out", "echo.left")], {"echo.time": time_s})
    )
    source, target = net.section("click.c").outs[0], net.section("echo.e").outs[0]
    readings = read(net)
    found = between(readings.paths, source, target)
    assert found is not None
    assert found.lo_s == found.hi_s == pytest.approx(time_s, abs=1 / RATE_HZ)
    click, echo = render(net, 0.3, probes=[source, target])
    first, second = (
        int(np.argmax(np.abs(v) > 0.5 * np.abs(v[: RATE_HZ // 4]).max())) for v in (click, echo)
    )
    assert (second - first) / RATE_HZ == pytest.approx(found.lo_s, abs=2 / RATE_HZ)


def parallel(tune_hz: float) -> Net:
    """A sine on its own way and through 1 ms of delay, added."""
    return flatten(
        project(
            {"osc": OSCILLATOR, "echo": ECHO, "sum": ADDER},
            [("osc.sine", "sum.in-1"), ("osc.sine", "echo.left"), ("echo.left-out", "sum.in-2")],
            {"echo.time": 0.001, "osc.tune": tune_hz},
        )
    )


def test_two_paths_cancel_at_the_first_notch() -> None:
    """1 ms: 500 Hz cancels, 1000 Hz doubles (+6.020600 dB): 1/(2 dt) and 1/dt, from the sum of the two paths."""
    net = parallel(500.0)
    (difference,) = read(net).differences
    assert difference.first_notch_hz == pytest.approx(500.0, rel=0.01)
    rms_v = {}
    for tune_hz in (500.0, 1000.0):
        there = parallel(tune_hz)
        row = there.section("sum.mix").outs[0]
        rms_v[tune_hz] = float(render(there, 0.5, probes=[row])[0, RATE_HZ // 4 :].std())
    assert rms_v[1000.0] == pytest.approx(2 * 5.0 / np.sqrt(2.0), rel=0.03)
    assert rms_v[500.0] < 0.03 * rms_v[1000.0]  # more than 30 dB down


CLOCKS = sheet(
    "clocks",
    {
        "fast": {"kind": "clock", "ways": 1, "times-1": 16, "over-1": 1, "width": 1e-3},
        "right": {"kind": "clock", "ways": 1, "times-1": 4, "over-1": 1, "width": 1e-3},
        "slow": {"kind": "clock", "ways": 1, "times-1": 1, "over-1": 1, "width": 1e-3},
        "free": {"kind": "lfo", "rate": 5.0},
        "click": {"kind": "clock", "ways": 1, "times-1": 1, "over-1": 16, "width": 1e-4},
    },
    [
        *(jack_out(name, f"{name}.out-1", Signal.CLOCK) for name in ("fast", "right", "slow")),
        jack_out("free", "free.square", Signal.CLOCK),
        jack_out("click", "click.out-1", Signal.CLOCK),
    ],
)
LOCKED = {
    "stereo-delay": {"feedback": 0.0, "beats-left": 2, "mix": 1.0, "tone": 20_000.0},
    "multi-tap-echo": {"feedback": 0.0, "step": 2, "mix": 1.0, "tone": 20_000.0, "ways": 1},
}
QUARTER_S = 0.5
"""At 120 beats a minute."""


@pytest.mark.parametrize(
    ("clock", "sixteenth_s"),
    [
        (None, QUARTER_S / 4),  # the tempo of the patch
        ("right", QUARTER_S / 4),
        ("slow", QUARTER_S),  # a quarter comes for every sixteenth that is expected
        ("fast", QUARTER_S / 16),
        ("free", 1 / 5.0),
    ],
)
@pytest.mark.parametrize("kind", LOCKED)
def test_an_echo_goes_by_the_clock_that_arrives(
    kind: str, clock: str | None, sixteenth_s: float
) -> None:
    """Four pulses a quarter are expected; the echo of a click comes as late as it is read to, by threshold."""
    source_port = "left" if kind == "stereo-delay" else "in"
    echo = sheet(
        "echo",
        {"e": {"kind": kind, **LOCKED[kind]}},
        [
            jack_in("in", f"e.{source_port}"),
            jack_in("clock", "e.clock", signal=Signal.CLOCK),
            jack_out("out", "e.left"),
        ],
    )
    cables = [("clocks.click", "echo.in")]
    if clock is not None:
        cables.append((f"clocks.{clock}", "echo.clock"))
    net = flatten(project({"clocks": CLOCKS, "echo": echo}, cables, tempo_bpm=120.0))
    section = net.section("echo.e")
    rows = [section.input_row(source_port), section.outs[0]]
    found = between(read(net).paths, *rows)
    assert found is not None
    assert found.hi_s == pytest.approx(sixteenth_s, abs=2 / RATE_HZ)
    seen = np.concatenate(list(Player(schedule(net, wanted=rows), rows, []).chunks(10.0)), axis=1)
    late = seen[
        :, 7 * RATE_HZ :
    ]  # the second click comes at 8 s, when any clock has long been measured
    click, heard = (int(np.argmax(np.abs(v) > 0.3 * np.abs(v).max())) for v in late)
    assert (heard - click) / RATE_HZ == pytest.approx(found.hi_s, abs=3 / RATE_HZ)
