"""`rigproof check`: the proof of a patch."""

from __future__ import annotations

from rigproof.cli.arguments import AsJson, Target
from rigproof.cli.loading import Opened, open_project
from rigproof.cli.proof import Proof, proof_data, show_proof
from rigproof.cli.screen import finish


def prove(opened: Opened) -> Proof:
    """Return the proof of a project that loads."""
    from rigproof.checks import run_checks
    from rigproof.checks.base import Bench
    from rigproof.readings.proof import read
    from rigproof.readings.survey import survey

    readings = read(opened.net)
    bench = Bench(opened.project, opened.net, readings)
    return Proof(survey(readings), tuple(run_checks(bench)))


def check(path: Target = None, /, *, as_json: AsJson = False) -> int:
    """Prove a patch: what the hardware will do, and what would go wrong on stage.

    Exits 1 when a finding would stop the show and the patch does not decline it.
    """
    proof = prove(open_project(path))
    return finish(
        "check",
        proof_data(proof),
        lambda console: show_proof(console, proof),
        is_json=as_json,
        code=proof.code,
    )
