"""Errors as people and programs read them. All of a load's errors are told at once; none of them is a traceback."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from rigproof.cli.screen import BAD_INPUT, command_name, errors_console, print_json, safe_text
from rigproof.errors import NOWHERE, RigError
from rigproof.units import plural

if TYPE_CHECKING:
    from cyclopts import CycloptsError

MOST_KNOWN = 12
"""So many valid names are shown; programs get them all."""


class UsageError(RigError):
    """The command line asks for something that does not exist or cannot be done."""

    def __init__(
        self,
        problem: str,
        *,
        found: str | None = None,
        expected: str | None = None,
        known: Sequence[str] = (),
        nearest: str | None = None,
    ) -> None:
        super().__init__(
            NOWHERE, problem, found=found, expected=expected, known=known, nearest=nearest
        )


def unknown(what: str, name: str, known: Iterable[str]) -> UsageError:
    """Return the error for a name that is none, with the nearest that is; of a module's things those are known."""
    from rigproof.errors import nearest_name, of_its_module

    names = of_its_module(name, known)
    return UsageError(
        f"there is no {what} '{safe_text(name)}'", known=names, nearest=nearest_name(name, names)
    )


def error_data(error: RigError) -> dict[str, Any]:
    """Return an error for programs."""
    return {
        "sort": type(error).__name__,
        "file": error.where.file or None,
        "line": error.where.line,
        "key": error.where.key or None,
        "problem": error.problem,
        "found": error.found,
        "expected": error.expected,
        "known": list(error.known),
        "nearest": error.nearest,
    }


def report_errors(errors: Iterable[RigError], *, is_json: bool) -> int:
    """Print every error and return the exit code for bad input."""
    told = list(errors)
    if is_json:
        print_json("error", {"errors": [error_data(e) for e in told]})
        return BAD_INPUT
    from rich.text import Text

    console = errors_console()
    for error in told:
        place = "" if error.where == NOWHERE else f"{error.where}: "
        line = Text.assemble((safe_text(place), "bold"), safe_text(error.problem))
        console.print(line, soft_wrap=True)
        for label, text in (
            ("found", error.found),
            ("expected", error.expected),
            ("known", _names(error)),
            ("did you mean", error.nearest and f"'{error.nearest}'?"),
        ):
            if text:
                console.print(
                    Text.assemble((f"  {label:>12}  ", "dim"), safe_text(text)), soft_wrap=True
                )
    if len(told) > 1:
        console.print(plural(len(told), "error"), style="dim")
    return BAD_INPUT


def _names(error: RigError) -> str:
    shown = error.known[:MOST_KNOWN]
    more = len(error.known) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def report_usage(error: CycloptsError, *, is_json: bool) -> int:
    """Print what is wrong with the command line itself."""
    from cyclopts import UnusedCliTokensError

    message = " ".join(str(error).split())
    problem, _, nearest = message.partition(" Did you mean ")
    if isinstance(error, UnusedCliTokensError):
        left = " ".join(error.unused_tokens or [])
        problem = "there are more words than the command takes"
        mended = UsageError(problem, found=f"'{safe_text(left)}'")
    else:
        mended = UsageError(problem.rstrip("."), nearest=nearest.strip("\"'?. ") or None)
    code = report_errors([mended], is_json=is_json)
    if not is_json:
        errors_console().print(f"  {command_name()} --help lists the commands", style="dim")
    return code
