"""The page of commands: what it promises in words is what is printed."""

from pathlib import Path

import pytest

from rigproof.cli.app import COMMANDS
from rigproof.cli.page import EXAMPLES, SHAPES, commands_page
from rigproof.cli.screen import FINE
from tests.cli.conftest import Call

ALWAYS = {"format", "command"}


def test_every_command_has_its_example_and_its_shape() -> None:
    names = {name for name, _, _ in COMMANDS}
    assert set(EXAMPLES) == names
    assert set(SHAPES) == names - {"schema"}  # which prints a schema and nothing else
    for name, example in EXAMPLES.items():
        assert example.startswith(f"rigproof {name}")
    page = commands_page()
    for name in names:
        assert f"\n## {name}\n" in page


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("check", ["check", "BENCH"]),
        ("volts", ["volts", "BENCH"]),
        ("trace", ["trace", "voice.tune", "--in", "BENCH"]),
        ("tour", ["tour", "BENCH"]),
        ("render", ["render", "BENCH", "--seconds", "0.1", "--out", "BENCH/x.wav"]),
        ("new", ["new", "BENCH/new"]),
        ("kinds", ["kinds", "mixer"]),
        ("explain", ["explain", "outputs-joined"]),
    ],
)
def test_json_has_the_keys_that_are_promised(
    call: Call, bench: Path, name: str, words: list[str]
) -> None:
    answer = call(*(word.replace("BENCH", str(bench)) for word in words), "--json")
    assert answer.code == FINE
    promised = set(SHAPES[name])
    if name in ("kinds", "explain"):  # one by name; the list is told apart
        promised -= {"kinds", "findings"}
    assert set(answer.data) == ALWAYS | promised


@pytest.mark.parametrize(
    ("name", "words", "key"),
    [
        ("volts", ["volts", "BENCH"], "jacks"),
        ("trace", ["trace", "voice.tune", "--in", "BENCH"], "hops"),
        ("kinds", ["kinds", "mixer"], "inputs"),
        ("kinds", ["kinds", "mixer"], "params"),
    ],
)
def test_parts_have_the_keys_that_are_promised(
    call: Call, bench: Path, name: str, words: list[str], key: str
) -> None:
    answer = call(*(word.replace("BENCH", str(bench)) for word in words), "--json")
    for part in answer.data[key]:
        for promised in part:
            assert f"`{promised}`" in SHAPES[name][key]
