"""The demo's samples are what their script makes, small, and in the key they claim."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

import rigproof.demo
from rigproof.demo.make_samples import CHORDS, HORNS, RATE_HZ, SAMPLES, SHIP_BELLS, Floats
from rigproof.units import cents_from_ratio, hz_from_note

FOLDER = Path(rigproof.demo.__file__).parent / "lowtide" / "samples"
ONE_STEP = 1.0 / 32_768
"""Sines are rounded by the machine's own library, which may turn the last bit of 16."""
D_MINOR = {2, 4, 5, 7, 9, 10, 0}
"""D E F G A B flat C as semitones above C: the natural minor scale on D (any book of harmony)."""


def strongest_hz(x: Floats, near_hz: float) -> float:
    """Return where the spectrum is highest within a semitone of a frequency, by a parabola through three bins."""
    size = 1 << 18
    spectrum = np.abs(np.fft.rfft(x * np.hanning(len(x)), size))
    hz_a_bin = RATE_HZ / size
    lo, hi = (int(near_hz * 2.0 ** (s / 12.0) / hz_a_bin) for s in (-1.0, 1.0))
    k = lo + int(np.argmax(spectrum[lo:hi]))
    a, b, c = np.log(spectrum[k - 1 : k + 2])
    return float((k + 0.5 * (a - c) / (a - 2.0 * b + c)) * hz_a_bin)


def test_every_sample_has_its_file_and_no_other_lies_there() -> None:
    assert {f"{name}.flac" for name in SAMPLES} == {path.name for path in FOLDER.iterdir()}
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 4_000_000


@pytest.mark.parametrize("name", SAMPLES)
def test_the_script_makes_the_file_again(name: str) -> None:
    kept, rate_hz = soundfile.read(FOLDER / f"{name}.flac", always_2d=True)
    made = SAMPLES[name]()
    assert rate_hz == RATE_HZ
    assert kept.shape == made.shape
    assert np.max(np.abs(kept - made)) <= 1.5 * ONE_STEP


@pytest.mark.parametrize("name", SAMPLES)
def test_a_sample_starts_and_ends_at_rest_without_clipping_or_dc(name: str) -> None:
    kept, _ = soundfile.read(FOLDER / f"{name}.flac", always_2d=True)
    assert 0.7 < np.max(np.abs(kept)) < 1.0
    assert np.max(np.abs(kept[[0, -1]])) <= ONE_STEP
    assert abs(np.mean(kept)) < 0.002  # -54 dB: what a short thump keeps below 20 Hz


@pytest.mark.parametrize("name", SHIP_BELLS)
def test_a_bell_rings_at_its_strike_note_and_its_third_lies_in_the_scale(name: str) -> None:
    """Source: equal temperament, A4 = 440 Hz (ISO 16)."""
    note, third = SHIP_BELLS[name]
    kept, _ = soundfile.read(FOLDER / f"{name}.flac", always_2d=True)
    strike_hz = strongest_hz(kept.mean(1), hz_from_note(note))
    assert abs(cents_from_ratio(strike_hz / hz_from_note(note))) < 3.0
    heard_third = note + round(cents_from_ratio(third) / 100.0)
    assert {note % 12, heard_third % 12} <= D_MINOR


def test_chords_and_horns_stay_in_the_scale() -> None:
    notes = [n for chord, _ in CHORDS.values() for n in chord]
    notes += [n for blasts in HORNS.values() for n, _ in blasts]
    assert {n % 12 for n in notes} <= D_MINOR


def test_the_low_drum_settles_on_its_note() -> None:
    """Source: equal temperament: A1 is 55 Hz. The last of it is measured, when the fall in pitch is over."""
    kept, _ = soundfile.read(FOLDER / "thud.flac", always_2d=True)
    tail = kept[int(0.35 * RATE_HZ) :, 0]
    assert (
        abs(cents_from_ratio(strongest_hz(tail, 55.0) / 55.0)) < 60.0
    )  # still half a semitone high
