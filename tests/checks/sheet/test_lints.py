"""Every lint of sheets has one sheet that trips it and one that nearly does; and the library itself trips few."""

import re

import pytest

from rigproof.checks.sheet import LINTS, Flaw, Weight, describe, lint_sheet
from rigproof.checks.sheet.base import PARTS, lint, lints_in
from rigproof.files.load_sheet import library_sheets, library_texts, load_sheet_text
from rigproof.files.sheet_files import library_folder, names_in

GOOD = """\
format = 1
title = "Lag"
summary = "Rounds off steps."
typical = true
hp = 6
depth_mm = 30
draw_ma = { "+12V" = 12, "-12V" = 12 }
wires = [["first.out", "second.in"]]
[jacks]
in = { to = "first.in", signal = "cv", range_v = [0, 8], at_mm = [8, 100] }
gate = { to = "env.gate", signal = "gate", range_v = [0, 10], threshold_v = 1.5, at_mm = [22, 100] }
out = { from = "second.out", signal = "cv", range_v = [0, 8], resistance_ohm = 1000, at_mm = [8, 114] }
env = { from = "env.cv", signal = "cv", range_v = [0, 5], resistance_ohm = 1000, at_mm = [22, 114] }
[controls]
rise = { unit = "s", range = [0.001, 2], default = 0.02, sets = ["first.rise", "second.rise"], at_mm = [8, 20] }
fall = { unit = "s", range = [0.001, 2], default = 0.02, sets = ["first.fall", "second.fall"], at_mm = [22, 20] }
[sections]
first = { kind = "slew" }
second = { kind = "slew" }
env = { kind = "ad-envelope", attack = "2 ms", decay = "200 ms", curve = "linear", peak = 5, loop = "off" }
"""
"""A sheet that no lint has anything to say about."""
SAMPLER = """\
format = 1
title = "Voice"
summary = "One voice."
typical = true
hp = 4
depth_mm = 30
draw_ma = { "+12V" = 12 }
[jacks]
trig = { to = "voice.trigger", signal = "trigger", range_v = [0, 5], threshold_v = 1, at_mm = [10, 100] }
out = { from = "voice.left", signal = "audio", resistance_ohm = 1000, at_mm = [10, 114] }
[sections]
voice = { kind = "sample-voice", select = 1, tune = 0, level = 1, start = 0, mode = "gated", hold = 1, decay = 1 }
[slots]
bank = { takes = "samples", sections = "voice" }
"""
FADERS = """\
format = 1
title = "Two faders"
summary = "Two faders."
housing = "controller"
typical = true
wires = [["one.out", "merge.in-1"], ["two.out", "merge.in-2"]]
[jacks]
midi = { from = "merge.out", signal = "midi", plug = "midi-din", at_mm = [60, 8] }
[controls]
f1 = { shape = "fader", sets = "one.position", size_mm = 60, at_mm = [20, 60] }
f2 = { shape = "fader", sets = "two.position", size_mm = 60, at_mm = [28, 60] }
[sections]
one = { kind = "cc-sender", number = 1, channel = 1, scan = 1000 }
two = { kind = "cc-sender", number = 2, channel = 1, scan = 1000 }
merge = { kind = "midi-merge", ways = 2 }
"""


def changed(text: str, *edits: tuple[str, str]) -> str:
    """The text with each piece replaced; every piece must be there."""
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    return text


MULT = ('draw_ma = { "+12V" = 12, "-12V" = 12 }\n', "")
CASES: dict[str, list[tuple[str, str]]] = {
    # lint -> (a sheet that trips it, a sheet that nearly does)
    "width-missing": [(changed(GOOD, ("hp = 6\n", "")), changed(GOOD, ("hp = 6", "hp = 7")))],
    "depth-missing": [
        (changed(GOOD, ("depth_mm = 30\n", "")), changed(FADERS, ("title", "depth_mm = 0\ntitle")))
    ],
    "draw-missing": [
        (changed(GOOD, MULT), changed(GOOD, ('"+12V" = 12, "-12V" = 12', '"+12V" = 0, "-12V" = 1')))
    ],
    "figure-odd": [
        (changed(GOOD, ("depth_mm = 30", "depth_mm = 3")), changed(GOOD, ("= 30", "= 10"))),
        (changed(GOOD, ('"-12V" = 12', '"-12V" = 0.02')), changed(GOOD, ('"-12V" = 12', '"-12V" = 1'))),
    ],
    "range-senseless": [
        (changed(GOOD, ("range_v = [0, 5]", "range_v = [0, 15]")), changed(GOOD, ("[0, 5]", "[0, 11]"))),
        (
            changed(GOOD, ('"cv", range_v = [0, 5]', '"pitch", range_v = [0, 0.9]')),
            changed(GOOD, ('"cv", range_v = [0, 5]', '"pitch", range_v = [0, 1]')),
        ),
        (changed(GOOD, ("[0, 5]", "[0, 0.4]")), changed(GOOD, ("[0, 5]", "[0, 0.5]"))),
        (
            changed(GOOD, ("[0, 5]", "[0, 8], clamp_v = [-7, 7]")),
            changed(GOOD, ("[0, 5]", "[0, 7], clamp_v = [-7, 7]")),
        ),
    ],
    "threshold-missing": [
        (
            changed(GOOD, (" threshold_v = 1.5,", "")),
            changed(GOOD, ('"gate", range_v = [0, 10], threshold_v = 1.5,', '"cv",')),
        )
    ],
    "threshold-out-of-range": [
        (changed(GOOD, ("= 1.5", "= 10")), changed(GOOD, ("= 1.5", "= 9.9"))),
    ],
    "resistance-unwritten": [
        (
            changed(GOOD, ("[0, 5], resistance_ohm = 1000", "[0, 5]")),
            changed(GOOD, ("[0, 5], resistance_ohm = 1000", "[0, 5], resistance_ohm = 0")),
        )
    ],
    "typical-unsaid": [
        (changed(GOOD, ("typical = true\n", "")), changed(GOOD, ("= true", "= false"))),
    ],
    "figures-still-the-librarys": [
        (
            changed(GOOD, ("typical = true", "typical = false"), ("depth_mm = 30", "depth_mm = 24"),
                    ('"+12V" = 12, "-12V" = 12', '"+12V" = 20, "-12V" = 18')),
            changed(GOOD, ("typical = true", "typical = false"), ("depth_mm = 30", "depth_mm = 25"),
                    ('"+12V" = 12, "-12V" = 12', '"+12V" = 20, "-12V" = 18')),
        )
    ],
    "summary-missing": [
        (changed(GOOD, ('summary = "Rounds off steps."\n', "")), changed(GOOD, ("off steps.", ""))),
    ],
    "place-missing": [
        (
            changed(GOOD, (", at_mm = [22, 114]", "")),
            changed(GOOD, ('at_mm = [22, 20]', 'shape = "menu"')),
        )
    ],
    "off-the-panel": [
        (changed(GOOD, ("[22, 114]", "[26.6, 114]")), changed(GOOD, ("[22, 114]", "[26.4, 114]"))),
        (changed(GOOD, ("[22, 20]", "[22, 4]")), changed(GOOD, ("[22, 20]", "[22, 5]"))),
    ],
    "jacks-too-close": [
        (changed(GOOD, ("[22, 114]", "[22, 109]")), changed(GOOD, ("[22, 114]", "[22, 110]"))),
    ],
    "controls-overlap": [
        (changed(GOOD, ("[22, 20]", "[17.5, 20]")), changed(GOOD, ("[22, 20]", "[18, 20]"))),
        (changed(GOOD, ("[22, 20]", "[22, 91.5]")), changed(GOOD, ("[22, 20]", "[22, 91]"))),
        (changed(FADERS, ("[28, 60]", "[27, 110]")), changed(FADERS, ("[28, 60]", "[27, 120]"))),
        (changed(FADERS, ("[28, 60]", "[27.5, 60]")), FADERS),
    ],
    "section-unreached": [
        (
            changed(GOOD, ("[sections]", '[sections]\nthird = { kind = "mixer", ways = 1, master = 1, gain = 1 }'),
                    ('from = "env.cv"', 'from = "third.out"'), ('to = "env.gate"', 'to = "first.in"'),
                    ('to = "first.in", signal = "cv"', 'to = "env.gate", signal = "cv"')),
            changed(GOOD, ("[sections]", '[sections]\nthird = { kind = "noise", level = 5 }'),
                    ('from = "env.cv"', 'from = "third.pink"')),
        )
    ],
    "section-unheard": [
        (
            changed(GOOD, ('from = "env.cv"', 'from = "first.out"')),
            changed(GOOD, ('from = "env.cv"', 'from = "env.end"')),
        )
    ],
    "control-sets-nothing": [
        (
            changed(GOOD, ('sets = ["first.fall", "second.fall"], ', "")),
            changed(GOOD, ('sets = ["first.fall", "second.fall"]', 'sets = "first.fall"')),
        )
    ],
    "parameter-out-of-hand": [
        (
            changed(GOOD, (', loop = "off"', "")),
            changed(GOOD, ('["first.fall", "second.fall"]', '["second.fall"]'),
                    ('first = { kind = "slew" }', 'first = { kind = "slew", fall = "1 s" }')),
        )
    ],
    "slot-missing": [
        (
            changed(SAMPLER, ('[slots]\nbank = { takes = "samples", sections = "voice" }\n', "")),
            SAMPLER,
        )
    ],
}  # fmt: skip
PAIRS = [(name, i) for name, pairs in CASES.items() for i in range(len(pairs))]


def flaws(text: str) -> list[Flaw]:
    """What the lints say of a sheet that loads and fits its kinds."""
    loaded = load_sheet_text(text, file="modules/it.toml", name="it")
    module = describe(loaded.require_sheet(), written=loaded.written, library=library_sheets())
    assert module.plan.errors == []
    return lint_sheet(module)


def test_every_lint_has_its_cases() -> None:
    assert set(CASES) == set(LINTS)
    assert len(LINTS) >= 15


@pytest.mark.parametrize("text", [GOOD, SAMPLER, FADERS])
def test_a_sheet_that_is_whole_trips_none(text: str) -> None:
    assert flaws(text) == []


@pytest.mark.parametrize(("name", "i"), PAIRS)
def test_it_is_tripped_by_one_sheet_and_not_by_another(name: str, i: int) -> None:
    bad, near = CASES[name][i]
    found = [flaw for flaw in flaws(bad) if flaw.lint == name]
    assert found
    for flaw in found:
        assert flaw.at
        assert flaw.message
        assert flaw.where.file == "modules/it.toml"
        assert flaw.weight is LINTS[name].weight
    assert [flaw for flaw in flaws(near) if flaw.lint == name] == []


@pytest.mark.parametrize("name", LINTS)
def test_it_says_the_fault_why_it_matters_and_what_to_do(name: str) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", name)
    parts = LINTS[name].parts
    assert set(parts) == {"Fault", *PARTS}
    assert all(len(words) > 10 for words in parts.values())


def test_flaws_come_worst_first() -> None:
    ranks = [f.weight.rank for f in flaws(changed(SAMPLER, ("hp = 4\n", ""), (", hold = 1", "")))]
    assert ranks == sorted(ranks)
    assert len(flaws(changed(GOOD, ("hp = 6\n", ""), ("typical = true\n", "")))) >= 2


def test_a_name_used_twice_is_refused() -> None:
    one, other = (lint("twice-said", Weight.NOTE)(LINTS[n].run) for n in list(LINTS)[:2])
    with pytest.raises(ValueError, match="twice-said"):
        lints_in(type("A", (), {"one": one}), type("B", (), {"other": other}))


def test_the_cached_library_is_the_whole_library() -> None:
    assert list(library_texts()) == names_in(library_folder())


@pytest.mark.parametrize("name", library_texts())
def test_a_library_sheet_has_nothing_but_notes(name: str) -> None:
    """The library gives what it asks of others; what it takes from the kinds is told as a note."""
    loaded = load_sheet_text(library_texts()[name], file=f"library/{name}.toml", name=name)
    module = describe(loaded.require_sheet(), written=loaded.written, library=library_sheets())
    assert {f.lint for f in lint_sheet(module)} <= {"parameter-out-of-hand"}
