"""The look of the command line: ink on paper, thin rules, aligned numbers, one accent. And the other side, JSON.

Colours are left out by the console when output is no terminal or NO_COLOR is set; nothing is told by colour alone.
"""

from __future__ import annotations

import json
import math
import os
import shlex
import shutil
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

FINE, SHOW_STOPPED, BAD_INPUT, STOPPED, UNREAD = 0, 1, 2, 130, 141
"""Exit codes."""
FORMAT = 1
"""Version of every JSON shape that is printed."""
ACCENT = "#3a95cf"
"""A blue that is legible on dark and on light ground; the docs use its darker neighbour."""
WIDEST = 110
"""Lines grow no longer than this on a wide terminal."""
NARROWEST, UNTOLD = 40, 80
"""Nor are they made for less than the first, where columns would lose what they hold; and a terminal that says it is
0 wide, as some do that are none, gets the second."""
LEAST_TEXT, INDENTED = 14, 9
"""Letters that a column of text needs, and those that a table without titles may stand in from the edge."""


def _console(stream: Any) -> Console:
    from rich.console import Console
    from rich.theme import Theme

    theme = Theme({"progress.remaining": "dim"})  # one accent, and no other colour
    console = Console(file=stream, highlight=False, emoji=False, markup=False, theme=theme)
    console.width = min(max(console.width or UNTOLD, NARROWEST), WIDEST)
    return console


def output_console() -> Console:
    """Return the console for what was asked for."""
    return _console(sys.stdout)


def errors_console() -> Console:
    """Return the console for errors and progress."""
    return _console(sys.stderr)


PLAIN_SIGNS = {
    "─": "-",
    "━": "=",
    "▶": ">",
    "└": "`",
    "→": ">",
    "←": "<",
    "·": "-",
    "±": "+-",
    "✕": "x",
    "▲": "!",
}
"""What stands for our signs where the terminal's letters lack them."""


def plain_sign(error: UnicodeError) -> tuple[str, int]:
    """Stand in for letters that the terminal lacks: an error handler for codecs."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end]
    return "".join(PLAIN_SIGNS.get(letter, "?") for letter in missing), error.end


def plain_data(value: Any) -> Any:
    """Return a value as JSON knows it: fractions as exact text, what is not finite as null.

    >>> plain_data({"rate": Fraction(3, 2), "level": -math.inf})
    {'rate': '3/2', 'level': None}
    """
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Fraction | Path):
        return str(value)
    if isinstance(value, Mapping):
        return {str(k): plain_data(v) for k, v in value.items()}
    if isinstance(value, Iterable):
        return [plain_data(v) for v in value]
    raise TypeError(f"no JSON for {type(value).__name__}")


def print_json(command: str, data: Mapping[str, Any]) -> None:
    """Print an answer for programs: `format`, `command`, then the data."""
    whole = {"format": FORMAT, "command": command, **data}
    print(json.dumps(plain_data(whole), indent=2, ensure_ascii=False, allow_nan=False))


def finish(
    command: str,
    data: Mapping[str, Any],
    show: Callable[[Console], None],
    *,
    is_json: bool,
    code: int = FINE,
) -> int:
    """Print an answer for programs or for people, and return the exit code."""
    if is_json:
        print_json(command, data)
    else:
        show(output_console())
    return code


def safe_text(text: str) -> str:
    r"""Return text that came from a file, with nothing in it that a terminal would obey.

    >>> safe_text("a" + chr(27) + "[2J")
    'a\\x1b[2J'
    """
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def heading(console: Console, left: str, right: str = "") -> None:
    """Print a title with a note at the right, above a thin rule."""
    from rich.text import Text

    room = console.width - len(right) - 2
    title = left if len(left) <= room else left[: max(1, room - 1)] + "…"
    gap = " " * max(1, console.width - len(title) - len(right))
    console.print(Text.assemble((title, "bold"), gap, (right, "dim")), soft_wrap=True)
    rule(console)


def rule(console: Console) -> None:
    """Print a thin rule across."""
    console.print("─" * console.width, style="dim", soft_wrap=True)


def grid(*columns: str, titles: Sequence[str] = ()) -> Table:
    """Return a table without lines; a column is `<` text, `!` names and `>` numbers, which stay on one line."""
    from rich import box
    from rich.table import Table

    table = Table(
        box=box.SIMPLE_HEAD if titles else None,
        show_header=bool(titles),
        header_style="dim",
        border_style="dim",
        pad_edge=False,
        padding=(0, 2, 0, 0),
        collapse_padding=True,
        show_edge=False,
    )
    for i, column in enumerate(columns):
        table.add_column(
            titles[i] if titles else "",
            justify="right" if column == ">" else "left",
            no_wrap=column != "<",
            overflow="fold",
        )
    return table


def _let_wrap(console: Console, table: Table) -> None:
    """Let every column of a table wrap when those that should not have no room: nothing is ever cut off."""
    from rich.measure import measure_renderables
    from rich.table import Table

    for column in table.columns:
        for cell in column.cells:
            if isinstance(cell, Table):
                _let_wrap(console, cell)
    room = console.width - (INDENTED if not table.show_header else 0)
    for sort in ("right", "left"):  # numbers wrap first, names only when that is not enough
        needed = 0
        for column in table.columns:
            size = measure_renderables(console, console.options, [column.header, *column.cells])
            needed += (size.maximum if column.no_wrap else min(size.maximum, LEAST_TEXT)) + 2
        if needed - 2 <= room:
            return
        for column in table.columns:
            column.no_wrap = column.no_wrap and column.justify != sort


def show_table(console: Console, table: Table | Padding) -> None:
    """Print a table; where no terminal reads it, without blanks at the ends of lines."""
    from rich.table import Table

    inner = table if isinstance(table, Table) else table.renderable
    if isinstance(inner, Table):
        _let_wrap(console, inner)
    if console.is_terminal:
        console.print(table)
        return
    with console.capture() as captured:
        console.print(table)
    for line in captured.get().splitlines():
        console.print(line.rstrip(), soft_wrap=True)


def bar(share: float, cells: int = 24) -> Text:
    """Return a share of a whole as a bar; what goes beyond the whole is marked at the end."""
    from rich.text import Text

    filled = round(min(max(share, 0.0), 1.0) * cells)
    end = "▶" if share > 1.0 else ""
    return Text.assemble(("━" * filled, ACCENT), ("─" * (cells - filled), "dim"), (end, "bold"))


def minutes(seconds: float) -> str:
    """Return a length of time as a person says it.

    >>> minutes(754.4), minutes(9.25), minutes(0.25)
    ('12 min 34 s', '9.2 s', '250 ms')
    """
    if seconds >= 59.95:
        whole = round(seconds)
        return f"{whole // 60} min {whole % 60:02} s" if whole % 60 else f"{whole // 60} min"
    return f"{seconds:.1f} s" if seconds >= 1.0 else f"{seconds * 1e3:.3g} ms"


def db_text(level_db: float, digits: int = 1) -> str:
    """Return a level with its sign.

    >>> db_text(-3.0103), db_text(-0.01), db_text(-math.inf)
    ('-3.0', '+0.0', '-inf')
    """
    # Nothing below zero that is shown as zero has a minus.
    return f"{round(level_db, digits) + 0.0:+.{digits}f}" if math.isfinite(level_db) else "-inf"


CALLED_AS = "RIGPROOF_CALLED_AS"
"""The environment variable in which the starter says how the performer called it."""


def command_name() -> str:
    """Return how the performer calls the command from here: by its name, as they just did, or as a module."""
    if shutil.which("rigproof") is not None:
        return "rigproof"
    if called := os.environ.get(CALLED_AS):
        return shlex.quote(called)
    return "./rigproof" if Path("rigproof").is_file() else "python -m rigproof"


def typed(path: Path) -> str:
    """Return a path as one types it into a shell.

    >>> typed(Path("winter set")), typed(Path("low-tide")), typed(Path("-x"))
    ("'winter set'", 'low-tide', './-x')
    """
    text = str(path)
    return shlex.quote(f"./{text}" if text.startswith("-") else text)
