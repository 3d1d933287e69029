"""The guide is walked through as it is written: its files load, its commands run, and what it shows is what is said."""

import re
import shlex
from pathlib import Path

import pytest
import soundfile

from rigproof.cli.screen import BAD_INPUT, FINE
from tests.cli.conftest import Call

GUIDE = (Path(__file__).resolve().parents[2] / "docs" / "guide.md").read_text("utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", GUIDE, flags=re.DOTALL)
TOML = [text for sort, text in BLOCKS if sort == "toml"]
SHOWN = [text for sort, text in BLOCKS if sort == "text"]
COMMANDS = [line for sort, text in BLOCKS if sort == "sh" for line in text.splitlines()]


def test_the_guide_works_from_top_to_bottom(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rig, patch, cable, setlist = TOML
    first_check, second_check, misspelt = SHOWN
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "first"

    assert call("new", "first").code == FINE
    (folder / "first.set.toml").unlink()
    (folder / "rig.toml").write_text(rig, "utf-8")
    (folder / "first.patch.toml").write_text(patch, "utf-8")
    silent = call("check", "first")
    assert first_check in silent.out
    assert "the last sound on the way is\n      at vca.in-1." in silent.out
    assert "signal-ends-nowhere" in silent.out
    assert call("explain", "way-out-silent").code == FINE

    mended = patch.replace("cables = [\n", f"cables = [\n{cable}")
    (folder / "first.patch.toml").write_text(mended, "utf-8")
    proved = call("check", "first")
    assert proved.code == FINE
    assert second_check in proved.out

    for words in (["volts", "first"], ["trace", "env.decay-1", "--in", "first"]):
        assert call(*words).code == FINE
    assert call("render", "first", "--seconds", "10", "--stem", "vca.out-1").code == FINE
    assert soundfile.info("first.wav").duration == 10.0
    assert Path("first.vca.out-1.wav").is_file()

    (folder / "first.set.toml").write_text(setlist, "utf-8")
    assert call("check", "first").code == FINE
    whole = call("render", "first", "--json").data
    assert whole["seconds"] == pytest.approx(8 * 4 * 60 / 96)
    assert call("render", "first", "--section", "open", "--json").data["seconds"] == 10.0
    assert call("render", "first", "--from-bar", "6", "--json").data["seconds"] == 7.5

    wrong = mended.replace("clock.eighth", "clock.eigth").replace(cable, "")
    (folder / "first.patch.toml").write_text(wrong, "utf-8")
    refused = call("check", "first")
    assert refused.code == BAD_INPUT
    assert refused.err == misspelt


def test_every_command_in_the_guide_exists(call: Call) -> None:
    assert len(COMMANDS) >= 6
    for command in COMMANDS:
        name, *words = shlex.split(command)
        assert name == "rigproof"
        assert call(words[0], "--help").code == FINE
        usage = call(words[0], "--help").out
        for word in words:
            if word.startswith("--"):
                assert f"{word} " in usage
