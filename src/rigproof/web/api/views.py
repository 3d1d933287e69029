"""What a client sees of a session: the project, its proof, its readings and traces, as data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.checks import CHECKS, Finding, Severity
from rigproof.checks.ends import ends_for
from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.model.project import Project
from rigproof.model.sheet import Control, RawValue
from rigproof.net.values import control_value
from rigproof.readings.diagram import diagram
from rigproof.readings.survey import survey
from rigproof.readings.telling import told
from rigproof.readings.trace import trace
from rigproof.web.api.plain import plain
from rigproof.web.api.problems import Refusal, error_data, refused_edit, where_data
from rigproof.web.api.session import Proved, Session, State


def project_view(session: Session, *, with_sheets: bool = True) -> dict[str, Any]:
    """Return everything that the files say, and what is wrong with them; the sheets only where they are wanted."""
    state = session.state
    project = state.loaded.partial
    return {
        "empty": False,
        "revision": state.revision,
        "folder": session.folder.name,
        "files": session.text_names(),
        "errors": [error_data(error) for error in state.errors],
        **session.travel_words(),
        "rig": None if project is None else plain(project.rig),
        "patch": None
        if project is None or not state.loaded.is_patch_read
        else plain(project.patch),
        "set": None if project is None else plain(project.setlist),
        "insides": [] if project is None else plain(project.insides),
        "sheets": {} if project is None or not with_sheets else plain(project.sheets),
        "controls": {} if project is None else controls_view(project),
    }


def empty_view(folder: str, errors: Sequence[RigError]) -> dict[str, Any]:
    """Return the same of a folder that holds no project yet."""
    return {
        "empty": True,
        "revision": 0,
        "folder": folder,
        "files": [],
        "errors": [error_data(error) for error in errors],
        "undo": None,
        "redo": None,
        "rig": None,
        "patch": None,
        "set": None,
        "insides": [],
        "sheets": {},
        "controls": {},
    }


def controls_view(project: Project) -> dict[str, Any]:
    """Return every control of the rig: its unit and range, where it stands, and what the patch says of it."""
    said = {setting.control: setting.value for setting in project.patch.settings}
    found: dict[str, Any] = {}
    for module, sheet_name in project.rig.sheet_names.items():
        sheet = project.sheets.get(sheet_name)
        for control in sheet.controls.values() if sheet is not None else ():
            name = f"{module}.{control.id}"
            found[name] = control_view(control, said.get(name))
    return found


def control_view(control: Control, said: RawValue | None) -> dict[str, Any]:
    """Return one control. `value` is in its unit, None where what the patch says is no good."""
    value = control.default if said is None else control_value(said, control, NOWHERE)
    return {
        "shape": control.shape.value,
        "unit": control.unit,
        "lo": control.lo,
        "hi": control.hi,
        "taper": control.taper.value,
        "choices": list(control.choices),
        "stepped": control.is_stepped,
        "default": control.default,
        "said": plain(said),
        "value": None if isinstance(value, RigError) else value,
    }


def proof_view(proved: Proved) -> dict[str, Any]:
    """Return the survey and the findings, worst first, with their fixes."""
    return {
        "revision": proved.revision,
        "survey": plain(survey(proved.readings)),
        "counts": {
            severity.value: sum(
                f.severity is severity and f.declined is None for f in proved.findings
            )
            for severity in Severity
        },
        "findings": [finding_view(finding) for finding in proved.findings],
    }


def finding_view(finding: Finding) -> dict[str, Any]:
    """Return one finding with its words, numbers and fix."""
    check = CHECKS[finding.check]
    fix = finding.fix
    return {
        "finding": finding.check,
        "family": check.family,
        "severity": finding.severity.value,
        "at": finding.at,
        "where": where_data(finding.where),
        "message": finding.message,
        "evidence": plain(finding.evidence),
        "fix": None if fix is None else {"words": fix.words, "safe": fix.is_safe},
        "declined": finding.declined,
        "caution": check.caution,
        "explanation": plain(check.parts),
    }


def readings_view(session: Session) -> dict[str, Any]:
    """Return what is read at every contact of every jack, and when every control is heard."""
    revision, bench = session.bench()
    readings = bench.readings
    return {
        "revision": revision,
        "jacks": {
            name: {
                "module": found.contact.module,
                "jack": found.contact.jack.id,
                "lane": found.contact.lane,
                "signal": found.contact.jack.signal.value,
                "plugged": found.contact.is_plugged,
                "row": found.contact.row,
                "node": found.contact.node,
                "volts": [found.span.lo, found.span.hi],
                "level": plain(found.level),
                "pulse": plain(found.pulse),
                "heard": plain(readings.to_ears.get(found.contact.row)),
            }
            for name, found in readings.jacks().items()
        },
        "heard_after": plain(readings.heard_after),
        "differences": plain(readings.differences),
        "headroom": plain(readings.headroom),
    }


def trace_view(proved: Proved, start: str, at: float | None) -> dict[str, Any]:
    """Return all that a control, jack or section leads to.

    Raises `Refusal` when there is no such start, or the control cannot stand there.
    """
    try:
        found = trace(proved.readings, start, at=at)
    except UnknownName as error:
        raise Refusal(404, "no-such-place", "There is no such place.", errors=[error]) from None
    except ValueError as error:
        wrong = RigError(NOWHERE, "the control cannot stand there", expected=str(error))
        raise refused_edit([wrong]) from None
    return {"revision": proved.revision, **plain(found), "told": f"{told(found)}."}


def ends_view(session: Session, jack: str, without: int | None) -> dict[str, Any]:
    """Return to which jacks a cable from a jack may go, and why not to the others; one cable may be thought away.

    Raises `Refusal` when there is no such jack or cable.
    """
    revision, bench = session.bench()
    try:
        found = ends_for(bench, jack, without=without)
    except UnknownName as error:
        raise Refusal(404, "no-such-place", "There is no such place.", errors=[error]) from None
    except IndexError:
        raise Refusal(404, "no-such-place", "There is no such cable.") from None
    return {
        "revision": revision,
        "jack": jack,
        "ends": [
            {
                "jack": end.jack,
                "ok": end.why_not is None,
                "why": end.why_not,
                "warns": list(end.warnings),
                "lead": end.lead,
                "cables": list(end.cables),
            }
            for end in found
        ],
    }


def diagram_view(session: Session) -> dict[str, Any]:
    """Return what there is to draw of the patch."""
    revision, bench = session.bench()
    return {"revision": revision, **plain(diagram(bench.readings))}


def errors_view(state: State) -> list[dict[str, Any]]:
    """Return all that is wrong with the files."""
    return [error_data(error) for error in state.errors]
