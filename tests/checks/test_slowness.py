"""Control voltages among sounds: which are too slow to be heard, which are sound by another name, which only steer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigproof.checks import Bench
from rigproof.checks.slowness import LOWEST_HZ, Slowness
from rigproof.engine.render import render
from rigproof.model.edits import SetControl, apply_edits
from rigproof.model.project import Project
from rigproof.model.sheet import Control, ControlShape, Sheet, Signal
from rigproof.net.flatten import flatten
from tests.checks import rigs
from tests.checks.ask import findings, only
from tests.checks.cases import slow_in_mix

NAME = "cv-on-the-sound-path"
RATE_HZ = 48_000.0


def heard(*cables: tuple[str, str], **sheets: Sheet) -> Project:
    """A mixer that goes to the desk, and what else is given."""
    return rigs.project(
        {"mix": rigs.mixer(), "desk": rigs.interface(), **sheets},
        [*cables, ("mix.out", "desk.in-1")],
    )


def blocked(project: Project) -> Project:
    """The same with capacitors at the desk."""
    desk = project.sheets["desk"]
    jacks = {name: replace(jack, is_ac_coupled=True) for name, jack in desk.jacks.items()}
    return replace(project, sheets={**project.sheets, "desk": replace(desk, jacks=jacks)})


def ringing() -> Sheet:
    """A filter with an audio input."""
    return rigs.sheet(
        "filter",
        [
            rigs.jack_in("in", "filter.in", range_v=(-11.0, 11.0)),
            rigs.jack_out("out", "filter.low"),
        ],
        {"filter": ("state-variable-filter", {})},
    )


def noisy() -> Sheet:
    """White noise, on a jack for control voltages."""
    return rigs.sheet(
        "noise", [rigs.jack_out("out", "noise.white", Signal.CV)], {"noise": ("noise", {})}
    )


def test_a_slow_wave_into_a_mixer_is_told_with_its_volts() -> None:
    """5 V either way behind 1 kohm into 100 kohm: 100/101 of it."""
    found = only(NAME, slow_in_mix(1.0))
    assert found.at == "mix.in-2"
    assert found.evidence["high_v"] == pytest.approx(5.0 * 100.0 / 101.0)
    assert found.evidence["dc_v"] == pytest.approx(0.0, abs=1e-9)
    assert "capacitor" not in found.message


def test_a_voltage_that_stands_is_not_told_as_a_swing() -> None:
    """1 V behind 1 kohm into 100 kohm, and a wave through a gain of 0."""
    steady = only(NAME, heard(("steady.out", "mix.in-1"), steady=rigs.steady(1.0)))
    assert "gives mix.in-1 a voltage that stands at 0.99 V as the patch starts as" in steady.message
    shut = rigs.project(
        {
            "lfo": rigs.lfo(),
            "trim": rigs.attenuverter(),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [("lfo.sine", "trim.in"), ("trim.out", "mix.in-1"), ("mix.out", "desk.in-1")],
        settings={"trim.gain": -0.0},
    )
    assert "stands at 0 V as the patch starts" in only(NAME, shut).message
    assert "a slow voltage of -4.95 to 4.95 V as" in only(NAME, slow_in_mix(1.0)).message


def test_behind_a_capacitor_it_says_so() -> None:
    assert "by way of a capacitor" in only(NAME, blocked(slow_in_mix(1.0))).message


def test_a_steady_voltage_and_a_pitch_are_slow() -> None:
    for signal in (Signal.CV, Signal.PITCH):
        project = heard(("steady.out", "mix.in-1"), steady=rigs.steady(1.0, signal))
        assert only(NAME, project).evidence["dc_v"] == pytest.approx(100.0 / 101.0)


@pytest.mark.parametrize("signal", [Signal.AUDIO, Signal.GATE, Signal.TRIGGER])
def test_what_calls_itself_something_else_is_left_alone(signal: Signal) -> None:
    assert not findings(NAME, heard(("steady.out", "mix.in-1"), steady=rigs.steady(1.0, signal)))


def test_sound_on_a_jack_for_control_voltages_is_sound() -> None:
    """Noise from a control jack; and a voice through an attenuverter, whose output says it is for control."""
    assert not findings(NAME, heard(("noise.out", "mix.in-1"), noise=noisy()))
    project = heard(
        ("voice.sine", "trim.in"),
        ("trim.out", "mix.in-1"),
        voice=rigs.voice(),
        trim=rigs.attenuverter(),
    )
    assert not findings(NAME, project)


def test_slow_through_an_attenuverter_is_slow() -> None:
    project = heard(
        ("lfo.sine", "trim.in"), ("trim.out", "mix.in-1"), lfo=rigs.lfo(), trim=rigs.attenuverter()
    )
    assert only(NAME, project).at == "mix.in-1"


def test_an_envelope_through_an_amplifier_to_a_control_input_steers() -> None:
    """The amplifier's audio input takes an envelope; what comes out opens a second amplifier, and is not heard."""
    cables = [
        ("clock.out-1", "env.gate"),
        ("env.cv", "vca-1.in"),
        ("lfo.sine", "vca-1.cv"),
        ("vca-1.out", "vca-2.cv"),
        ("voice.sine", "vca-2.in"),
        ("vca-2.out", "mix.in-1"),
    ]
    sheets = {
        "clock": rigs.clock((1, 1)),
        "env": rigs.envelope(),
        "lfo": rigs.lfo(),
        "vca-1": rigs.vca("vca-1"),
        "vca-2": rigs.vca("vca-2"),
        "voice": rigs.voice(),
    }
    assert not findings(NAME, heard(*cables, **sheets))
    leaked = heard(*cables, ("vca-1.out", "mix.in-2"), **sheets)
    assert {f.at for f in findings(NAME, leaked)} == {"vca-1.in"}


def low_share(project: Project) -> float:
    """The share of the power at the desk that lies below 20 Hz, played for two seconds and transformed whole."""
    net = flatten(project, rate_hz=RATE_HZ)
    (played_v,) = render(net, 2.0, probes=[net.contact("desk.in-1").row])
    power = np.abs(np.fft.rfft(played_v)) ** 2
    hz = np.fft.rfftfreq(len(played_v), 1.0 / RATE_HZ)
    return float(power[hz < LOWEST_HZ].sum() / power.sum())


def test_what_is_called_slow_is_slow_in_the_sound_and_what_is_not_is_not() -> None:
    """A second, independent computation: the sound itself, whose power is told apart at 20 Hz."""
    alone = heard(("lfo.sine", "mix.in-1"), lfo=rigs.lfo())
    assert low_share(alone) > 0.999
    assert findings(NAME, alone)
    multiplied = heard(
        ("lfo.sine", "vca.in"),
        ("voice.sine", "vca.cv"),
        ("vca.out", "mix.in-1"),
        lfo=rigs.lfo(),
        voice=rigs.voice(),
        vca=rigs.vca(),
    )
    assert low_share(multiplied) < 0.5
    assert not findings(NAME, multiplied)


@pytest.mark.parametrize(("rate_hz", "is_slow"), [(2.0, True), (50.0, False)])
def test_a_random_voltage_is_as_fast_as_its_clock(rate_hz: float, is_slow: bool) -> None:
    dice = rigs.sheet(
        "dice",
        [rigs.jack_out("out", "dice.stepped", Signal.CV)],
        {"dice": ("random-voltage", {"rate": rate_hz})},
    )
    bench = Bench.of(heard(("dice.out", "mix.in-1"), dice=dice))
    assert Slowness(bench).is_slow(bench.net.contacts["dice.out"].row) is is_slow


def test_what_strikes_a_filter_may_be_a_drum_and_a_wave_is_none() -> None:
    struck = heard(
        ("clock.out-1", "env.gate"),
        ("env.cv", "filter.in"),
        ("filter.out", "mix.in-1"),
        clock=rigs.clock((1, 1)),
        env=rigs.envelope(),
        filter=ringing(),
    )
    assert not findings(NAME, struck)
    waved = heard(
        ("lfo.sine", "filter.in"), ("filter.out", "mix.in-1"), lfo=rigs.lfo(), filter=ringing()
    )
    assert only(NAME, waved).at == "filter.in"


@pytest.mark.parametrize(("per_quarter", "is_slow"), [(4, True), (24, False)])
def test_an_envelope_is_as_fast_as_what_fires_it(per_quarter: int, is_slow: bool) -> None:
    """At 120 bpm a quarter note takes half a second: 4 pulses in it are 8 Hz, 24 are 48 Hz."""
    project = heard(
        ("clock.out-1", "env.gate"),
        ("env.cv", "mix.in-1"),
        clock=rigs.clock((per_quarter, 1)),
        env=rigs.envelope(),
    )
    bench = Bench.of(project)
    assert Slowness(bench).is_slow(bench.net.contacts["env.cv"].row) is is_slow


def test_an_envelope_that_starts_itself_is_not_judged() -> None:
    plain = rigs.envelope()
    loop = Control("loop", ControlShape.SWITCH, choices=("off", "on"), sets=("env.loop",))
    project = heard(("env.cv", "mix.in-1"), env=replace(plain, controls={"loop": loop}))
    assert only(NAME, project).at == "mix.in-1"
    assert not findings(NAME, apply_edits(project, [SetControl("env.loop", "on")]))


def test_what_ends_before_the_room_is_no_sound() -> None:
    project = rigs.project(
        {"lfo": rigs.lfo(), "mix": rigs.mixer(), "desk": rigs.interface()},
        [("lfo.sine", "mix.in-1")],
    )
    assert not findings(NAME, project)
