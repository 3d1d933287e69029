"""Samples at the engine's rate: pitch, level, purity and length of a sine, and each file resampled once."""

import numpy as np
import pytest

from rigproof.engine import sounds as room
from rigproof.engine.sounds import at_rate, sounds_of_sections
from rigproof.model.project import Sound
from rigproof.units import db_from_ratio


def sine(hz: float, rate_hz: float, seconds: float = 1.0, channels: int = 1) -> Sound:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return Sound("s", rate_hz, np.tile(0.5 * np.sin(2 * np.pi * hz * t)[:, None], (1, channels)))


def test_at_the_same_rate_nothing_changes() -> None:
    sound = sine(440.0, 48_000.0)
    assert at_rate(sound, 48_000.0).tobytes() == sound.data.tobytes()


@pytest.mark.parametrize(
    ("hz", "rate_hz"),
    [
        *(
            (hz, rate)
            for rate in (44_100.0, 96_000.0)
            for hz in (100.0, 1_000.0, 10_000.0, 18_000.0)
        ),
        *((hz, 22_050.0) for hz in (100.0, 1_000.0, 10_000.0)),
    ],
)
def test_a_sine_keeps_pitch_phase_level_and_purity(hz: float, rate_hz: float) -> None:
    """Oracle: the same sine written down at the new rate: its level to 0.01 dB, all else 100 dB below it.

    The ends, where a sine begins and stops, are left out. 10 kHz is 0.907 of half of 22.05 kHz.
    """
    got = at_rate(sine(hz, rate_hz), 48_000.0)[:, 0]
    wanted = sine(hz, 48_000.0).data[:, 0]
    assert len(got) == len(wanted)
    middle = slice(4_800, -4_800)
    gain = float(np.dot(got[middle], wanted[middle]) / np.dot(wanted[middle], wanted[middle]))
    assert abs(db_from_ratio(gain)) < 0.01
    error = np.abs(got[middle] - gain * wanted[middle]).max()
    assert db_from_ratio(float(error) / 0.5) < -100.0


def test_what_the_lower_rate_cannot_hold_does_not_fold_down() -> None:
    got = at_rate(sine(30_000.0, 96_000.0), 48_000.0)[4_800:-4_800, 0]
    assert db_from_ratio(float(np.abs(got).max()) / 0.5) < -100.0


def test_channels_stay_and_silence_stays_empty() -> None:
    assert at_rate(sine(440.0, 44_100.0, 0.1, channels=2), 48_000.0).shape == (4_800, 2)
    assert at_rate(Sound("empty", 44_100.0, np.zeros((0, 2))), 48_000.0).shape == (0, 2)


def test_each_section_gets_its_files_in_order_and_each_is_resampled_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[str] = []

    def count(sound: Sound, rate_hz: float) -> object:
        made.append(sound.name)
        return (sound.name, rate_hz)

    monkeypatch.setattr(room, "at_rate", count)
    sounds = {name: Sound(name, 44_100.0, None) for name in ("a", "b")}
    found = sounds_of_sections({"x.bank": ("b", "a", "b"), "y.bank": ("a",)}, sounds, 48_000.0)
    assert found == {
        "x.bank": (("b", 48_000.0), ("a", 48_000.0), ("b", 48_000.0)),
        "y.bank": (("a", 48_000.0),),
    }
    assert sorted(made) == ["a", "b"]
