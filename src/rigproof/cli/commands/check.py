"""`rigproof check`: the proof of a patch."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson, Target
from rigproof.cli.loading import Opened, open_project
from rigproof.cli.problems import UsageError
from rigproof.cli.proof import Proof, proof_data, show_proof
from rigproof.cli.screen import finish

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.cli.changes import Changes
    from rigproof.readings.heard import Heard


def prove(opened: Opened, heard: Heard | None = None) -> Proof:
    """Return the proof of a project that loads, with what a stretch of sound has shown where one was played."""
    from rigproof.checks import run_checks
    from rigproof.checks.base import Bench
    from rigproof.readings.proof import read
    from rigproof.readings.survey import survey

    readings = read(opened.net)
    bench = Bench(opened.project, opened.net, readings, heard)
    return Proof(survey(readings), tuple(run_checks(bench)), heard)


def check(
    path: Target = None,
    /,
    *,
    seconds: Annotated[
        float | None,
        Parameter(help="also play so many seconds and tell what was seen from what is possible"),
    ] = None,
    section: Annotated[
        str | None, Parameter(help="play this section of the set instead of its beginning")
    ] = None,
    sarif: Annotated[
        str | None,
        Parameter(
            help="also write the findings as SARIF 2.1.0, for editors; - prints them",
            allow_leading_hyphen=True,
        ),
    ] = None,
    apply: Annotated[
        list[str] | None,
        Parameter(
            consume_multiple=True,
            negative=(),
            show_default=False,
            help="show every computed fix line by line, and make those that are safe; with names of findings, "
            "make theirs",
        ),
    ] = None,
    decline: Annotated[
        str | None, Parameter(help="let this finding stand; needs --at and --reason")
    ] = None,
    at: Annotated[
        str | None, Parameter(help="the place of the finding, as the proof tells it")
    ] = None,
    reason: Annotated[str | None, Parameter(help="why the finding may stand")] = None,
    as_json: AsJson = False,
) -> int:
    """Prove a patch: what the hardware will do, and what would go wrong on stage.

    Exits 1 when a finding would stop the show and the patch does not decline it. Writes to no file of the project
    without --apply or --decline.
    """
    if sarif == "-" and as_json:
        raise UsageError("--sarif - and --json both print", expected="one of them, or a file")
    _require_sense(apply, decline, at, reason, is_played=seconds is not None or section is not None)
    opened = open_project(path)
    changes = _changes(opened, apply, decline, at, reason)
    if changes is not None:
        opened = open_project(path, instead=changes.texts)
    heard = None
    if seconds is not None or section is not None:
        from rigproof.cli.hearing import hear
        from rigproof.cli.rendering import stretch_of

        heard = hear(opened, stretch_of(opened, section=section, seconds=seconds))
    proof = prove(opened, heard)
    if changes is not None:
        changes.write()
    if sarif is not None:
        text = _sarif(opened, proof)
        if sarif == "-":
            print(text, end="")
            return proof.code
        _write(Path(sarif), text)
    return finish(
        "check",
        {**proof_data(proof), "changes": _changes_data(changes)},
        lambda console: _show(console, proof, changes, path),
        is_json=as_json,
        code=proof.code,
    )


def _require_sense(
    apply: list[str] | None,
    decline: str | None,
    at: str | None,
    reason: str | None,
    *,
    is_played: bool,
) -> None:
    """Raise `UsageError` when options are asked for together that do not go together."""
    if apply is not None and decline is not None:
        raise UsageError("--apply and --decline at once", expected="one after the other")
    if decline is not None and (at is None or reason is None):
        raise UsageError(
            "--decline lacks something", expected="--decline NAME --at PLACE --reason TEXT"
        )
    if reason is not None and decline is None:
        raise UsageError(
            "--reason without --decline", expected="--decline NAME --at PLACE --reason TEXT"
        )
    if at is not None and decline is None and not apply:
        raise UsageError("--at without a finding", expected="--apply NAME or --decline NAME")
    if is_played and (apply is not None or decline is not None):
        raise UsageError(
            "--apply and --decline go by the files alone, not by what is heard",
            expected="no --seconds and no --section",
        )
    if apply or decline is not None:
        from rigproof.cli.changes import require_findings

        require_findings([decline] if decline is not None else apply or [])


def _changes(
    opened: Opened,
    apply: list[str] | None,
    decline: str | None,
    at: str | None,
    reason: str | None,
) -> Changes | None:
    """Return what is to be changed in the files, or None where nobody asks for it."""
    if apply is None and decline is None:
        return None
    from rigproof.cli.changes import declining, fixes

    if apply is not None:
        return fixes(opened.loaded, apply, at)
    if decline is not None and at is not None and reason is not None:
        return declining(opened.loaded, decline, at, reason)
    return None


def _changes_data(changes: Changes | None) -> list[dict[str, Any]] | None:
    if changes is None:
        return None
    from rigproof.cli.changes import changes_data

    return changes_data(changes)


def _show(console: Console, proof: Proof, changes: Changes | None, path: Path | None) -> None:
    if changes is not None:
        from rigproof.cli.changes import show_changes

        show_changes(console, changes, path)
    show_proof(console, proof)


def _sarif(opened: Opened, proof: Proof) -> str:
    from rigproof import __version__
    from rigproof.checks import CHECKS
    from rigproof.cli.sarif import sarif_log, sarif_text

    return sarif_text(
        sarif_log(proof.findings, CHECKS.values(), version=__version__, folder=opened.folder)
    )


def _write(path: Path, text: str) -> None:
    from rigproof.files.atomic import write_whole

    if not path.absolute().parent.is_dir():
        raise UsageError("--sarif names a folder that is not there", found=f"'{path.parent}'")
    if path.exists() and not path.is_file():
        raise UsageError("--sarif names something that is no file", found=f"'{path}'")
    write_whole(path.absolute(), text.encode("utf-8"), path.absolute().parent)
