"""Findings as SARIF 2.1.0, so that an editor shows each at its line.

Source: OASIS, Static Analysis Results Interchange Format (SARIF) Version 2.1.0, OASIS Standard, 27 March 2020. Section
numbers below are its own.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from rigproof.checks.base import Check, Finding, Severity
from rigproof.cli.screen import plain_data

VERSION = "2.1.0"
SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
LEVELS = {
    Severity.STOPS_THE_SHOW: "error",
    Severity.HURTS: "warning",
    Severity.WORTH_KNOWING: "note",
}
"""3.27.10: how bad a result is."""
BASE = "PROJECT"
"""Stands for the project's folder (3.14.14)."""


def sarif_log(
    findings: Sequence[Finding], checks: Iterable[Check], *, version: str, folder: Path
) -> dict[str, Any]:
    """Return the findings as one run of one tool; a declined finding is a suppressed result (3.27.23)."""
    rules = list(checks)
    places = {check.name: i for i, check in enumerate(rules)}
    return {
        "$schema": SCHEMA,
        "version": VERSION,
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "rigproof",
                        "version": version,
                        "rules": [_rule(check) for check in rules],
                    }
                },
                "originalUriBaseIds": {BASE: {"uri": folder.resolve().as_uri() + "/"}},
                "columnKind": "unicodeCodePoints",
                "results": [_result(f, places[f.check]) for f in findings],
            }
        ],
    }


def _rule(check: Check) -> dict[str, Any]:
    """3.49: what a rule says of itself."""
    return {
        "id": check.name,
        "shortDescription": {"text": check.parts["Fault"]},
        "fullDescription": {"text": check.parts["On stage"]},
        "help": {"text": check.explanation},
        "defaultConfiguration": {"level": LEVELS[check.severity]},
        "properties": {"family": check.family, "since": check.since},
    }


def _result(finding: Finding, rule: int) -> dict[str, Any]:
    """3.27: one result. A fix is told in words, since it need not be a change of text."""
    text = finding.message
    if finding.fix is not None:
        text += f" Fix: {finding.fix.words}."
    location: dict[str, Any] = {"logicalLocations": [{"fullyQualifiedName": finding.at}]}
    if finding.where.file:
        physical: dict[str, Any] = {
            "artifactLocation": {"uri": Path(finding.where.file).as_posix(), "uriBaseId": BASE}
        }
        if finding.where.line is not None:
            physical["region"] = {"startLine": finding.where.line}
        location["physicalLocation"] = physical
    result: dict[str, Any] = {
        "ruleId": finding.check,
        "ruleIndex": rule,
        "level": LEVELS[finding.severity],
        "message": {"text": text},
        "locations": [location],
        "partialFingerprints": {"place/v1": f"{finding.check} {finding.at}"},
        "properties": {"evidence": dict(finding.evidence)},
    }
    if finding.declined is not None:
        result["suppressions"] = [{"kind": "inSource", "justification": finding.declined}]
    return result


def sarif_text(log: dict[str, Any]) -> str:
    """Return a log as it is written."""
    return json.dumps(plain_data(log), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
