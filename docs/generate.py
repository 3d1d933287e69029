"""Write the pages of the docs that the code itself tells: `python docs/generate.py`, `--check` only compares.

PAGES is the whole mechanism: a row is a page and the function that returns its text. A room that has something to
tell adds a row; its function stands here or, if it is also of use elsewhere, in the room.
"""

import difflib
import importlib
import inspect
import pkgutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
NOTE = "<!-- Written by docs/generate.py; edit the code it reads, then run ./check --fix. -->\n\n"


class Page(NamedTuple):
    """A generated page: its path under docs/ and the function that tells its text."""

    path: str
    text: Callable[[], str]


def rooms_page() -> str:
    """List the rooms of the package, each with the first paragraph of its docstring."""
    import rigproof

    lines = ["# Rooms\n", "The package is divided into rooms; imports between them run one way.\n"]
    for found in pkgutil.iter_modules(rigproof.__path__):
        if found.name == "__main__":
            continue
        room = importlib.import_module(f"rigproof.{found.name}")
        about = (inspect.getdoc(room) or "").split("\n\n")[0].replace("\n", " ")
        lines.append(f"`{room.__name__}`\n:   {about}\n")
    return "\n".join(lines)


def findings_page() -> str:
    """List every check by family: what it finds, what it is like on stage, the fix, its blind spots, its source."""
    from rigproof.checks import CHECKS
    from rigproof.checks.base import PARTS

    lines = [
        "# Findings\n",
        f"What `rigproof check` can find: {len(CHECKS)} faults. `rigproof explain NAME` prints the same words.\n",
        "*Stops the show* is what keeps the rig from playing, *hurts* is what will be heard or felt,",
        "*worth knowing* is the rest. A finding that is meant so can be declined with a reason in the patch.\n",
        '!!! warning "Before you open a case"',
        "    Mains wiring, fuses and earthing are for a qualified person, by the local electrical code. Switch off and",
        "    unplug first, never plug or unplug the bus with power on, and check which way round a bus connector goes:",
        "    the wrong way can destroy a module. Turn monitors down before patching: sudden level hurts ears. The",
        "    maker's manual comes first.\n",
    ]
    family = ""
    for check in CHECKS.values():
        if check.family != family:
            family = check.family
            about = inspect.getdoc(importlib.import_module(f"rigproof.checks.{family}")) or ""
            title, _, rest = about.split("\n\n")[0].replace("\n", " ").partition(": ")
            lines.append(f"## {title}\n\n{rest[:1].upper()}{rest[1:]}\n")
            if check.caution:
                lines.append(f'!!! warning "Caution"\n    {check.caution}\n')
        severity = check.severity.value.replace("-", " ")
        lines.append(f"### {check.name}\n")
        lines.append(f"{check.parts['Fault']} *{severity.capitalize()}; since {check.since}.*\n")
        lines.extend(f"{part}\n:   {check.parts[part]}\n" for part in PARTS)
    return "\n".join(lines)


def keys_page() -> str:
    """List every key of the project files."""
    from rigproof.files.schema import keys_page as page

    return page()


def commands_page() -> str:
    """List every command with its help and the shape of its JSON."""
    from rigproof.cli.page import commands_page as page

    return page()


def library_page() -> str:
    """List every sheet of the library."""
    from rigproof.cli.library_page import library_page as page

    return page()


def kinds_page() -> str:
    """Describe every section kind that a sheet may use: what it is, its ports, parameters and options, its source."""
    from rigproof.kinds import KINDS
    from rigproof.kinds.base import Kind, Param
    from rigproof.units import format_quantity

    def many(name: str, is_many: bool) -> str:
        return f"`{name}-1` ... `{name}-N`" if is_many else f"`{name}`"

    def reach(param: Param) -> str:
        if param.choices:
            return ", ".join(param.choices)
        lo, hi = (format_quantity(end, param.unit) for end in (param.lo, param.hi))
        return f"{lo} to {hi}"

    def usual(param: Param) -> str:
        if param.choices:
            return param.choices[round(param.default)]
        return format_quantity(param.default, param.unit)

    def rows(head: tuple[str, ...], cells: list[tuple[str, ...]]) -> list[str]:
        lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
        lines += ["| " + " | ".join(cell.replace("|", "/") for cell in row) + " |" for row in cells]
        return [*lines, ""] if cells else []

    def described(kind: Kind) -> list[str]:
        lines = [f"## {kind.name}", "", inspect.cleandoc(kind.doc), ""]
        if kind.ways:
            lines += [
                f"`ways`: {kind.ways[0]} to {kind.ways[1]}, {kind.ways[2]} where a sheet is silent.",
                "",
            ]
        for head, ports in (("input", kind.inputs), ("output", kind.outputs)):
            lines += rows((head, "carries"), [(many(p.name, p.many), p.doc) for p in ports])
        lines += rows(
            ("parameter", "usual", "range", "sets"),
            [(many(p.name, p.many), usual(p), reach(p), p.doc) for p in kind.params],
        )
        lines += rows(("option", "sets"), [(f"`{o.name}`", o.doc) for o in kind.options])
        return lines

    usable = sorted((k for k in KINDS.values() if not k.is_internal), key=lambda k: k.name)
    count = f"{len(usable)} kinds, each one thing that a circuit or a program does"
    lines = ["# Section kinds", "", f"What module sheets are built from: {count}.", ""]
    lines += ["`rigproof kinds NAME` prints the same words.", ""]
    for kind in usable:
        lines += described(kind)
    return "\n".join(lines)


PAGES = (
    Page("commands.md", commands_page),
    Page("rooms.md", rooms_page),
    Page("findings.md", findings_page),
    Page("keys.md", keys_page),
    Page("library.md", library_page),
    Page("kinds.md", kinds_page),
)


def stale_pages() -> list[tuple[Page, str, str]]:
    """Pages whose committed text differs from what the code tells: page, committed, told."""
    found = []
    for page in PAGES:
        path = DOCS / page.path
        committed = path.read_text(encoding="utf-8") if path.exists() else ""
        told = NOTE + page.text().rstrip() + "\n"
        if committed != told:
            found.append((page, committed, told))
    return found


def main(is_check: bool) -> int:
    """Write what is stale, or show it and fail."""
    stale = stale_pages()
    for page, committed, told in stale:
        if is_check:
            print(f"docs/{page.path} is not what the code tells; ./check --fix writes it anew")
            lines = difflib.unified_diff(
                committed.splitlines(), told.splitlines(), lineterm="", n=0
            )
            print("\n".join(list(lines)[2:12]))
        else:
            (DOCS / page.path).write_text(told, encoding="utf-8")
            print(f"docs/{page.path} written")
    return 1 if stale and is_check else 0


if __name__ == "__main__":
    sys.exit(main(is_check="--check" in sys.argv[1:]))
