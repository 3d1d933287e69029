"""The line of every key, held against files whose every value is a number found nowhere else in them.

The oracle is independent: tomllib says which key a number belongs to, and searching the text says its line.
"""

import contextlib
import time
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigproof.errors import FileError
from rigproof.files.lines import DEPTH_LIMIT, PARTS_LIMIT, KeyPath, Lines
from rigproof.files.toml_text import parse_toml

KEYS = ("a", "b-1", '"c.d"', "'e f'", '"g\\"\\u0041#="', "7")
TEXTS = (
    '"plain"',
    "'[#'",
    '"\\" # ] {"',
    '"""\ntwo\n"lines" """',
    "'''\n]\n}'''",
    '""""quoted"\\\n\n   on"""',
    "true",
    "1979-05-27 07:32:00",
)


class Maker:
    """Writes TOML with a fresh number for every value that counts."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw
        self.next = 1000

    def number(self) -> str:
        self.next += 1
        return str(self.next)

    def pick(self, *options: Any) -> Any:
        return self.draw(st.sampled_from(options))

    def space(self) -> str:
        return str(self.pick("", " ", "\t"))

    def gap(self) -> str:
        """What may stand between the parts of a list."""
        return str(self.pick("", " ", "\n", "\n  # a = [ 1\n", "\n\n"))

    def value(self, depth: int) -> str:
        sort = self.pick("number", "number", "text", "list", "table") if depth else "number"
        if sort == "text":
            return str(self.pick(*TEXTS))
        if sort == "list":
            items = [self.value(depth - 1) for _ in range(self.draw(st.integers(0, 3)))]
            text = "[" + "".join(f"{self.gap()}{item}{self.gap()}," for item in items)
            return (text if self.pick(True, False) else text.rstrip(",")) + self.gap() + "]"
        if sort == "table":
            keys = self.draw(st.lists(st.sampled_from(KEYS), max_size=3, unique=True))
            pairs = [f" {k}{self.space()}={self.space()}{self.value(depth - 1)}" for k in keys]
            return "{" + ",".join(pairs) + " }"
        return self.number()

    def statements(self) -> str:
        lines = []
        for key in self.draw(st.lists(st.sampled_from(KEYS), max_size=4, unique=True)):
            dotted = f"{key} . {self.pick(*KEYS)}" if self.pick(True, False, False) else key
            end = self.pick("", "  # end", " # [x] = {")
            lines.append(f"{self.space()}{dotted}{self.space()}= {self.value(2)}{end}\n")
            lines.append(self.pick("", "\n", "# alone\n", " \t\n"))
        return "".join(lines)

    def document(self) -> str:
        text = self.statements()
        for i in range(self.draw(st.integers(0, 4))):
            header = self.pick(f"[t{i}]", f"[ t{i} . x ]", "[[rows]]", "[[rows.inner]]")
            if header == "[[rows.inner]]" and "[[rows]]" not in text:
                header = "[[rows]]"
            text += f"{header}{self.pick('', ' # so')}\n{self.statements()}"
        return text


@st.composite
def documents(draw: Any) -> str:
    return Maker(draw).document()


def numbers(thing: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, int]]:
    if isinstance(thing, dict):
        for key, value in thing.items():
            yield from numbers(value, (*path, key))
    elif isinstance(thing, list):
        for i, value in enumerate(thing):
            yield from numbers(value, (*path, i))
    elif type(thing) is int:
        yield path, thing


@given(documents())
def test_every_number_is_on_the_line_that_is_named(text: str) -> None:
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return  # keys that stand twice
    lines = Lines("x", text)
    for path, number in numbers(tables):
        line = text.count("\n", 0, text.index(str(number))) + 1
        named = lines.of(path)
        assert named is not None
        # A key on one line may have its value further down, never further up.
        assert named == line or (
            named < line and text.split("\n")[named - 1].rstrip()[-1] in "[,={"
        )


def test_the_maker_makes_good_toml_most_of_the_time() -> None:
    """So that the test above tests something."""
    good = 0

    @given(documents())
    def count(text: str) -> None:
        nonlocal good
        with contextlib.suppress(tomllib.TOMLDecodeError):
            good += bool(list(numbers(tomllib.loads(text))))

    count()
    assert good > 30


@given(st.text(st.sampled_from("ab.=[]{}\"'\\#,\n 1"), max_size=30))
def test_any_text_at_all_is_gone_through(text: str) -> None:
    lines = Lines("x", text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.known.values())


@pytest.mark.parametrize("bracket", ["[", "{a=", "[{a=", '[\n["x",'])
def test_brackets_too_deep_are_refused_with_their_line(bracket: str) -> None:
    with pytest.raises(FileError) as caught:
        parse_toml("b = 1\na = " + bracket * (DEPTH_LIMIT + 1), "x")
    assert caught.value.problem == "brackets nested too deep"
    assert caught.value.where.line is not None
    assert caught.value.where.line >= 2


@pytest.mark.parametrize("text", ["[{}]", "{} = 1", 'x = 1\n"y".{} = 1'])
def test_keys_of_too_many_parts_are_refused(text: str) -> None:
    with pytest.raises(FileError) as caught:
        parse_toml(text.format(".".join("a" * (PARTS_LIMIT + 1))), "x")
    assert caught.value.problem == "a key of too many parts"


SIZE = 100_000


@pytest.mark.parametrize(
    "text",
    [
        "[" * SIZE,
        "a = " + "[" * SIZE,
        "a = " + "{a=" * (SIZE // 3),
        "a" + ".a" * (SIZE // 2) + " = 1",
        "[" + "a." * (SIZE // 2) + "a]",
        'a = """' + '\\"""' * (SIZE // 4),
        "a = " + '"' * SIZE,
        "a = " + "'" * SIZE,
        'a = """' + '""\\' * (SIZE // 3),
        "a = " + "1" * SIZE,
        "#" * SIZE,
        "\n" * SIZE,
        " " * SIZE,
        "a = [" + "," * SIZE,
        "a = [" + "1," * (SIZE // 2) + "]",
        "a = [" + '"",' * (SIZE // 3),
        "\\" * SIZE,
        "=" * SIZE,
        '"\\u0000' * (SIZE // 7),
    ],
    ids=lambda text: text[:8].encode("unicode_escape").decode(),
)
def test_no_text_makes_it_slow(text: str) -> None:
    """100 kB of the worst in a second; quadratic time would take hours."""
    start = time.process_time()
    with contextlib.suppress(FileError):
        parse_toml(text, "x")
    assert time.process_time() - start < 2.0
