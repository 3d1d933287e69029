"""A walk through one's own module: scripted, typed, stopped and gone on with; what it writes loads and fits."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from rigproof.cli.commands import new_sheet
from rigproof.cli.screen import BAD_INPUT, FINE, STOPPED
from rigproof.files.load_sheet import library_sheets, library_texts, load_sheet_file
from rigproof.kinds import KINDS
from rigproof.model.sheet import Housing, Sheet
from rigproof.net.sheets import plan_sheet
from tests.cli.conftest import Call

USABLE = sorted(name for name, kind in KINDS.items() if not kind.is_internal)
TYPED = [
    # What a performer types: purpose, like, title, hp, depth, three currents, figures
    "ladder filter",
    "",
    "Tide filter",
    "10",
    "31.5",
    "55",
    "50",
    "",
    "maker",
    # jacks: go through them, in, cutoff-cv-1, cutoff-cv-2, out, one more
    "",
    "",
    "v-oct pitch -3..3 @12,100.5 1Mohm",
    "drop",
    "0..x",  # no good, asked again
    "",
    "",
    # controls: go through them, cutoff, resonance, drive, depth-1, depth-2, one more
    "",
    "30Hz..12kHz @25,20",
    "",
    "heat 0.5..4",
    "",
    "drop",
    "",
    # what it does
    "Low-pass with drive.",
]


@pytest.fixture
def folder(call: Call, tmp_path: Path) -> Path:
    """An empty project."""
    call("new", tmp_path / "rig")
    return tmp_path / "rig"


class Typist:
    """Types the lines one by one, and then what it was told to end with."""

    def __init__(self, lines: list[str], *, end: type[BaseException] = EOFError) -> None:
        self.lines: Iterator[str] = iter(lines)
        self.end = end
        self.asked: list[str] = []

    def __call__(self, question: str) -> str:
        self.asked.append(question)
        for line in self.lines:
            return line
        raise self.end


def sheet_at(path: Path) -> Sheet:
    """The sheet in a file; it loads and fits its kinds."""
    sheet = load_sheet_file(path).require_sheet()
    assert plan_sheet(sheet).errors == []
    return sheet


def test_typed_answers_become_a_sheet(
    call: Call, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typist = Typist(TYPED)
    monkeypatch.setattr(new_sheet, "ask_typed", typist)
    answer = call("new-sheet", "tide-filter", "--in", folder)
    assert (answer.code, answer.err) == (FINE, "")
    assert next(typist.lines, None) is None
    assert "expected: " in answer.out  # what was wrong with '0..x'
    sheet = sheet_at(folder / "modules" / "tide-filter.toml")
    assert (sheet.title, sheet.hp, sheet.depth_mm) == ("Tide filter", 10, 31.5)
    assert sheet.draw_ma == {"+12V": 55.0, "-12V": 50.0}
    assert not sheet.is_typical
    assert sheet.summary == "Low-pass with drive."
    assert set(sheet.jacks) == {"in", "v-oct", "out"}
    assert (sheet.jacks["v-oct"].signal, sheet.jacks["v-oct"].range_v) == ("pitch", (-3.0, 3.0))
    assert sheet.jacks["v-oct"].at_mm == (12.0, 100.5)
    assert sheet.jacks["v-oct"].resistance_ohm == 1e6
    assert sheet.jacks["in"].at_mm is None  # the panel is another
    assert set(sheet.controls) == {"cutoff", "resonance", "heat", "depth-1"}
    assert (sheet.controls["cutoff"].lo, sheet.controls["cutoff"].hi) == (30.0, 12_000.0)
    assert sheet.controls["cutoff"].at_mm == (25.0, 20.0)
    assert sheet.sections["sum"].values["gain-2"] == 0  # where the dropped knob stood


def test_a_walk_that_is_stopped_anywhere_is_kept_and_ends_the_same(
    call: Call, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Oracle: the walk that was not stopped."""
    monkeypatch.setattr(new_sheet, "ask_typed", Typist(TYPED))
    assert call("new-sheet", "whole", "--in", folder).code == FINE
    whole = (folder / "modules" / "whole.toml").read_text("utf-8")
    good = [line for line in TYPED if line != "0..x"]
    for at in (1, 5, 12, len(good) - 1):
        name = f"stopped-{at}"
        monkeypatch.setattr(new_sheet, "ask_typed", Typist(good[:at], end=KeyboardInterrupt))
        stopped = call("new-sheet", name, "--in", folder)
        kept = folder / "modules" / f"{name}.answers"
        assert stopped.code == STOPPED
        assert str(kept) in stopped.err.replace("\n", "")
        assert not (folder / "modules" / f"{name}.toml").exists()
        monkeypatch.setattr(new_sheet, "ask_typed", Typist(good[at:]))
        again = call("new-sheet", name, "--answers", kept, "--in", folder)
        assert (again.code, again.err) == (FINE, "")
        assert (folder / "modules" / f"{name}.toml").read_text("utf-8") == whole


def test_answers_that_run_out_are_kept_too(
    call: Call, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(new_sheet, "ask_typed", Typist(TYPED[:3]))
    answer = call("new-sheet", "half", "--in", folder)
    assert answer.code == BAD_INPUT
    assert (folder / "modules" / "half.answers").is_file()
    assert sorted(p.name for p in (folder / "modules").iterdir()) == ["half.answers"]


def test_stopped_before_the_first_answer_nothing_is_written(
    call: Call, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(new_sheet, "ask_typed", Typist([], end=KeyboardInterrupt))
    assert call("new-sheet", "never", "--in", folder).code == STOPPED
    assert list((folder / "modules").iterdir()) == []


@pytest.mark.parametrize("like", sorted(library_texts()))
def test_a_sheet_begun_from_the_library_is_that_sheet(like: str, call: Call, folder: Path) -> None:
    answer = call("new-sheet", "mine", "--like", like, "--json", "--in", folder)
    assert answer.code == FINE
    mine, other = sheet_at(folder / "modules" / "mine.toml"), library_sheets()[like]
    assert (mine.hp, mine.depth_mm, mine.housing) == (other.hp, other.depth_mm, other.housing)
    assert {r: ma for r, ma in mine.draw_ma.items() if ma} == {
        r: ma for r, ma in other.draw_ma.items() if ma
    }
    assert set(mine.jacks) == set(other.jacks)
    assert set(mine.controls) == set(other.controls)
    assert len(mine.wires) == len(other.wires)


@pytest.mark.parametrize("kind", USABLE)
def test_every_kind_alone_makes_a_sheet(kind: str, call: Call, folder: Path) -> None:
    answer = call("new-sheet", "one", "--kinds", kind, "--json", "--in", folder)
    assert answer.code == FINE
    sheet = sheet_at(folder / "modules" / "one.toml")
    usual = KINDS[kind].ways[2] if KINDS[kind].ways else 1  # type: ignore[index]
    ports = KINDS[kind].expand_inputs(usual) + KINDS[kind].expand_outputs(usual)
    assert len(sheet.jacks) == len(ports)
    flaws = [f["lint"] for f in answer.data["flaws"] if f["weight"] == "wrong"]
    assert set(flaws) <= {"draw-missing", "section-unheard"}


def test_kinds_wired_together_with_more_added_and_comments_kept(call: Call, folder: Path) -> None:
    words = ["--set", "wires=mixer-1.out vca.in, mixer-2.out vca.cv"]
    words += ["--set", "jack+1=env-too out audio vca.out -5..5 470ohm"]
    words += ["--set", "control+1=trim mixer-1.gain-5 0..1"]
    answer = call(
        "new-sheet", "built", "--kinds", "mixer,mixer,vca", *words, "--yes", "--in", folder
    )
    assert answer.code == BAD_INPUT  # a mixer has four ways unless it is said: no fifth gain
    assert "gain-1, gain-2, gain-3, gain-4" in " ".join(answer.err.split())
    words[-1] = "control+1=trim mixer-1.gain-4 0..1"
    answer = call(
        "new-sheet", "built", "--kinds", "mixer,mixer,vca", *words, "--yes", "--in", folder
    )
    assert answer.code == FINE
    sheet = sheet_at(folder / "modules" / "built.toml")
    assert len(sheet.wires) == 2
    assert sheet.jacks["env-too"].resistance_ohm == 470.0
    assert sheet.controls["trim"].sets == ("mixer-1.gain-4",)
    assert len(re.findall(r"(?m)^#", (folder / "modules" / "built.toml").read_text("utf-8"))) == 5


def summary_of(call: Call, folder: Path, name: str, *changes: str) -> str:
    """The summary of a mixer with changes, where nobody says what it does."""
    words = [word for change in changes for word in ("--set", change)]
    assert (
        call("new-sheet", name, "--like", "mixer-4", *words, "--yes", "--in", folder).code == FINE
    )
    return sheet_at(folder / "modules" / f"{name}.toml").summary


def test_the_library_sheets_summary_is_kept_only_while_it_fits(call: Call, folder: Path) -> None:
    """The library's mixer has four inputs and says so."""
    of_library = library_sheets()["mixer-4"].summary
    assert of_library.startswith("Four inputs")
    assert summary_of(call, folder, "same") == of_library
    assert summary_of(call, folder, "renamed", "jack.in-1=voice") == of_library
    told = "Like the library's mixer-4, with {}."
    dropped = summary_of(call, folder, "dropped", "jack.in-4=drop")
    assert dropped == told.format("3 inputs, 1 output and 4 controls")
    fewer = summary_of(call, folder, "fewer", "control.level-4=drop")
    assert fewer == told.format("4 inputs, 1 output and 3 controls")
    more = summary_of(call, folder, "more", "jack+1=again out audio mix.out")
    assert more == told.format("4 inputs, 2 outputs and 4 controls")
    other = summary_of(call, folder, "other", "jack.in-1=cv")
    assert other == told.format("4 inputs, 1 output and 4 controls")
    assert summary_of(call, folder, "said", "jack.in-4=drop", "summary=Three in.") == "Three in."


def test_it_never_overwrites(call: Call, folder: Path) -> None:
    own = folder / "modules" / "mine.toml"
    own.write_text("mine", "utf-8")
    answer = call("new-sheet", "mine", "--yes", "--in", folder)
    assert answer.code == BAD_INPUT
    assert "already" in answer.err
    assert own.read_text("utf-8") == "mine"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--like", "mixr-4"], "mixer-4"),
        (["--kinds", "mixr"], "'mixer'"),
        (["--set", "hp=wide"], "a whole number"),
        (["--set", "depth-mm=-1"], "a number from 0"),
        (["--set", "depth-mn=8"], "'depth-mm'"),
        (["--set", "hp"], "--set hp=8"),
        (["--like", "vca-nothing"], "library sheet"),
        (["--like", "mixer-4", "--set", "jack.in-1=5..1"], "from low to high"),
        (["--like", "mixer-4", "--set", "jack.in-1=in-2"], "not taken"),
        (["--like", "mixer-4", "--set", "control.level-1=0..0"], "goes somewhere"),
        (["--like", "mixer-4", "--set", "jack+1=a in cv mix.out"], "inputs of 'mix'"),
        (["--like", "mixer-4", "--set", "jack.in-1=>high"], "a quantity"),
    ],
)
def test_an_answer_that_is_no_good_says_what_would_be(
    words: list[str], told: str, call: Call, folder: Path
) -> None:
    answer = call("new-sheet", "mine", *words, "--yes", "--in", folder)
    assert answer.code == BAD_INPUT
    assert told in " ".join(answer.err.split())
    assert not (folder / "modules" / "mine.toml").exists()


def test_answers_come_from_a_file_and_a_flag_has_the_last_word(call: Call, folder: Path) -> None:
    file = folder / "filter.answers"
    file.write_text('like = "multimode-filter"\nhp = 12\ndepth-mm = 30.5\n', "utf-8")
    words = ["--answers", file, "--set", "hp=14", "--yes", "--in", folder]
    assert call("new-sheet", "mine", *words).code == FINE
    sheet = sheet_at(folder / "modules" / "mine.toml")
    assert (sheet.hp, sheet.depth_mm) == (14, 30.5)
    file.write_text("hp = [8]\n", "utf-8")
    refused = call("new-sheet", "other", "--answers", file, "--yes", "--in", folder)
    assert refused.code == BAD_INPUT
    assert "a text or a number" in refused.err


def test_a_sheet_of_ones_own_can_be_used_at_once(call: Call, folder: Path) -> None:
    assert call("new-sheet", "mine", "--like", "oscillator", "--yes", "--in", folder).code == FINE
    rig = (folder / "rig.toml").read_text("utf-8")
    rig += '\n[[module]]\nid = "mine"\nsheet = "mine"\nrow = 1\nhp = 0\n'
    (folder / "rig.toml").write_text(rig, "utf-8")
    answer = call("check", folder, "--json")
    assert answer.code == FINE
    assert answer.data["survey"]["modules"] == 1


@pytest.mark.parametrize(
    ("like", "entry"),
    [
        ("mixer-4", "[[module]]"),
        ("knob-box-16", "[[controller]]"),
        ("interface-8", "[[interface]]"),
        ("echo-program", "[[program]]"),
    ],
)
def test_it_says_how_the_sheet_is_put_to_use(
    like: str, entry: str, call: Call, folder: Path
) -> None:
    answer = call("new-sheet", "mine", "--like", like, "--yes", "--in", folder)
    assert answer.code == FINE
    assert f'  {entry}\n  id = "mine"\n  sheet = "mine"\n' in answer.out
    assert ("  row = 1\n" in answer.out) is (entry == "[[module]]")


def test_programs_are_described_without_a_panel(call: Call, folder: Path) -> None:
    words = ["--kinds", "lfo", "--set", "housing=program", "--yes", "--in", folder]
    assert call("new-sheet", "prog", *words).code == FINE
    sheet = sheet_at(folder / "modules" / "prog.toml")
    assert sheet.housing is Housing.PROGRAM
    assert {j.resistance_ohm for j in sheet.jacks.values() if j.way == "out"} == {0.0}
