"""Units and the laws between them. Inside rigproof all is volts, seconds, hertz and milliamps.

Sources: 0 dBu = sqrt(0.6) V, 0 dBV = 1 V (1 mW in 600 ohm, line-level practice); equal temperament with A4 = 440 Hz
(ISO 16) and MIDI note 69 = A4; 1 V/octave by definition.
"""

from __future__ import annotations

import math
import re

DBU_REFERENCE_V = math.sqrt(0.6)
"""RMS voltage of 0 dBu: 1 mW in 600 ohm. [V]"""

A4_HZ = 440.0
C4_HZ = A4_HZ * 2.0 ** (-9 / 12)
"""Middle C, MIDI note 60, in equal temperament. [Hz]"""


def db_from_ratio(voltage_ratio: float) -> float:
    """Return 20 log10 of a voltage ratio; minus infinity at zero or below. [dB]"""
    return 20.0 * math.log10(voltage_ratio) if voltage_ratio > 0.0 else -math.inf


def ratio_from_db(gain_db: float) -> float:
    """Return the voltage ratio of a gain in dB."""
    return float(10.0 ** (gain_db / 20.0))


def dbu_from_v_rms(level_v_rms: float) -> float:
    """Return the level in dBu of an RMS voltage.

    >>> round(dbu_from_v_rms(5 / math.sqrt(2)), 6)
    13.187588
    """
    return db_from_ratio(level_v_rms / DBU_REFERENCE_V)


def v_rms_from_dbu(level_dbu: float) -> float:
    """Return the RMS voltage of a level in dBu. [V]"""
    return DBU_REFERENCE_V * ratio_from_db(level_dbu)


def dbv_from_v_rms(level_v_rms: float) -> float:
    """Return the level in dBV of an RMS voltage."""
    return db_from_ratio(level_v_rms)


def hz_from_note(note: float) -> float:
    """Return the frequency of a MIDI note number, 69 being A4. [Hz]"""
    return float(A4_HZ * 2.0 ** ((note - 69.0) / 12.0))


def hz_from_pitch_v(pitch_v: float, *, at_zero_hz: float = C4_HZ) -> float:
    """Return the frequency of a 1 V/octave voltage, `at_zero_hz` at 0 V. [Hz]"""
    return float(at_zero_hz * 2.0**pitch_v)


def cents_from_ratio(frequency_ratio: float) -> float:
    """Return an interval in cents, 1200 to the octave."""
    return 1200.0 * math.log2(frequency_ratio)


def quarter_s(tempo_bpm: float) -> float:
    """Return the length of a quarter note. [s]"""
    return 60.0 / tempo_bpm


UNITS: dict[str, tuple[str, float]] = {
    # written -> (unit inside, factor)
    "s": ("s", 1.0),
    "ms": ("s", 1e-3),
    "us": ("s", 1e-6),
    "min": ("s", 60.0),
    "Hz": ("Hz", 1.0),
    "kHz": ("Hz", 1e3),
    "V": ("V", 1.0),
    "mV": ("V", 1e-3),
    "mA": ("mA", 1.0),
    "A": ("mA", 1e3),
    "ohm": ("ohm", 1.0),
    "kohm": ("ohm", 1e3),
    "Mohm": ("ohm", 1e6),
    "dB": ("dB", 1.0),
    "dBu": ("dBu", 1.0),
    "%": ("ratio", 1e-2),
    "bpm": ("bpm", 1.0),
    "cents": ("semitones", 1e-2),
    "semitones": ("semitones", 1.0),
    "octaves": ("octaves", 1.0),
    "mm": ("mm", 1.0),
    "cm": ("mm", 10.0),
    "beats": ("beats", 1.0),
    "steps": ("steps", 1.0),
    "V/octave": ("V/octave", 1.0),
}
"""Every unit a performer may write, the unit we keep inside, and the factor between them. Common practice."""

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s].*)?\s*")


def parse_quantity(text: str, unit: str) -> float:
    """Return the number that `text` stands for, in the inside unit `unit`.

    Raises `ValueError` with a sentence for the performer when it is no number or has the wrong unit.

    >>> parse_quantity("180 ms", "s")
    0.18
    """
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError(f"a quantity such as {example_quantity(unit)}")
    number, written = float(match[1]), (match[2] or "").strip()
    if not written:
        return number
    inside, factor = UNITS.get(written, ("", 0.0))
    if inside != unit:
        raise ValueError(f"a quantity in {' or '.join(written_units(unit)) or 'no unit'}")
    # Dividing by an exact power of ten rounds once, so that '180 ms' is 0.18 and not 0.18000000000000002.
    return number / round(1.0 / factor) if factor < 1.0 else number * factor


def written_units(unit: str) -> list[str]:
    """Return the ways to write the inside unit `unit`."""
    return [name for name, (inside, _) in UNITS.items() if inside == unit]


def example_quantity(unit: str) -> str:
    """Return an example of a quantity in the unit, for error messages."""
    if unit == "ratio":
        return "0.5 or '50 %'"
    written = written_units(unit)
    return f"'1 {written[0]}'" if written else "0.5"


def format_quantity(value: float, unit: str) -> str:
    """Return a value and its unit as a person would write it.

    >>> format_quantity(0.18, "s")
    '180 ms'
    """
    if unit == "s" and value != 0.0 and abs(value) < 1.0:
        return f"{value * 1e3:.4g} ms" if abs(value) >= 1e-3 else f"{value * 1e6:.4g} us"
    if unit == "Hz" and abs(value) >= 1000.0:
        return f"{value / 1e3:.4g} kHz"
    if unit == "V" and value != 0.0 and abs(value) < 0.1:
        return f"{value * 1e3:.4g} mV"
    if unit == "ohm" and abs(value) >= 1000.0:
        return f"{value / 1e3:.4g} kohm"
    return f"{value:.4g} {unit}" if unit and unit != "ratio" else f"{value:.4g}"


def plural(count: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun.

    >>> plural(1, "cable"), plural(2, "switch", "switches")
    ('1 cable', '2 switches')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"
