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


PAGES = (
    Page("commands.md", commands_page),
    Page("rooms.md", rooms_page),
    Page("findings.md", findings_page),
    Page("keys.md", keys_page),
    Page("library.md", library_page),
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
