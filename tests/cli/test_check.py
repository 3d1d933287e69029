"""`check`: the proof on paper and as data. The snapshots have been looked at line by line."""

import json
from pathlib import Path

import jsonschema
import pytest

from rigproof.cli.app import run
from rigproof.cli.screen import BAD_INPUT, FINE, SHOW_STOPPED
from tests.cli.conftest import Call
from tests.cli.rigs import PATCH, RIG, SET, write_rig

PAPER = """\
Test bench · bench                                                       120 bpm
────────────────────────────────────────────────────────────────────────────────
rig      2 modules · 1 thing beside the case · 2 cables
set      Two halves · 8.0 s · 2 sections
case     row 1  ━━━━━━━━━───────────────  16 of 42 HP  26 free
power    +12V  ━━━━────────────────────  90 of 500 mA  82 % free
         -12V  ━━──────────────────────  40 of 500 mA  92 % free
way out  desk.left   usual +5.1 dBu  peak -6.9 dBFS  6.9 dB headroom
         desk.right  usual +3.4 dBu  peak -6.9 dBFS  6.9 dB headroom
loudest  desk.left   bar 2 of loud  peak -3.3 dBFS  3.3 dB headroom
         desk.right  bar 2 of loud  peak -3.3 dBFS  3.3 dB headroom
repeats  after 1 bar, 2.0 s
────────────────────────────────────────────────────────────────────────────────
"""
"""By hand: 6 + 10 HP; 30 + 60 mA; a 2 V sine behind 1 kohm into 100 kohm is 1.40 V rms, +5.1 dBu; its 1.98 V peak
against 4.36 V at +12 dBu is -6.9 dB; the set brings it to 3 V, 2.97 V or -3.3 dB, by bar 2 of its second half; a bar
at 120 bpm takes 2 s."""
OVERLOADED = RIG.replace('"+12V" = 500', '"+12V" = 80')
NUMBER = {"type": ["number", "null"]}
TEXT = {"type": ["string", "null"]}
SHAPE = {
    "type": "object",
    "required": ["format", "command", "survey", "counts", "findings", "verdict", "heard", "changes"],
    "additionalProperties": False,
    "properties": {
        "format": {"const": 1},
        "command": {"const": "check"},
        "survey": {
            "type": "object",
            "required": [
                "rig", "patch", "set", "tempo_bpm", "modules", "outside", "cables", "maps", "rows",
                "rails", "way_out", "loudest", "clocks", "cycle", "length_s", "sections",
            ],
            "properties": {
                "rails": {
                    "items": {
                        "required": ["rail", "given_ma", "drawn_ma", "free_ratio"],
                        "properties": {"given_ma": {"type": "number"}},
                    }
                },
                "way_out": {"items": {"properties": {"typical_dbfs": NUMBER}}},
                "loudest": {
                    "items": {
                        "required": ["at", "section", "bar", "at_s", "peak_dbfs", "headroom_db"],
                    }
                },
                "clocks": {"items": {"required": ["name", "parent", "beat", "per_quarter"]}},
            },
        },
        "counts": {
            "type": "object",
            "required": ["stops-the-show", "hurts", "worth-knowing"],
            "additionalProperties": {"type": "integer", "minimum": 0},
        },
        "findings": {
            "type": "array",
            "items": {
                "type": "object",
                "additionalProperties": False,
                "required": [
                    "finding", "severity", "at", "message", "evidence", "fix", "declined", "file",
                    "line", "key",
                ],
                "properties": {
                    "finding": {"type": "string", "pattern": "^[a-z0-9-]+$"},
                    "severity": {"enum": ["stops-the-show", "hurts", "worth-knowing"]},
                    "at": {"type": "string"},
                    "message": {"type": "string"},
                    "evidence": {"type": "object", "additionalProperties": NUMBER},
                    "fix": {
                        "type": ["object", "null"],
                        "required": ["words", "is_safe"],
                    },
                    "declined": TEXT,
                    "file": TEXT,
                    "line": {"type": ["integer", "null"]},
                    "key": TEXT,
                },
            },
        },
        "verdict": {"type": "string"},
        "heard": {"type": ["object", "null"]},
        "changes": {
            "type": ["array", "null"],
            "items": {
                "type": "object",
                "additionalProperties": False,
                "required": ["finding", "at", "words", "is_safe", "is_made", "refused", "diffs"],
                "properties": {
                    "is_safe": {"type": "boolean"},
                    "is_made": {"type": "boolean"},
                    "refused": TEXT,
                    "diffs": {"type": "object", "additionalProperties": {"type": "string"}},
                },
            },
        },
    },
}  # fmt: skip
"""The documented shape, format 1; docs/commands.md tells it in words."""


def test_a_good_rig_on_paper(call: Call, bench: Path) -> None:
    answer = call("check", bench)
    assert answer.code == FINE
    assert answer.out == PAPER + "Nothing here would stop the show.\n"
    assert answer.err == ""


def test_the_current_folder_is_the_default(
    call: Call, bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(bench)
    assert call("check").out.startswith(PAPER)


def test_a_patch_file_is_as_good_as_its_folder(call: Call, bench: Path) -> None:
    assert call("check", bench / "bench.patch.toml").out.startswith(PAPER)


def test_a_show_stopper_is_told_with_place_numbers_and_fix(call: Call, tmp_path: Path) -> None:
    """90 mA drawn of 80."""
    answer = call("check", write_rig(tmp_path, rig=OVERLOADED))
    assert answer.code == SHOW_STOPPED
    told = answer.out.partition("headroom\n")[2] or answer.out
    assert "✕ stops the show\n  rail-overloaded\n    +12V  rig.toml line 6, supply\n" in told
    assert "90 mA" in told
    assert "80 mA" in told
    assert "fix " in told
    assert "90 of 80 mA" in answer.out
    assert "▶" in answer.out  # the bar runs over
    assert told.splitlines()[-2].startswith("This rig would stop the show: 1 would stop it")


def test_a_declined_finding_stops_no_show(call: Call, tmp_path: Path) -> None:
    declined = '[[declined]]\nfinding = "rail-overloaded"\nat = "+12V"\nreason = "old figure"\n'
    answer = call("check", write_rig(tmp_path, rig=OVERLOADED, patch=PATCH + declined))
    assert answer.code == FINE
    assert "rail-overloaded at +12V: old figure" in answer.out
    assert "1 declined" in answer.out


@pytest.mark.parametrize("rig", [RIG, OVERLOADED], ids=["good", "overloaded"])
def test_for_programs(call: Call, tmp_path: Path, rig: str) -> None:
    answer = call("check", write_rig(tmp_path, rig=rig), "--json")
    jsonschema.validate(answer.data, SHAPE)
    counts = answer.data["counts"]
    assert answer.code == (SHOW_STOPPED if counts["stops-the-show"] else FINE)
    assert sum(counts.values()) == len(answer.data["findings"])
    assert (counts["stops-the-show"] > 0) == (rig is OVERLOADED)
    survey = answer.data["survey"]
    assert survey["cycle"] == {"quarters": "4", "bars": "1", "repeats": survey["cycle"]["repeats"]}
    assert [s["start_s"] for s in survey["sections"]] == [0.0, 4.0]
    assert survey["rows"] == [{"row": 1, "hp": 42, "used_hp": 16, "free_hp": 26}]


def test_every_error_of_a_load_at_once(call: Call, tmp_path: Path) -> None:
    """A shape error in each of two files and a wrong name in a third."""
    folder = write_rig(
        tmp_path,
        rig=RIG.replace("hp = 42", 'hp = "wide"'),
        patch=PATCH.replace('"voice.sine"', '"voice.sqare"').replace('"voice.tune"', '"voice.tun"'),
        set=SET.replace("bars = 2", "bars = -2", 1),
    )
    answer = call("check", folder)
    assert answer.code == BAD_INPUT
    assert answer.out == ""
    for place in ("rig.toml line 5", "bench.patch.toml line 5", "bench.set.toml line 8"):
        assert place in answer.err, answer.err
    assert "'tune'" in answer.err
    data = call("check", folder, "--json").data
    assert len(data["errors"]) == 4
    assert {e["file"] for e in data["errors"]} == {
        "rig.toml", "bench.patch.toml", "bench.set.toml",
    }  # fmt: skip
    assert all(e["line"] for e in data["errors"])


def test_names_from_files_cannot_command_the_terminal(call: Call, tmp_path: Path) -> None:
    rig = RIG.replace('"Test bench"', '"[bold]Te\\u009bst\\u001b[2J"')
    answer = call("check", write_rig(tmp_path, rig=rig))
    assert "\x1b" not in answer.out + answer.err
    assert "\x9b" not in answer.out + answer.err


@pytest.mark.parametrize("columns", [40, 60, 100])
def test_lines_keep_to_the_width(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    answer = call("check", write_rig(tmp_path, rig=OVERLOADED))
    assert max(len(line) for line in answer.out.splitlines()) <= columns


@pytest.mark.parametrize(("columns", "like"), [("0", "80"), ("10", "40"), ("9999", "110")])
def test_no_width_leaves_anything_out(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, columns: str, like: str
) -> None:
    folder = write_rig(tmp_path, rig=OVERLOADED)
    monkeypatch.setenv("COLUMNS", columns)
    said = call("check", folder).out
    monkeypatch.setenv("COLUMNS", like)
    assert "rail-overloaded" in said
    assert said == call("check", folder).out


def test_colour_only_where_a_terminal_wants_it(
    bench: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """NO_COLOR asks for no colour; bold and dim may stay."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")

    def said() -> str:
        capsys.readouterr()
        run(["check", str(bench)])
        return capsys.readouterr().out

    assert "\x1b" not in said()
    monkeypatch.setenv("FORCE_COLOR", "1")
    coloured = said()
    assert "\x1b[38;2;58;149;207m" in coloured  # the accent
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[38" not in said()


def test_a_rig_without_a_patch_can_be_proved(call: Call, bench: Path) -> None:
    (bench / "bench.patch.toml").unlink()
    (bench / "bench.set.toml").unlink()
    answer = call("check", bench)
    assert answer.code == FINE
    assert "rig      2 modules" in answer.out


def test_several_patches_must_be_told_apart(call: Call, bench: Path) -> None:
    (bench / "bench.patch.toml").rename(bench / "one.patch.toml")
    (bench / "two.patch.toml").write_text(PATCH)
    answer = call("check", bench)
    assert answer.code == BAD_INPUT
    assert "one.patch.toml" in answer.err
    assert call("check", bench / "two.patch.toml").code == FINE


# --- what was heard --------------------------------------------------------------------------------------------------


def test_what_was_heard_stands_in_the_proof(call: Call, bench: Path) -> None:
    """The set begins at 1 V, behind 1 kohm into 100 kohm -12.88 dBFS of 4.36 V. The saw's corners ring over by at most
    8.95 % of its jump of 2 V once it is band-limited (the Gibbs phenomenon), +1.43 dB.
    """
    heard = call("check", str(bench), "--seconds", "1", "--json").data["heard"]
    assert heard["seconds"] == 1.0
    assert -12.88 - 0.02 < heard["true_peak_dbtp"] < -12.88 + 1.43
    assert call("check", str(bench), "--json").data["heard"] is None
    assert "heard    1.0 s of" in call("check", str(bench), "--seconds", "1").out


# --- SARIF -----------------------------------------------------------------------------------------------------------

MESSAGE = {"type": "object", "required": ["text"], "properties": {"text": {"type": "string"}}}
SARIF = {
    "type": "object",
    "required": ["version", "runs"],
    "properties": {
        "version": {"const": "2.1.0"},
        "runs": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["tool", "results"],
                "properties": {
                    "tool": {
                        "type": "object",
                        "required": ["driver"],
                        "properties": {
                            "driver": {
                                "type": "object",
                                "required": ["name"],
                                "properties": {
                                    "rules": {
                                        "type": "array",
                                        "uniqueItems": True,
                                        "items": {
                                            "type": "object",
                                            "required": ["id"],
                                            "properties": {"shortDescription": MESSAGE},
                                        },
                                    }
                                },
                            }
                        },
                    },
                    "results": {
                        "type": "array",
                        "items": {
                            "type": "object",
                            "required": ["message"],
                            "properties": {
                                "message": MESSAGE,
                                "level": {"enum": ["none", "note", "warning", "error"]},
                                "ruleIndex": {"type": "integer", "minimum": -1},
                                "suppressions": {
                                    "type": "array",
                                    "items": {
                                        "type": "object",
                                        "required": ["kind"],
                                        "properties": {"kind": {"enum": ["inSource", "external"]}},
                                    },
                                },
                                "locations": {
                                    "type": "array",
                                    "items": {
                                        "type": "object",
                                        "properties": {
                                            "physicalLocation": {
                                                "type": "object",
                                                "required": ["artifactLocation"],
                                                "properties": {
                                                    "region": {
                                                        "properties": {
                                                            "startLine": {
                                                                "type": "integer",
                                                                "minimum": 1,
                                                            }
                                                        }
                                                    }
                                                },
                                            }
                                        },
                                    },
                                },
                            },
                        },
                    },
                },
            },
        },
    },
}
"""What SARIF 2.1.0 (OASIS Standard, 27 March 2020) requires of the parts that are used: 3.13.2 version, 3.13.4 runs,
3.14.6 tool, 3.14.23 results, 3.18.2 driver, 3.19.8 name, 3.19.23 rules, 3.49.3 id, 3.11 message, 3.27.10 level, 3.29.3
artifact location, 3.30.5 start line, 3.35.2 kind of suppression."""


def test_findings_as_sarif(call: Call, tmp_path: Path) -> None:
    folder = write_rig(tmp_path / "hot", rig=OVERLOADED)
    answer = call("check", str(folder), "--sarif", "-")
    assert answer.code == SHOW_STOPPED
    log = answer.data
    jsonschema.validate(log, SARIF)
    (run_,) = log["runs"]
    rules = run_["tool"]["driver"]["rules"]
    for result in run_["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    (over,) = [r for r in run_["results"] if r["ruleId"] == "rail-overloaded"]
    assert over["level"] == "error"
    place = over["locations"][0]["physicalLocation"]
    base = run_["originalUriBaseIds"][place["artifactLocation"]["uriBaseId"]]["uri"]
    assert base == folder.resolve().as_uri() + "/"
    file = folder / place["artifactLocation"]["uri"]
    assert file.read_text("utf-8").splitlines()[place["region"]["startLine"] - 1] == "[supply]"


def test_what_is_declined_is_suppressed(call: Call, tmp_path: Path) -> None:
    declined = (
        '\n[[declined]]\nfinding = "rail-overloaded"\nat = "+12V"\nreason = "a second case"\n'
    )
    folder = write_rig(tmp_path / "hot", rig=OVERLOADED, patch=PATCH + declined)
    target = tmp_path / "findings.sarif"
    answer = call("check", str(folder), "--sarif", str(target))
    assert answer.code == FINE
    log = json.loads(target.read_text("utf-8"))
    jsonschema.validate(log, SARIF)
    (over,) = [r for r in log["runs"][0]["results"] if r["ruleId"] == "rail-overloaded"]
    assert over["suppressions"] == [{"kind": "inSource", "justification": "a second case"}]


def test_two_answers_in_one_are_refused(call: Call, bench: Path) -> None:
    assert call("check", str(bench), "--sarif", "-", "--json").code == BAD_INPUT
    assert call("check", str(bench), "--sarif", "nowhere/there.sarif").code == BAD_INPUT


def test_what_lies_in_a_library_sheet_is_told_of_the_projects_own_lines(
    call: Call, tmp_path: Path
) -> None:
    """Nobody can open or change the library's beside the project: the cable at the jack, else the module."""
    (tmp_path / "rig.toml").write_text(
        "format = 1\n"
        'name = "Two boxes"\n'
        "case = { rows = [{ hp = 60, depth_mm = 60 }] }\n"
        "supply = { rails_ma = { '+12V' = 900, '-12V' = 900, '+5V' = 900 } }\n"
        "[[module]]\n"
        'id = "clock"\nsheet = "clock-6"\nrow = 1\nhp = 0\n'
        "[[module]]\n"
        'id = "echo"\nsheet = "stereo-echo"\nrow = 1\nhp = 8\n',
        "utf-8",
    )
    (tmp_path / "two.patch.toml").write_text(
        "format = 1\n"
        "cables = [\n"
        '  { from = "clock.quarter", to = "echo.clock" },\n'
        "]\n"
        'settings = { "echo.feedback" = 1.05 }\n',
        "utf-8",
    )
    answer = call("check", tmp_path, "--json")
    places = {f["finding"]: (f["file"], f["line"]) for f in answer.data["findings"]}
    assert places["clock-rate-unexpected"] == ("two.patch.toml", 3)
    assert places["echo-never-fades"] == ("rig.toml", 10)
    assert places["needed-input-open"] == ("rig.toml", 10)
