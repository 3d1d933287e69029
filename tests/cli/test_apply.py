"""`check --apply` and `--decline`: what is shown, what is written, and that nothing is without being asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigproof.cli.screen import BAD_INPUT, SHOW_STOPPED
from rigproof.errors import FileError, Where
from rigproof.files import save_edits as saving
from rigproof.files.edit import save_text
from rigproof.files.load import load_project
from tests.cli.conftest import Answer, Call
from tests.faultbench.clean_rigs import write_small

DOUBLED = 'to = "vcas.cv-1", cm = 45 }, # opens the bass\n  { from = "env.env-1", to = "vcas.cv-1", cm = 45 },'


@pytest.fixture
def lanterns(tmp_path: Path) -> Path:
    """The small clean rig with three mistakes: a cable twice, one of 5 cm, an echo that never fades."""
    folder = write_small(tmp_path / "lanterns")
    patch = patch_of(folder)
    text = patch.read_text("utf-8")
    for old, new in (
        ('to = "vcas.cv-1", cm = 45 },', DOUBLED),
        ('"lead.pitch", cm = 45', '"lead.pitch", cm = 5'),
        ('"echo.feedback" = 0.4', '"echo.feedback" = 1.05  # long'),
    ):
        assert old in text
        text = text.replace(old, new)
    patch.write_text(text, "utf-8")
    return folder


def patch_of(folder: Path) -> Path:
    """The patch file."""
    return folder / "lanterns.patch.toml"


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder, whole."""
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


def changes(answer: Answer) -> dict[str, bool]:
    """The changes that an answer tells, and whether they were made."""
    return {c["finding"]: c["is_made"] for c in answer.data["changes"]}


def test_nothing_is_written_unasked(call: Call, lanterns: Path) -> None:
    before = contents(lanterns)
    assert call("check", lanterns, "--json").data["changes"] is None
    assert contents(lanterns) == before


def test_what_is_safe_is_made_and_the_rest_shown(call: Call, lanterns: Path) -> None:
    answer = call("check", lanterns, "--apply", "--json")
    assert changes(answer) == {
        "cable-too-short": True, "same-cable-twice": True, "echo-never-fades": False,
    }  # fmt: skip
    text = patch_of(lanterns).read_text("utf-8")
    assert text.count('{ from = "env.env-1", to = "vcas.cv-1"') == 1
    assert "# opens the bass" in text
    assert 'to = "lead.pitch", cm = 30 }' in text, "the box holds 15, 30, 45 and more cm"
    assert '"echo.feedback" = 1.05  # long' in text
    left = {f["finding"] for f in answer.data["findings"]}
    assert "echo-never-fades" in left
    assert not left & {"same-cable-twice", "cable-too-short"}
    shown = next(c for c in answer.data["changes"] if not c["is_made"])
    assert '-"echo.feedback" = 1.05  # long\n' in shown["diffs"]["lanterns.patch.toml"]


def test_a_second_time_there_is_nothing_safe_left(call: Call, lanterns: Path) -> None:
    call("check", lanterns, "--apply")
    before = contents(lanterns)
    answer = call("check", lanterns, "--apply")
    assert "nothing is changed; 1 more can be made by name" in answer.out
    assert contents(lanterns) == before


def test_the_named_one_is_made_and_no_other(call: Call, lanterns: Path) -> None:
    before = patch_of(lanterns).read_text("utf-8")
    answer = call("check", lanterns, "--apply", "echo-never-fades", "--json")
    assert changes(answer)["echo-never-fades"]
    assert not changes(answer)["same-cable-twice"]
    after = patch_of(lanterns).read_text("utf-8")
    assert after == before.replace("1.05  # long", "0.95  # long")


def patched(text: str, diff: str) -> str:
    """Apply a unified diff by hand: what stands in it as context or as taken away must be there."""
    lines, out, place = text.splitlines(), list[str](), 0
    for line in diff.splitlines()[2:]:
        if line.startswith("@@"):
            start = int(line.split()[1].partition(",")[0][1:]) - 1
            out += lines[place:start]
            place = start
        elif line.startswith("+"):
            out.append(line[1:])
        else:
            assert lines[place] == line[1:]
            out += [line[1:]] if line.startswith(" ") else []
            place += 1
    return "\n".join([*out, *lines[place:]]) + "\n"


def test_the_diffs_one_after_the_other_make_what_is_written(call: Call, lanterns: Path) -> None:
    text = patch_of(lanterns).read_text("utf-8")
    answer = call("check", lanterns, "--apply", "--json")
    made = [c for c in answer.data["changes"] if c["is_made"]]
    assert len(made) == 2
    for change in made:
        text = patched(text, change["diffs"]["lanterns.patch.toml"])
    assert text == patch_of(lanterns).read_text("utf-8")


def test_one_place_of_two(call: Call, lanterns: Path) -> None:
    text = patch_of(lanterns).read_text("utf-8")
    text = text.replace('"bass.pitch", cm = 45', '"bass.pitch", cm = 5')
    patch_of(lanterns).write_text(text, "utf-8")
    at = "notes.pitch to lead.pitch"
    call("check", lanterns, "--apply", "cable-too-short", "--at", at)
    text = patch_of(lanterns).read_text("utf-8")
    assert 'to = "lead.pitch", cm = 30 }' in text
    assert 'to = "bass.pitch", cm = 5 }' in text


def test_on_paper(call: Call, lanterns: Path) -> None:
    out = call("check", lanterns, "--apply").out
    assert "▶ made  same-cable-twice at env.env-1 to vcas.cv-1\n" in out
    assert '  -  { from = "env.env-1", to = "vcas.cv-1", cm = 45 },\n' in out
    assert "· not made  echo-never-fades at echo.echo\n  set echo.feedback to 0.95\n" in out
    says = f"rigproof check {lanterns} --apply NAME"
    assert f"2 changes made; 1 more can be made by name: {says}\n" in out
    assert out.index("changes made") < out.index("Two lanterns · lanterns")


def test_power_is_told_with_its_caution(call: Call, lanterns: Path) -> None:
    rig = lanterns / "rig.toml"
    rig.write_text(rig.read_text("utf-8").replace('"+12V" = 1500', '"+12V" = 100'), "utf-8")
    answer = call("check", lanterns, "--apply", "rail-overloaded")
    assert "Switch off and unplug" in answer.out.partition("Two lanterns")[0].replace("\n", " ")


def test_a_finding_is_declined(call: Call, lanterns: Path) -> None:
    words = ("--decline", "echo-never-fades", "--at", "echo.echo", "--reason", 'it is "the" drone')
    before = patch_of(lanterns).read_text("utf-8")
    answer = call("check", lanterns, *words)
    assert answer.code == SHOW_STOPPED, "a cable of 5 cm still does"
    loaded = load_project(lanterns).require_project()
    (declined,) = loaded.patch.declined
    assert (declined.finding, declined.at, declined.reason) == (
        "echo-never-fades", "echo.echo", 'it is "the" drone',
    )  # fmt: skip
    assert patch_of(lanterns).read_text("utf-8").startswith(before.rstrip())
    assert 'echo-never-fades at echo.echo: it is "the" drone' in answer.out
    again = call("check", lanterns, *words)
    assert again.code == BAD_INPUT
    assert "declined already" in again.err
    assert "declined already" in call("check", lanterns, "--apply", "echo-never-fades").err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--apply", "echo-never-fade"], "did you mean  'echo-never-fades'?"),
        (["--apply", "rail-overloaded"], "nothing is found under the name 'rail-overloaded'"),
        (["--apply", "input-overdriven"], "has no fix that can be computed"),
        (["--apply", "cable-too-short", "--at", "notes.pitch to lead.pich"], "did you mean"),
        (["--apply", "--at", "echo.echo"], "--at without a finding"),
        (["--apply", "--decline", "echo-never-fades"], "--apply and --decline at once"),
        (["--apply", "--seconds", "1"], "go by the files alone"),
        (["--decline", "echo-never-fades"], "--decline lacks something"),
        (["--decline", "echo-never-fades", "--at", "echo.echo", "--reason", " "], "says nothing"),
        (["--decline", "echo-never-fades", "--at", "ecko.echo", "--reason", "so"], "did you mean"),
        (["--decline", "echo", "--at", "echo.echo", "--reason", "so"], "no finding 'echo'"),
        (["--reason", "so"], "--reason without --decline"),
    ],
)
def test_what_makes_no_sense_writes_nothing(
    call: Call, lanterns: Path, words: list[str], told: str
) -> None:
    before = contents(lanterns)
    answer = call("check", lanterns, *words)
    assert answer.code == BAD_INPUT
    assert told in answer.err
    assert contents(lanterns) == before


def test_a_folder_behind_apply_is_told_from_a_finding(
    call: Call, lanterns: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(lanterns.parent)
    answer = call("check", "--apply", "lanterns")
    assert answer.code == BAD_INPUT
    assert "the project before --apply" in answer.err


def test_when_one_file_cannot_be_written_none_is(
    lanterns: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rig, patch = lanterns / "rig.toml", patch_of(lanterns)
    before = contents(lanterns)
    texts = {p: (p.read_text("utf-8"), p.read_text("utf-8") + "\n# more\n") for p in (rig, patch)}
    calls: list[Path] = []

    def failing(path: Path, text: str, folder: Path) -> None:
        calls.append(path)
        if path == patch:
            raise FileError(Where("patch"), "the disk is full")
        save_text(path, text, folder)

    monkeypatch.setattr(saving, "save_text", failing)
    with pytest.raises(FileError, match="the disk is full"):
        saving.save_edits(texts, lanterns)
    assert calls == [rig, patch, rig]
    assert contents(lanterns) == before


def test_what_somebody_else_wrote_meanwhile_stays(lanterns: Path) -> None:
    patch = patch_of(lanterns)
    text = patch.read_text("utf-8")
    patch.write_text(text + "# mine\n", "utf-8")
    with pytest.raises(FileError, match="somebody else"):
        saving.save_edits({patch: (text, text + "# yours\n")}, lanterns)
    assert patch.read_text("utf-8") == text + "# mine\n"
