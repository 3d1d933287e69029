"""The quantiser to 0.1 cent against published tunings, its notes against a search, hysteresis, triggers, readings."""

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest

from rigproof.kinds.base import Beat, Level, Pulse, Span
from rigproof.kinds.quantiser import KIND, ROOTS, check_cents
from rigproof.kinds.scales import SCALE_NAMES, SCALES, USER, user_scale
from tests.kinds.running import Floats, play, pulses, rises, setting_of

BY_NAME = {scale.name: scale for scale in SCALES}


def notes_v(in_v: Floats, *, cents: tuple[float, ...] = (), **values: float) -> dict[str, Floats]:
    return play(
        KIND, setting_of(KIND, values=values, options={"cents": cents}), len(in_v), {"in": in_v}
    )


# Source: cents of just ratios and of the tunings as printed in reference works on intonation (from memory; each follows
# from 1200 log2 of the ratio, of the fourth root of 5, or of the Nth root of the period).
PUBLISHED_CENTS = {
    "just-major": (0.0, 203.910, 386.314, 498.045, 701.955, 884.359, 1088.269),
    "just-minor": (0.0, 203.910, 315.641, 498.045, 701.955, 813.686, 1017.596),
    "harmonics-8-to-16": (0.0, 203.910, 386.314, 551.318, 701.955, 840.528, 968.826, 1088.269),
    "pythagorean": (
        0.0, 113.685, 203.910, 294.135, 407.820, 498.045,
        611.730, 701.955, 815.640, 905.865, 996.090, 1109.775,
    ),
    "meantone": (
        0.0, 76.049, 193.157, 310.265, 386.314, 503.422,
        579.471, 696.578, 772.627, 889.735, 1006.843, 1082.892,
    ),
    "13-equal-of-3": tuple(146.304 * n for n in range(13)),
    "19-equal": tuple(63.1579 * n for n in range(19)),
    "31-equal": tuple(38.7097 * n for n in range(31)),
}  # fmt: skip


@pytest.mark.parametrize("name", PUBLISHED_CENTS)
def test_tunings_are_the_published_ones_to_a_tenth_of_a_cent(name: str) -> None:
    """What comes out for an input on each published note, two octaves down to two up."""
    scale = BY_NAME[name]
    published = np.array(PUBLISHED_CENTS[name])
    assert len(published) == len(scale.cents)
    for octave in (-2, -1, 0, 1, 2):
        wanted_v = (published + octave * scale.period_cents) / 1200.0
        out_v = notes_v(np.repeat(wanted_v, 4), scale=float(SCALE_NAMES.index(name)))["out"][3::4]
        assert np.abs(out_v - wanted_v).max() * 1200.0 < 0.01


def prime_form(semitones: tuple[int, ...]) -> tuple[int, ...]:
    """The most compact order of a pitch-class set or its mirror image, from 0."""
    found = []
    for pitches in (semitones, tuple(-p for p in semitones)):
        ring = sorted(p % 12 for p in pitches)
        for turn in range(len(ring)):
            turned = [(p - ring[turn]) % 12 for p in ring[turn:] + ring[:turn]]
            found.append((turned[-1], tuple(turned)))
    return min(found)[1]


# Source: A. Forte, The Structure of Atonal Music (1973), appendix 1, prime forms (from memory).
FORTE = {
    (0, 1, 3, 5, 6, 8, 10): (  # 7-35
        "major", "dorian", "phrygian", "lydian", "mixolydian", "minor", "locrian",
    ),
    (0, 1, 3, 4, 6, 8, 9): ("harmonic-minor",),  # 7-32
    (0, 1, 3, 4, 6, 8, 10): ("melodic-minor",),  # 7-34
    (0, 2, 4, 7, 9): ("major-pentatonic", "minor-pentatonic"),  # 5-35
    (0, 2, 4, 6, 8, 10): ("whole-tone",),  # 6-35
    (0, 1, 3, 4, 6, 7, 9, 10): ("octatonic",),  # 8-28
    (0, 3, 7): ("major-triad", "minor-triad"),  # 3-11
}  # fmt: skip


@pytest.mark.parametrize("prime", FORTE)
def test_scales_are_the_published_pitch_class_sets(prime: tuple[int, ...]) -> None:
    for name in FORTE[prime]:
        assert prime_form(tuple(round(c / 100.0) for c in BY_NAME[name].cents)) == prime


def test_modes_are_the_major_scale_from_each_of_its_degrees() -> None:
    """Source: definition of the modes, from the first degree of major to the seventh."""
    major = [round(c / 100.0) for c in BY_NAME["major"].cents]
    names = ("major", "dorian", "phrygian", "lydian", "mixolydian", "minor", "locrian")
    for degree, name in enumerate(names):
        turned = sorted((note - major[degree]) % 12 for note in major)
        assert turned == [round(c / 100.0) for c in BY_NAME[name].cents]


@pytest.mark.parametrize("name", SCALE_NAMES)
@pytest.mark.parametrize("root", [0, 7])
def test_the_note_is_the_nearest_of_all(name: str, root: int) -> None:
    """Against a search through every note within 12 V; no hysteresis."""
    cents = (131.0, 400.0, 1111.0, 1700.0)
    scale = user_scale(cents) if name == USER else BY_NAME[name]
    rows = range(-16, 17)
    every_v = np.array(
        [root / 12.0 + (c + row * scale.period_cents) / 1200.0 for row in rows for c in scale.cents]
    )
    in_v = np.random.default_rng(3).uniform(-10.0, 10.0, 400)
    got_v = notes_v(
        in_v,
        cents=cents,
        scale=float(SCALE_NAMES.index(name)),
        root=float(root),
        hysteresis=0.0,
    )["out"]
    best_v = np.abs(every_v[:, None] - in_v).min(axis=0)
    np.testing.assert_allclose(np.abs(got_v - in_v), best_v, atol=1e-9)
    assert max(np.abs(every_v - v).min() for v in got_v) < 1e-9


def test_a_noisy_voltage_between_two_notes_trills_only_without_hysteresis() -> None:
    in_v = 0.5 / 12.0 + np.random.default_rng(3).uniform(-0.004, 0.004, 4800)  # +- 5 cents
    assert len(np.flatnonzero(np.diff(notes_v(in_v)["out"]))) <= 1
    assert len(np.flatnonzero(np.diff(notes_v(in_v, hysteresis=0.0)["out"]))) > 100


def test_hysteresis_moves_the_edges_by_as_much_as_told() -> None:
    up_v = np.linspace(0.0, 1.0 / 12.0, 12_001)  # a cent is 120 samples
    out_v = notes_v(np.concatenate([up_v, up_v[::-1]]), hysteresis=0.1)["out"]
    up, down = np.flatnonzero(np.diff(out_v))
    assert up / 120.0 == pytest.approx(60.0, abs=0.02)
    assert (24_001 - down) / 120.0 == pytest.approx(40.0, abs=0.02)


def test_a_change_gives_a_trigger_on_its_sample_and_power_on_none() -> None:
    in_v = np.repeat([0.5, 0.52, 0.75, 0.0], 1200)
    out = notes_v(in_v, scale=float(SCALE_NAMES.index("chromatic")))
    assert rises(out["change"]) == [2400, 3600]
    assert (out["change"] > 0).sum() == 480


def test_triggered_it_chooses_at_the_sample_of_the_rise_and_holds() -> None:
    in_v = np.linspace(0.0, 2.0, 9600)
    places = [1000, 4001, 9000]
    setting = setting_of(KIND, values={"mode": 1.0})
    out = play(KIND, setting, 9600, {"in": in_v, "trigger": pulses(places, 9600)})
    expected = np.zeros(9600)
    for place in places:
        expected[place:] = round(in_v[place] * 12.0) / 12.0
    np.testing.assert_allclose(out["out"], expected, atol=1e-12)
    assert rises(out["change"]) == places


def test_another_scale_is_heard_at_once() -> None:
    setting = setting_of(KIND, values={"scale": float(SCALE_NAMES.index("chromatic"))})
    in_v = np.full(128, 1.0 / 12.0)
    steps = [0.0, float(SCALE_NAMES.index("octaves")), float(SCALE_NAMES.index("octaves"))]
    steps[0] = steps[1]
    state = np.asarray(KIND.prepare(setting))
    before = play(KIND, setting, 64, {"in": in_v}, state=state)["out"]
    after = play(KIND, setting, 64, {"in": in_v}, glides={"scale": steps}, state=state)["out"]
    assert before[-1] == pytest.approx(1.0 / 12.0)
    assert (after == 0.0).all()


@pytest.mark.parametrize(
    "value",
    [(0.0, 1200.0), (300.0, 200.0), (100.0, 2500.0), (True,), ("a",), 5, (math.nan,), (0.01,)],
)
def test_lists_that_are_no_scale_are_refused(value: object) -> None:
    assert check_cents(value) is not None  # type: ignore[arg-type]


def test_lists_that_are_a_scale_are_taken() -> None:
    assert check_cents(()) is None
    assert check_cents((203.9, 386.3, 702, 1200)) is None
    assert user_scale(()) is SCALES[0]


def test_the_interval_ends_on_notes() -> None:
    major = {"scale": float(SCALE_NAMES.index("major"))}
    told = KIND.interval([Span(0.1, 0.95), Span(0.0, 0.0)], setting_of(KIND, values=major))
    assert told[0].lo == pytest.approx(2.0 / 12.0)  # 0.1 V is 1.2 semitones: d, not c
    assert told[0].hi == pytest.approx(11.0 / 12.0)
    steady = KIND.interval([Span(0.1, 0.12), Span(0.0, 0.0)], setting_of(KIND, values=major))
    assert steady[0].is_point
    assert steady[1] == Span.point(0.0)
    held = KIND.interval([Span(1.0, 2.0), Span(0.0, 0.5)], setting_of(KIND, values={"mode": 1.0}))
    assert held == [Span.point(0.0), Span.point(0.0)]


def test_level_and_rate() -> None:
    setting = setting_of(KIND)
    assert KIND.level([Level.steady(0.26), Level()], setting)[0] == Level.steady(0.25)
    assert KIND.level([Level.swing(1.0, crest_ratio=2.0), Level()], setting)[0].rms_v == 0.5
    told = KIND.rate([Pulse(), Pulse()], setting_of(KIND, values={"mode": 1.0}))
    assert told is not None
    assert told[1].beat is Beat.NONE
    told = KIND.rate([Pulse(), Pulse.steady(Fraction(4))], setting)
    assert told is not None
    assert [p.beat for p in told] == [Beat.NONE, Beat.IRREGULAR]


def test_names_of_roots_and_scales_are_their_own() -> None:
    assert len(ROOTS) == 12
    for a, b in itertools.combinations(SCALES, 2):
        assert (a.cents, a.period_cents) != (b.cents, b.period_cents), (a.name, b.name)


def test_half_way_between_two_notes_either_may_come() -> None:
    """0 V in the whole tones from C sharp, with notes a semitone below and above: the interval holds both."""
    whole_tone = float(SCALE_NAMES.index("whole-tone"))
    setting = setting_of(KIND, values={"scale": whole_tone, "root": 1.0})
    notes = KIND.interval([Span.point(0.0), Span.point(0.0)], setting)[0]
    assert notes.lo == pytest.approx(-1 / 12)
    assert notes.hi == pytest.approx(1 / 12)
