"""Panel: where things sit on the face of the case, in millimetres from the top left corner of its first row."""

from __future__ import annotations

import math

from rigproof.model.project import Project
from rigproof.model.rig import HP_MM, Mounted
from rigproof.model.sheet import Housing, Jack, Sheet

ROW_PITCH_MM = 133.35
"""From the top of one row to the top of the next: 3U of 44.45 mm. IEC 60297-3-100. [mm]"""
PANEL_HEIGHT_MM = 128.5
"""Height of a panel of 3U. Common practice, no source. [mm]"""


def mounted(project: Project, module: str) -> Mounted | None:
    """Return where a module is mounted, or None for what stands outside the case."""
    return next((m for m in project.rig.modules if m.id == module), None)


def face_mm(place: Mounted, sheet: Sheet, at_mm: tuple[float, float]) -> tuple[float, float]:
    """Return the place on the face of the case of a point on a panel; a turned module is turned about its middle."""
    x, y = at_mm
    if place.turned:
        x, y = sheet.hp * HP_MM - x, PANEL_HEIGHT_MM - y
    return place.hp * HP_MM + x, (place.row - 1) * ROW_PITCH_MM + y


def jack_mm(project: Project, name: str) -> tuple[float, float] | None:
    """Return where a jack (`module.jack`) sits, or None when it is outside the case or its sheet does not say."""
    module, _, jack_id = name.partition(".")
    place = mounted(project, module)
    sheet = project.sheets.get(place.sheet) if place is not None else None
    jack: Jack | None = sheet.jacks.get(jack_id) if sheet is not None else None
    if place is None or sheet is None or jack is None or jack.at_mm is None:
        return None
    return face_mm(place, sheet, jack.at_mm) if sheet.housing is Housing.MODULE else None


def straight_mm(project: Project, source: str, target: str) -> float | None:
    """Return the straight line between two jacks, or None when one of them has no place on the face. [mm]"""
    a, b = jack_mm(project, source), jack_mm(project, target)
    return math.dist(a, b) if a is not None and b is not None else None
