"""`volts` and `trace`: against figures worked out by hand, and the simulation against the proof."""

import math
from pathlib import Path

import pytest

from rigproof.cli.screen import BAD_INPUT, FINE
from tests.cli.conftest import Call
from tests.cli.rigs import PATCH, write_rig

NODE = 100_000 / 101_000
"""1 kohm into 100 kohm: V = E R / (R + r). Source: Ohm's law (Horowitz & Hill, 3rd ed., ch. 1)."""


def jack_of(answer_data: dict[str, list[dict[str, object]]], name: str) -> dict[str, object]:
    return next(j for j in answer_data["jacks"] if j["jack"] == name)


def test_volts_on_paper(call: Call, bench: Path) -> None:
    answer = call("volts", bench)
    assert answer.code == FINE
    assert answer.out == (
        "Volts · bench                                                            4 jacks\n"
        "────────────────────────────────────────────────────────────────────────────────\n"
        "jack             proved V   usual        heard after\n"
        "────────────────────────────────────────────────────\n"
        "voice.sine   →      ±2.97   1.40 V rms          0 ms\n"
        "desk.left    ←      ±2.97   1.40 V rms          0 ms\n"
        "voice.saw    →      ±3.71   1.14 V rms          0 ms\n"
        "desk.right   ←      ±3.71   1.14 V rms          0 ms\n"
        "────────────────────────────────────────────────────────────────────────────────\n"
        "4 open jacks left out; --all shows them\n"
    )


def test_volts_for_programs_are_those_worked_out_by_hand(call: Call, bench: Path) -> None:
    """The set takes the level to 3 V, the patch leaves it at 2 V."""
    data = call("volts", bench, "--json").data
    assert (data["format"], data["seconds"], len(data["jacks"])) == (1, None, 4)
    sine = jack_of(data, "desk.left")
    assert sine["proved_v"] == pytest.approx([-3 * NODE, 3 * NODE])
    usual = sine["usual"]
    assert isinstance(usual, dict)
    assert usual["rms_v"] == pytest.approx(2 * NODE / math.sqrt(2))
    assert sine["seen_v"] is None
    assert (sine["way"], sine["signal"], sine["is_plugged"]) == ("in", "audio", True)


def test_volts_filters_and_open_jacks(call: Call, bench: Path) -> None:
    def names(*words: str) -> list[str]:
        return [j["jack"] for j in call("volts", bench, "--json", *words).data["jacks"]]

    assert names("--all") == [
        "time.run", "time.beat", "time.bar", "voice.pitch", "voice.sine", "desk.left",
        "voice.saw", "desk.right",
    ]  # fmt: skip
    assert names("--module", "desk") == ["desk.left", "desk.right"]
    assert names("--jack", "time.beat", "--jack", "voice.saw") == ["time.beat", "voice.saw"]
    assert "4 a quarter" in call("volts", bench, "--jack", "time.beat").out


def test_what_a_simulation_sees_lies_inside_what_is_proved(call: Call, bench: Path) -> None:
    """Eight seconds are the whole set: the level ends at 3 V, and a 1 kHz sine's peak is a sample at 48 kHz."""
    answer = call("volts", bench, "--seconds", 8, "--json")
    for jack in answer.data["jacks"]:
        assert jack["is_inside"] is True
    sine = jack_of(answer.data, "desk.left")
    seen = sine["seen_v"]
    assert isinstance(seen, list)
    assert seen == pytest.approx([-3 * NODE, 3 * NODE], rel=2e-3)
    assert "8 s simulated; all inside what is proved" in " ".join(
        call("volts", bench, "--seconds", 8).out.split()
    )


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "1e9"])
def test_no_time_and_too_much_time_are_refused(call: Call, bench: Path, seconds: str) -> None:
    answer = call("volts", bench, "--seconds", seconds)
    assert answer.code == BAD_INPUT
    assert "--seconds" in answer.err


def test_trace_on_paper(call: Call, bench: Path) -> None:
    """Level 2 of 5: 20 log10(2/5) = -7.96 dB; 1.40 V rms is +5.1 dBu."""
    answer = call("trace", "voice.level", "--in", bench)
    assert answer.code == FINE
    lines = answer.out.splitlines()
    assert lines[0].startswith("voice.level at 2 ")
    assert "└ desk.left (cable)       ±1.98   +5.1 dBu, -8.0 dB    0 ms" in lines
    assert "└ desk.left (in)                  peak -6.9 dBFS       0 ms" in lines
    assert lines[-1] == "heard after 0 ms"


def test_trace_at_another_value(call: Call, bench: Path) -> None:
    data = call("trace", "voice.level", "--at", "5", "--in", bench, "--json").data
    assert (data["start"], data["at"], data["cc"]) == ("voice.level", 5.0, None)
    end = next(h for h in data["hops"] if h["name"] == "desk.left" and h["place"] == "input")
    assert end["change_db"] == pytest.approx(0.0)
    assert end["usual"]["rms_v"] == pytest.approx(5 * NODE / math.sqrt(2))
    parents = [h["parent"] for h in data["hops"]]
    assert parents[0] is None
    assert all(p < i for i, p in enumerate(parents) if p is not None)


def test_what_is_not_heard_is_said_so(call: Call, bench: Path) -> None:
    assert call("trace", "time.beat", "--in", bench).out.endswith("not heard at the way out\n")


def test_a_value_goes_with_a_control_only(call: Call, bench: Path) -> None:
    answer = call("trace", "time.beat", "--at", 3, "--in", bench)
    assert answer.code == BAD_INPUT
    assert "--at" in answer.err


@pytest.mark.parametrize("at", ["nan", "inf", "-1", "5.1"])
def test_a_place_where_the_control_cannot_stand_is_refused(
    call: Call, bench: Path, at: str
) -> None:
    answer = call("trace", "voice.level", "--at", at, "--in", bench)
    assert answer.code == BAD_INPUT
    assert answer.err == (
        f"--at cannot be that\n         found  {float(at):g}\n      expected  0 to 5\n"
    )


def test_a_patch_without_cables_reads_too(call: Call, tmp_path: Path) -> None:
    folder = write_rig(tmp_path, patch=PATCH.partition("cables")[0])
    assert call("volts", folder).code == FINE
    assert len(call("volts", folder, "--all", "--json").data["jacks"]) == 8
