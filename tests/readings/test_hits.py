"""What dies away is as high as its hits: told peaks against rendered ones, where the RMS is small for the peak."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.model.sheet import Signal
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.over_set import usual_peak_v
from rigproof.readings.proof import read
from rigproof.units import db_from_ratio
from tests.readings.fader_rig import fader_net
from tests.small_rigs import jack_in, jack_out, project, sheet

BELOW_DB = 0.05
"""A told peak may lie this far below the rendered one."""
RINGING_DB = 1.431
"""The same for a wave with a jump, which rings over its corners: Gibbs, 8.949 % of the jump and so 1.17898 of the peak
(G. B. Arfken and H. J. Weber, Mathematical Methods for Physicists, ch. 14). Ringing is not told."""
ABOVE_DB = 3.0
"""And this far above: the wave need not be at its top when the hit is."""

PULSES = sheet(
    "pulses",
    {"c": {"kind": "clock"}},
    [jack_out("quarter", "c.out-1", Signal.CLOCK)],
)
VOICE = sheet(
    "voice",
    {
        "o": {"kind": "oscillator", "tune": 220.0},
        "e": {"kind": "ad-envelope", "attack": 0.002, "decay": 0.2},
        "v": {"kind": "vca"},
    },
    [
        jack_in("gate", "e.gate", signal=Signal.TRIGGER),
        jack_in("in", "v.in"),
        *(jack_out(wave, f"o.{wave}", resistance_ohm=1e-3) for wave in ("saw", "sine", "pulse")),
        jack_out("out", "v.out", resistance_ohm=1e-3),
    ],
    {"tune": ("o.tune", 20.0, 2_000.0, 220.0, "Hz")},
    wires=[("e.cv", "v.cv")],
)
TRIPLE = sheet(
    "triple",
    {"mix": {"kind": "mixer", "ways": 3}},
    [*(jack_in(f"in-{i}", f"mix.in-{i}") for i in (1, 2, 3)), jack_out("out", "mix.out")],
)
DRUMS = ("kick-drum", "snare-drum", "clap", "sample-voice")


def drum(kind: str) -> Net:
    """A drum that is hit on every quarter."""
    output = "left" if kind == "sample-voice" else "out"
    hit = sheet(
        "drum",
        {"d": {"kind": kind}},
        [
            jack_in("trigger", "d.trigger", signal=Signal.TRIGGER),
            jack_out("out", f"d.{output}", resistance_ohm=1e-3),
        ],
    )
    return flatten(project({"pulses": PULSES, "drum": hit}, [("pulses.quarter", "drum.trigger")]))


def thud() -> NDArray[np.float64]:
    """A full-scale 60 Hz decay, as a sample."""
    t = np.arange(24_000) / 48_000.0
    wave = np.sin(2.0 * np.pi * 60.0 * t) * np.exp(-t / 0.05)
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float64)[:, None]


def told_over_rendered_db(net: Net, row: int) -> float:
    """By how much the told peak lies above the rendered one."""
    sounds: dict[str, Sequence[NDArray[np.float64]]] = {
        s.name: [thud()] for s in net.sections if s.kind.name == "sample-voice"
    }
    player = Player(schedule(net, sounds=sounds), [row], [])
    seen = np.concatenate(list(player.chunks(4.0)), axis=1)[0]
    return db_from_ratio(usual_peak_v(read(net).level[row]) / float(np.abs(seen).max()))


@pytest.mark.parametrize("wave", ["saw", "sine", "pulse"])
def test_an_envelope_on_an_amplifier_is_as_high_as_its_peak(wave: str) -> None:
    net = flatten(
        project(
            {"pulses": PULSES, "voice": VOICE},
            [("pulses.quarter", "voice.gate"), (f"voice.{wave}", "voice.in")],
        )
    )
    row = net.contact("voice.out").row
    level = read(net).level[row]
    assert level.peak_v > 4.0 * level.rms_v or wave == "pulse"  # or the RMS alone would do
    below_db = BELOW_DB if wave == "sine" else RINGING_DB
    assert -below_db <= told_over_rendered_db(net, row) <= ABOVE_DB


@pytest.mark.parametrize("kind", DRUMS)
def test_a_drum_is_as_high_as_its_hit(kind: str) -> None:
    net = drum(kind)
    assert -BELOW_DB <= told_over_rendered_db(net, net.contact("drum.out").row) <= ABOVE_DB


@pytest.mark.parametrize(("voices", "most_below_db"), [(2, 3.2), (3, 6.0)])
def test_what_is_left_out_where_equal_voices_hit_on_one_beat(
    voices: int, most_below_db: float
) -> None:
    """Sines an octave apart, 5 V each, at the top of their hits together: nearly 5 V times their number.

    Told are 5 V and twice the RMS of the others.
    """
    names = [f"voice-{i}" for i in range(voices)]
    net = flatten(
        project(
            {"pulses": PULSES, "sum": TRIPLE, **dict.fromkeys(names, VOICE)},
            [
                ("pulses.quarter", f"{names[0]}.gate"),
                *((f"{a}.gate", f"{b}.gate") for a, b in pairwise(names)),
                *((f"{name}.sine", f"{name}.in") for name in names),
                *((f"{name}.out", f"sum.in-{i}") for i, name in enumerate(names, start=1)),
            ],
            {f"{name}.tune": 220.0 * 2**i for i, name in enumerate(names)},
        )
    )
    row = net.section("sum.mix").outs[0]
    level = read(net).level[row]
    others_v = read(net).at("voice-0.out").level.rms_v * math.sqrt(voices - 1)
    assert usual_peak_v(level) == pytest.approx(
        max(5.0 + 2.0 * others_v, 4.0 * level.rms_v), rel=1e-3
    )
    assert -most_below_db <= told_over_rendered_db(net, row) <= -1.0


def test_a_fader_that_opens_an_amplifier_makes_no_hit() -> None:
    """It stands where it stands, as far as it may go."""
    net = fader_net(faders__f5=0.5)
    assert read(net).headroom[0].level.hit_v == 0.0
