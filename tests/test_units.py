"""Units against published figures."""

import math

import pytest

from rigproof import units


@pytest.mark.parametrize(
    ("peak_v", "crest", "dbu"),
    [
        (5.0, math.sqrt(2), 13.187588),
        (5.0, 1.0, 16.197888),
        (5.0, math.sqrt(3), 11.426675),
        (1.095445, math.sqrt(2), 0.0),
    ],
)
def test_dbu(peak_v: float, crest: float, dbu: float) -> None:
    """Source: 0 dBu = sqrt(0.6) V rms, computed: a 5 V sine, square, triangle, and 0 dBu itself."""
    assert units.dbu_from_v_rms(peak_v / crest) == pytest.approx(dbu, abs=5e-6)
    assert units.v_rms_from_dbu(dbu) == pytest.approx(peak_v / crest, rel=1e-6)


def test_dbv_lies_2_218487_db_below_dbu() -> None:
    """Source: 20 log10 of 1 V over sqrt(0.6) V, computed."""
    assert units.dbu_from_v_rms(1.0) - units.dbv_from_v_rms(1.0) == pytest.approx(
        2.218487, abs=5e-7
    )


@pytest.mark.parametrize(
    ("note", "hz"), [(0, 8.175799), (21, 27.5), (60, 261.625565), (69, 440.0), (127, 12543.853951)]
)
def test_equal_temperament(note: int, hz: float) -> None:
    """Source: ISO 16 (A4 = 440 Hz) and f = 440 * 2^((m - 69) / 12), computed."""
    assert units.hz_from_note(note) == pytest.approx(hz, abs=5e-7)


def test_one_volt_is_an_octave() -> None:
    assert units.hz_from_pitch_v(1.0) == pytest.approx(523.251131, abs=5e-7)
    assert units.cents_from_ratio(1.006) == pytest.approx(
        10.36, abs=5e-3
    )  # 0.6 % is 10.36 cents, computed


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("180 ms", "s", 0.18),
        ("180ms", "s", 0.18),
        ("2.5 kHz", "Hz", 2500.0),
        ("-12 dB", "dB", -12.0),
        ("50 %", "ratio", 0.5),
        ("0.3", "ratio", 0.3),
        ("1e-3", "s", 1e-3),
        ("7 cents", "semitones", 0.07),
        ("100 us", "s", 1e-4),
    ],
)
def test_quantities(text: str, unit: str, value: float) -> None:
    assert units.parse_quantity(text, unit) == value


@pytest.mark.parametrize(
    ("text", "unit"), [("fast", "s"), ("3 Hz", "s"), ("", "s"), ("1 2", "s"), ("3 MS", "s")]
)
def test_no_quantities(text: str, unit: str) -> None:
    with pytest.raises(ValueError, match="a quantity"):
        units.parse_quantity(text, unit)


@pytest.mark.parametrize("value", [0.18, 3e-5, 1.0, 12.0, 0.0])
def test_what_we_write_we_can_read(value: float) -> None:
    for unit in ("s", "Hz", "V", "ratio", "ohm"):
        assert units.parse_quantity(units.format_quantity(value, unit), unit) == pytest.approx(
            value, rel=1e-3
        )
