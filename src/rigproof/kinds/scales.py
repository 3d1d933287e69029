"""Scales and tunings by name, in cents above the root: what a quantiser can bring a voltage to.

Twelve-tone scales are pitch-class sets, just ones are ratios of whole numbers, the others are chains of fifths or equal
parts of an interval.

Source: pitch-class sets: A. Forte, The Structure of Atonal Music (1973), set classes 5-35, 6-35, 7-32, 7-34, 7-35
and 8-28 (from memory); just ratios: Ptolemy's syntonic diatonic 1/1 9/8 5/4 4/3 3/2 5/3 15/8 and the harmonic series
(definition); Pythagorean and quarter-comma meantone: chains of fifths of 3/2 and of the fourth root of 5, from E flat
to G sharp (definition); 13 equal parts of 3/1: H. Bohlen, 13 Tonstufen in der Duodezime, Acustica 39 (1978), 76-86
(from memory). Tests hold them against published cents.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rigproof.units import cents_from_ratio

OCTAVE_CENTS = 1200.0


@dataclass(frozen=True, slots=True)
class Scale:
    """Degrees above the root, the root first, and where they come again. [cents]"""

    name: str
    cents: tuple[float, ...]
    period_cents: float = OCTAVE_CENTS


def _semitones(name: str, *degrees: int) -> Scale:
    return Scale(name, tuple(100.0 * degree for degree in degrees))


def _ratios(name: str, *ratios: str) -> Scale:
    return Scale(name, tuple(cents_from_ratio(float(Fraction(ratio))) for ratio in ratios))


def _equal(name: str, parts: int, of_ratio: float = 2.0) -> Scale:
    period_cents = cents_from_ratio(of_ratio)
    return Scale(name, tuple(period_cents * part / parts for part in range(parts)), period_cents)


def _fifths(name: str, fifth_cents: float, downwards: int = 3, upwards: int = 8) -> Scale:
    chain = (fifth_cents * place % OCTAVE_CENTS for place in range(-downwards, upwards + 1))
    return Scale(name, tuple(sorted(chain)))


SCALES: tuple[Scale, ...] = (
    _semitones("chromatic", *range(12)),
    _semitones("octaves", 0),
    _semitones("fifths", 0, 7),
    _semitones("major-triad", 0, 4, 7),
    _semitones("minor-triad", 0, 3, 7),
    _semitones("major", 0, 2, 4, 5, 7, 9, 11),
    _semitones("dorian", 0, 2, 3, 5, 7, 9, 10),
    _semitones("phrygian", 0, 1, 3, 5, 7, 8, 10),
    _semitones("lydian", 0, 2, 4, 6, 7, 9, 11),
    _semitones("mixolydian", 0, 2, 4, 5, 7, 9, 10),
    _semitones("minor", 0, 2, 3, 5, 7, 8, 10),
    _semitones("locrian", 0, 1, 3, 5, 6, 8, 10),
    _semitones("harmonic-minor", 0, 2, 3, 5, 7, 8, 11),
    _semitones("melodic-minor", 0, 2, 3, 5, 7, 9, 11),
    _semitones("major-pentatonic", 0, 2, 4, 7, 9),
    _semitones("minor-pentatonic", 0, 3, 5, 7, 10),
    _semitones("blues", 0, 3, 5, 6, 7, 10),
    _semitones("whole-tone", 0, 2, 4, 6, 8, 10),
    _semitones("octatonic", 0, 1, 3, 4, 6, 7, 9, 10),
    _ratios("just-major", "1", "9/8", "5/4", "4/3", "3/2", "5/3", "15/8"),
    _ratios("just-minor", "1", "9/8", "6/5", "4/3", "3/2", "8/5", "9/5"),
    _ratios("harmonics-8-to-16", *(f"{n}/8" for n in range(8, 16))),
    _fifths("pythagorean", cents_from_ratio(1.5)),
    _fifths("meantone", cents_from_ratio(5.0**0.25)),
    _equal("19-equal", 19),
    _equal("24-equal", 24),
    _equal("31-equal", 31),
    _equal("13-equal-of-3", 13, 3.0),
)

USER = "user"
SCALE_NAMES = (*(scale.name for scale in SCALES), USER)


def user_scale(cents: Sequence[float]) -> Scale:
    """Return the scale of a written list: cents above the root, rising; the last is where it comes again.

    >>> user_scale((300.0, 700.0, 1200.0)).cents
    (0.0, 300.0, 700.0)
    """
    if not cents:
        return SCALES[0]
    return Scale(USER, (0.0, *cents[:-1]), cents[-1])
