"""`rigproof new-sheet`: a walk through describing one's own module, from its manual, in five minutes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson
from rigproof.cli.screen import (
    BAD_INPUT,
    STOPPED,
    command_name,
    errors_console,
    finish,
    heading,
    typed,
)
from rigproof.model.sheet import Housing

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.checks.sheet import Flaw
    from rigproof.cli.interview import Interview

KEPT = ".answers"
"""End of the name of the file that keeps the answers of a walk that was stopped."""
FILES_OF = {
    Housing.MODULE: "rig.toml",
    Housing.CONTROLLER: "rig.toml",
    Housing.INTERFACE: "rig.toml",
    Housing.PROGRAM: "NAME.inside.toml",
}
"""The file that a thing of each housing is named in."""


def new_sheet(
    name: Annotated[str | None, Parameter(help="what the sheet is to be called")] = None,
    /,
    *,
    like: Annotated[
        str | None, Parameter(help="the library sheet to begin from, or 'kinds'")
    ] = None,
    kinds: Annotated[
        str | None, Parameter(help="build it from these section kinds, commas between")
    ] = None,
    answers: Annotated[
        Path | None, Parameter(help='a file with answers: question = "answer", a line each')
    ] = None,
    set_: Annotated[
        list[str] | None,
        Parameter("--set", negative="", help="one answer, such as hp=8; may be repeated"),
    ] = None,
    yes: Annotated[
        bool,
        Parameter("--yes", negative="", show_default=False, help="take the default for the rest"),
    ] = False,
    folder: Annotated[
        Path | None, Parameter("--in", help="the project folder; the current folder by default")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Describe your own module: asks what its manual tells and writes modules/NAME.toml.

    Begins from the library sheet most like it, or from section kinds. Never overwrites; what is stopped half-way is
    kept and can be gone on with.
    """
    from rigproof.cli.interview import Interview
    from rigproof.errors import RigErrors
    from rigproof.files.new_file import require_new
    from rigproof.files.sheet_draft import require_id
    from rigproof.files.sheet_files import MODULES

    folder = folder or Path()
    given = given_answers(answers, set_ or [], like=like, kinds=kinds)
    is_asking = not yes and not as_json
    walk = Interview(given, ask_typed if is_asking else None, printed if is_asking else _silent)
    kept: Path | None = None
    try:
        if name is not None:
            walk = Interview({**given, "name": name}, walk.ask, walk.say)
        name = walk.answer("name", "name of the sheet", "my-module", require_id)
        kept = folder / MODULES / f"{name}{KEPT}"
        path = folder / MODULES / f"{name}.toml"
        require_new(path, folder)
        text = describe_module(walk, name)
        housing, flaws = write_sheet(text, path, folder)
    except (KeyboardInterrupt, EOFError) as stop:
        return keep_answers(walk, kept, folder, is_end=isinstance(stop, EOFError))
    except RigErrors:
        if is_asking:
            keep_answers(walk, kept, folder, is_end=False)
        raise
    data = {"file": path, "like": walk.said["like"], "answers": walk.said, **_flaws_data(flaws)}
    return finish(
        "new-sheet",
        data,
        lambda console: _show(console, path, folder, housing, flaws),
        is_json=as_json,
    )


def ask_typed(question: str) -> str:
    """Put a question at the terminal and return what was typed."""
    return input(question)


def printed(line: str) -> None:
    """Print a line between the questions."""
    print(line)


def _silent(line: str) -> None:
    """Say nothing."""


def given_answers(
    file: Path | None, pairs: list[str], *, like: str | None, kinds: str | None
) -> dict[str, str]:
    """Return the answers that are known beforehand; a flag has the last word over the file.

    Raises `UsageError` or `FileError` when they cannot be read.
    """
    from rigproof.cli.problems import UsageError

    given = answers_in(file) if file is not None else {}
    if kinds is not None:
        given |= {"like": "kinds", "kinds": kinds}
    if like is not None:
        given["like"] = like
    for pair in pairs:
        key, equals, text = pair.partition("=")
        if not equals or not key:
            raise UsageError("an answer needs a question", found=repr(pair), expected="--set hp=8")
        given[key.strip()] = text.strip()
    return given


def answers_in(file: Path) -> dict[str, str]:
    """Return the answers in a file: a flat table of questions and answers."""
    from rigproof.errors import ShapeError, Where
    from rigproof.files.text import read_text
    from rigproof.files.toml_text import parse_toml

    raw, lines = parse_toml(read_text(file, file.parent), file.name)
    for key, value in raw.items():
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ShapeError(
                lines.where((key,)) if key in raw else Where(file.name),
                "an answer is a text or a number",
                expected='question = "answer"',
            )
    return {key: f"{v:g}" if isinstance(v, float) else str(v) for key, v in raw.items()}


def describe_module(walk: Interview, name: str) -> str:
    """Ask everything and return the text of the sheet."""
    from rigproof.cli.describing import ask_controls, ask_figures, ask_jacks, ask_summary, start
    from rigproof.files.load_sheet import library_sheets, library_texts
    from rigproof.files.sheet_draft import with_head

    draft = start(walk, library_texts(), library_sheets(), name=name)
    is_from_library = walk.said["like"] != "kinds"
    begun = draft.shape
    ask_figures(walk, draft, name=name, is_from_library=is_from_library)
    ask_jacks(walk, draft)
    ask_controls(walk, draft)
    ask_summary(walk, draft, like=walk.said["like"], begun=begun)
    walk.require_all_used()
    whose = (
        "the maker's"
        if draft.plain["typical"] is False
        else "typical of such a module and no maker's"
    )
    source = (
        f"from the library's '{walk.said['like']}'" if is_from_library else "from section kinds"
    )
    return with_head(draft.text, f"Described {source}. Its figures are {whose}.")


def write_sheet(text: str, path: Path, folder: Path) -> tuple[Housing, list[Flaw]]:
    """Write a sheet that loads and fits its kinds, and return its housing and what the lints say of it.

    Raises `RigErrors` when it does not, and writes nothing then.
    """
    from rigproof.checks.sheet import describe, lint_sheet
    from rigproof.errors import RigErrors
    from rigproof.files.load_sheet import library_sheets, load_sheet_text
    from rigproof.files.new_file import write_new
    from rigproof.files.text import place

    loaded = load_sheet_text(text, file=place(path, folder), name=path.stem)
    module = describe(loaded.require_sheet(), written=loaded.written, library=library_sheets())
    if module.plan.errors:
        raise RigErrors(module.plan.errors)
    write_new(path, text.encode("utf-8"), folder)
    return module.sheet.housing, lint_sheet(module)


def keep_answers(walk: Interview, kept: Path | None, folder: Path, *, is_end: bool) -> int:
    """Put the answers so far where the walk can be gone on with, and say so."""
    from rigproof.errors import Where
    from rigproof.files.atomic import cannot_write, write_whole
    from rigproof.files.sheet_draft import toml_value

    console = errors_console()
    code = BAD_INPUT if is_end else STOPPED
    why = "there are no more answers" if is_end else "stopped"
    said = {k: text for k, text in {**walk.given, **walk.said}.items() if k != "name"}
    if kept is None or not said:
        console.print(f"{why}; nothing had been answered, nothing was written", highlight=False)
        return code
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise cannot_write(Where(str(kept.parent)), error) from None
    lines = [f"{toml_value(key)} = {toml_value(text)}" for key, text in said.items()]
    write_whole(kept, ("\n".join(lines) + "\n").encode("utf-8"), folder)
    console.print(f"\n{why}; the answers so far are kept in {kept}. Go on with:", soft_wrap=True)
    words = f"new-sheet {walk.said['name']} --answers {typed(kept)}{in_folder(folder)}"
    console.print(f"  {command_name()} {words}", soft_wrap=True)
    return code


def in_folder(folder: Path) -> str:
    """Return the flag that names the folder, where it is not the current one."""
    return "" if folder == Path() else f" --in {typed(folder)}"


def _flaws_data(flaws: list[Flaw]) -> dict[str, Any]:
    from rigproof.cli.commands.lint_sheet import flaws_data

    return flaws_data(flaws)


def _show(console: Console, path: Path, folder: Path, housing: Housing, flaws: list[Flaw]) -> None:
    from rigproof.cli.commands.lint_sheet import show_flaws

    name = path.stem
    heading(console, str(path), "new module sheet")
    show_flaws(console, flaws, notes=False)
    console.print()
    console.print(f"Put it into {FILES_OF[housing]}:", style="dim")
    place = "\n  row = 1\n  hp = 0" if housing is Housing.MODULE else ""
    console.print(f'  [[{housing.value}]]\n  id = "{name}"\n  sheet = "{name}"{place}')
    console.print(
        f"  {command_name()} lint-sheet {name} --notes{in_folder(folder)}",
        style="dim",
        soft_wrap=True,
    )
