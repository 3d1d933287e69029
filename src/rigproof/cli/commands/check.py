"""`rigproof check`: the proof of a patch."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson, Target
from rigproof.cli.loading import Opened, open_project
from rigproof.cli.problems import UsageError
from rigproof.cli.proof import Proof, proof_data, show_proof
from rigproof.cli.screen import finish

if TYPE_CHECKING:
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
    as_json: AsJson = False,
) -> int:
    """Prove a patch: what the hardware will do, and what would go wrong on stage.

    Exits 1 when a finding would stop the show and the patch does not decline it.
    """
    if sarif == "-" and as_json:
        raise UsageError("--sarif - and --json both print", expected="one of them, or a file")
    opened = open_project(path)
    heard = None
    if seconds is not None or section is not None:
        from rigproof.cli.hearing import hear
        from rigproof.cli.rendering import stretch_of

        heard = hear(opened, stretch_of(opened, section=section, seconds=seconds))
    proof = prove(opened, heard)
    if sarif is not None:
        text = _sarif(opened, proof)
        if sarif == "-":
            print(text, end="")
            return proof.code
        _write(Path(sarif), text)
    return finish(
        "check",
        proof_data(proof),
        lambda console: show_proof(console, proof),
        is_json=as_json,
        code=proof.code,
    )


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
