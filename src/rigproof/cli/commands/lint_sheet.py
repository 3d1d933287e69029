"""`rigproof lint-sheet`: what a module sheet leaves out, and what in it can hardly be meant."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson
from rigproof.cli.screen import FINE, SHOW_STOPPED, finish, grid, heading, show_table
from rigproof.units import plural

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.checks.sheet import Flaw


def lint_sheet(
    sheet: Annotated[
        str | None,
        Parameter(help="a sheet file, or the name of a sheet; without it, all of modules/"),
    ] = None,
    /,
    *,
    folder: Annotated[
        Path | None, Parameter("--in", help="the project folder; the current folder by default")
    ] = None,
    notes: Annotated[
        bool, Parameter("--notes", negative="", show_default=False, help="show the notes too")
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Look a module sheet over: missing figures, places off the panel, sections that nothing reaches.

    Exits 1 when something is wrong, so that what is computed from the sheet is not to be trusted.
    """
    flaws_of = {
        name: (path, flaws_in(path)) for name, path in sheet_paths(sheet, folder or Path()).items()
    }
    data = {
        "sheets": [
            {"sheet": name, "file": path, **flaws_data(flaws)}
            for name, (path, flaws) in flaws_of.items()
        ]
    }
    return finish(
        "lint-sheet",
        data,
        lambda console: _show(console, {n: f for n, (_, f) in flaws_of.items()}, notes=notes),
        is_json=as_json,
        code=exit_code([flaw for _, flaws in flaws_of.values() for flaw in flaws]),
    )


def sheet_paths(sheet: str | None, folder: Path) -> dict[str, Path]:
    """Return the sheets that are asked for, by name."""
    from rigproof.cli.problems import UsageError, unknown
    from rigproof.files.sheet_files import MODULES, SheetFiles, names_in

    if sheet is None:
        names = names_in(folder / MODULES)
        if not names:
            raise UsageError(
                f"there is no sheet in {MODULES}/",
                expected="a sheet file, or a folder with sheets of its own",
            )
        return {name: folder / MODULES / f"{name}.toml" for name in names}
    if sheet.endswith(".toml"):
        return {Path(sheet).stem: Path(sheet)}
    files = SheetFiles(folder)
    path = files.path(sheet)
    if path is None:
        raise unknown("sheet", sheet, files.names)
    return {sheet: path}


def flaws_in(path: Path) -> list[Flaw]:
    """Return what the lints say of a sheet file.

    Raises `RigErrors` when it does not load or does not fit its section kinds.
    """
    from rigproof.checks.sheet import describe, lint_sheet
    from rigproof.errors import RigErrors
    from rigproof.files.load_sheet import library_sheets, load_sheet_file

    loaded = load_sheet_file(path)
    module = describe(loaded.require_sheet(), written=loaded.written, library=library_sheets())
    if module.plan.errors:
        raise RigErrors(module.plan.errors)
    return lint_sheet(module)


def exit_code(flaws: list[Flaw]) -> int:
    """Return 1 when anything is wrong, 0 when it is only doubtful."""
    from rigproof.checks.sheet import Weight

    return SHOW_STOPPED if any(f.weight is Weight.WRONG for f in flaws) else FINE


def flaws_data(flaws: list[Flaw]) -> dict[str, Any]:
    """Return flaws for programs."""
    from rigproof.checks.sheet import LINTS, Weight

    return {
        "counts": {w.value: sum(f.weight is w for f in flaws) for w in Weight},
        "flaws": [
            {
                "lint": f.lint,
                "weight": f.weight,
                "at": f.at,
                "message": f.message,
                "fault": LINTS[f.lint].parts["Fault"],
                "why": LINTS[f.lint].parts["Why"],
                "do": LINTS[f.lint].parts["Do"],
                "file": f.where.file or None,
                "line": f.where.line,
            }
            for f in flaws
        ],
    }


def _show(console: Console, flaws_of: dict[str, list[Flaw]], *, notes: bool) -> None:
    for i, (name, flaws) in enumerate(flaws_of.items()):
        if i:
            console.print()
        heading(console, name, "module sheet")
        show_flaws(console, flaws, notes=notes)


def show_flaws(console: Console, flaws: list[Flaw], *, notes: bool) -> None:
    """Print what the lints have found, worst first: each fault once, with its places, why it matters, what to do."""
    from rich.padding import Padding
    from rich.text import Text

    from rigproof.checks.sheet import LINTS, Weight
    from rigproof.cli.screen import safe_text

    shown = [f for f in flaws if notes or f.weight is not Weight.NOTE]
    for name in dict.fromkeys(f.lint for f in shown):
        lint = LINTS[name]
        title = Text.assemble((name, "bold"), ("  " + lint.weight.value, "dim"))
        console.print(title)
        table = grid("!", "<")
        for flaw in shown:
            if flaw.lint == name:
                line = f"  line {flaw.where.line}" if flaw.where.line is not None else ""
                table.add_row(safe_text(flaw.at), safe_text(flaw.message) + line)
        table.add_row(Text("why", style="dim"), lint.parts["Why"])
        table.add_row(Text("do", style="dim"), lint.parts["Do"])
        show_table(console, Padding(table, (0, 0, 1, 2)))
    counts = [(w, sum(f.weight is w for f in flaws)) for w in Weight]
    words = [plural(n, w.value) if w is Weight.NOTE else f"{n} {w.value}" for w, n in counts if n]
    hidden = len(flaws) - len(shown)
    more = "; --notes shows them" if hidden else ""
    console.print(", ".join(words) + more if words else "nothing amiss", style="dim")
