"""Changes to the files, as `check` shows them before and makes them: fixes of findings, and findings declined.

Nothing is on the disk until `write` is called, and what the files would then say has been loaded and proved before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import unified_diff
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.checks import CHECKS, Bench, Finding, run_checks
from rigproof.checks.mend import mend, named
from rigproof.cli.loading import Texts
from rigproof.cli.problems import UsageError, unknown
from rigproof.cli.screen import ACCENT, command_name, safe_text, typed
from rigproof.errors import RigError
from rigproof.files.apply_edits import ProjectEdits
from rigproof.files.load import Loaded
from rigproof.files.save_edits import save_edits
from rigproof.files.text import place
from rigproof.model.edits import Decline, Edit
from rigproof.model.project import Project
from rigproof.units import plural

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, slots=True)
class Change:
    """One change to the files: what it is for, in words, and line by line."""

    finding: str
    at: str
    words: str
    is_safe: bool
    is_made: bool
    diffs: Mapping[str, str]
    """By the name of the file."""
    refused: str = ""
    """Why the files cannot take it; nothing where they can."""


@dataclass(frozen=True)
class Changes:
    """What is to change in a project's files, and what could."""

    loaded: Loaded
    each: tuple[Change, ...]
    texts: Texts

    def write(self) -> None:
        """Put the changes on the disk; raises `FileError`, and then none of them is."""
        save_edits(self.texts, self.loaded.folder)


def fixes(loaded: Loaded, names: Sequence[str], at: str | None) -> Changes:
    """Return the fixes of a project's findings: without names those that are safe are made, else the named ones.

    Raises `UsageError` when a name is none, or nothing is found under it that has a fix and is not declined.
    """
    project = loaded.require_project()
    for name in names:
        _require_fixable(project, name, at)
    done = mend(project, CHECKS.values(), named(names, at) if names else None)
    files = ProjectEdits(loaded)
    each = [_made(files, f.check, f.at, _edits(f), is_safe=_is_safe(f)) for f in done.made]
    made = [edit for finding in done.made for edit in _edits(finding)]
    each += [_possible(loaded, made, finding) for finding in done.left]
    return Changes(loaded, tuple(each), files.changed())


def declining(loaded: Loaded, name: str, at: str, reason: str) -> Changes:
    """Return the change that lets a finding stand.

    Raises `UsageError` when nothing is found under that name and place, or it is declined already.
    """
    if not reason.strip():
        raise UsageError("--reason says nothing", expected="why the finding may stand")
    _require_open(_found(loaded.require_project(), name, at), name)
    files = ProjectEdits(loaded)
    change = _made(files, name, at, (Decline(name, at, reason.strip()),), is_safe=False)
    return Changes(loaded, (change,), files.changed())


def _edits(finding: Finding) -> tuple[Edit, ...]:
    return finding.fix.edits if finding.fix is not None else ()


def _is_safe(finding: Finding) -> bool:
    return finding.fix is not None and finding.fix.is_safe


def require_findings(names: Sequence[str]) -> None:
    """Raise `UsageError` when one of the names is no finding."""
    for name in names:
        if name not in CHECKS:
            error = unknown("finding", name, CHECKS)
            if error.nearest is None and Path(name).exists():
                raise UsageError(
                    f"'{safe_text(name)}' is no finding", expected="the project before --apply"
                )
            raise error


def _found(project: Project, name: str, at: str | None) -> list[Finding]:
    """Return what is found under a name, at one place where one is given; raises `UsageError` when nothing is."""
    found = [f for f in run_checks(Bench.of(project)) if f.check == name]
    here = [f for f in found if at in (None, f.at)]
    if not found:
        raise UsageError(f"nothing is found under the name '{name}'")
    if not here and at is not None:
        raise unknown(f"{name} at", at, [f.at for f in found])
    return here


def _require_open(found: Sequence[Finding], name: str) -> None:
    declined = [f for f in found if f.declined is not None]
    if len(declined) == len(found):
        first = declined[0]
        raise UsageError(
            f"{name} at {safe_text(first.at)} is declined already", found=f"'{first.declined}'"
        )


def _require_fixable(project: Project, name: str, at: str | None) -> None:
    found = _found(project, name, at)
    _require_open(found, name)
    if not any(f.fix is not None and f.declined is None for f in found):
        where = "" if at is None else f" at {safe_text(at)}"
        raise UsageError(
            f"{name}{where} has no fix that can be computed", expected=CHECKS[name].parts["Fix"]
        )


def _made(
    files: ProjectEdits, name: str, at: str, edits: Sequence[Edit], *, is_safe: bool
) -> Change:
    """Make edits in the texts that are open; raises `RigError` when the files cannot take them."""
    before = {path: after for path, (_, after) in files.changed().items()}
    for edit in edits:
        files.apply(edit)
    words = "; ".join(edit.words for edit in edits)
    return Change(name, at, words, is_safe, True, _diffs(files, before))


def _possible(loaded: Loaded, made: Sequence[Edit], finding: Finding) -> Change:
    """Return a fix that is only shown, on top of those that are made."""
    files = ProjectEdits(loaded)
    for edit in made:
        files.apply(edit)
    edits = _edits(finding)
    try:
        change = _made(files, finding.check, finding.at, edits, is_safe=_is_safe(finding))
    except RigError as error:
        words = "; ".join(edit.words for edit in edits)
        return Change(finding.check, finding.at, words, _is_safe(finding), False, {}, error.problem)
    return replace(change, is_made=False)


def _diffs(files: ProjectEdits, before: Mapping[Path, str]) -> dict[str, str]:
    found = {}
    for path, (old, new) in files.changed().items():
        earlier, name = before.get(path, old), place(path, files.loaded.folder)
        lines = unified_diff(
            earlier.splitlines(), new.splitlines(), f"{name}, before", f"{name}, after", lineterm=""
        )
        text = "\n".join(lines)
        if text:
            found[name] = text
    return found


# --- for people and for programs -------------------------------------------------------------------------------------


def changes_data(changes: Changes | None) -> list[dict[str, Any]] | None:
    """Return changes for programs; None where nobody asked for any."""
    if changes is None:
        return None
    return [
        {
            "finding": c.finding,
            "at": c.at,
            "words": c.words,
            "is_safe": c.is_safe,
            "is_made": c.is_made,
            "refused": c.refused or None,
            "diffs": c.diffs,
        }
        for c in changes.each
    ]


def show_changes(console: Console, changes: Changes, project: Path | None = None) -> None:
    """Print the changes line by line, those that are made first; `project` is where the performer said it is."""
    from rich.padding import Padding
    from rich.text import Text

    for change in changes.each:
        sign, word = ("▶", "made") if change.is_made else ("·", "not made")
        title = f"{change.finding} at {safe_text(change.at)}"
        console.print(Text.assemble((f"{sign} {word}  ", "bold"), (title, ACCENT)), soft_wrap=True)
        console.print(Padding.indent(Text(safe_text(change.words)), 2))
        if change.refused:
            refusal = Text(f"the files cannot take it: {safe_text(change.refused)}")
            console.print(Padding.indent(refusal, 2))
        for diff in change.diffs.values():
            for line in diff.splitlines():
                style = "bold" if line[:1] in "+-" else "dim"
                console.print(Text(f"  {safe_text(line)}", style=style), soft_wrap=True)
        console.print()
    made = [c for c in changes.each if c.is_made]
    left = len(changes.each) - len(made)
    parts = [plural(len(made), "change") + " made"] if made else ["nothing is changed"]
    if left:
        there = "" if project is None else f" {typed(project)}"
        parts.append(f"{left} more can be made by name: {command_name()} check{there} --apply NAME")
    told = "; ".join(parts) if changes.each else "there is nothing to mend"
    console.print(Text(told, "bold"), soft_wrap=True)
    if made:
        console.print(Text("The files say so now; the rig does when your hands have done it."))
    for caution in dict.fromkeys(CHECKS[c.finding].caution for c in made):
        if caution:
            console.print(Text(f"Caution: {caution}"))
    console.print()
