"""Panel: where things sit on the face of the case, in millimetres from the top left corner of its first row."""

from __future__ import annotations

import math
from itertools import pairwise

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


def control_mm(project: Project, name: str) -> tuple[float, float] | None:
    """Return where the middle of a control (`module.control`) is, or None like `jack_mm`."""
    module, _, control_id = name.partition(".")
    place = mounted(project, module)
    sheet = project.sheets.get(place.sheet) if place is not None else None
    control = sheet.controls.get(control_id) if sheet is not None else None
    if place is None or sheet is None or control is None or control.at_mm is None:
        return None
    return face_mm(place, sheet, control.at_mm) if sheet.housing is Housing.MODULE else None


PIECES = 12
"""Straight pieces that stand for a hanging cable."""
HALVINGS = 20


def hanging_mm(
    a: tuple[float, float], b: tuple[float, float], length_mm: float
) -> tuple[tuple[float, float], ...]:
    """Return the points along a cable that hangs from two jacks of an upright case; y grows downwards. [mm]

    A parabola, which a slack chain nearly is, as long as the cable; a cable that does not reach is drawn straight. What
    it leaves out: stiffness, plugs that stand away from the panel, and other cables.

    Source: a chain under its own weight with little sag is nearly a parabola (Galileo's and Huygens's chain; any
    mechanics course): from memory.
    """

    def hung(sag_mm: float) -> tuple[tuple[float, float], ...]:
        points = []
        for i in range(PIECES + 1):
            t = i / PIECES
            drop = 4.0 * sag_mm * t * (1.0 - t)
            points.append((a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t + drop))
        return tuple(points)

    lo, hi = 0.0, length_mm
    for _ in range(HALVINGS):
        middle = 0.5 * (lo + hi)
        if path_mm(hung(middle)) > length_mm:
            hi = middle
        else:
            lo = middle
    return hung(lo)


def path_mm(points: tuple[tuple[float, float], ...]) -> float:
    """Return how long a path of straight pieces is. [mm]

    >>> path_mm(((0.0, 0.0), (3.0, 4.0), (3.0, 5.0)))
    6.0
    """
    return sum(math.dist(p, q) for p, q in pairwise(points))


def passes_mm(points: tuple[tuple[float, float], ...], at: tuple[float, float]) -> float:
    """Return how near a path of straight pieces comes to a point. [mm]

    >>> passes_mm(((0.0, 0.0), (10.0, 0.0)), (4.0, 3.0))
    3.0
    """
    return min(_from_piece_mm(p, q, at) for p, q in pairwise(points))


def _from_piece_mm(
    p: tuple[float, float], q: tuple[float, float], at: tuple[float, float]
) -> float:
    dx, dy = q[0] - p[0], q[1] - p[1]
    square = dx * dx + dy * dy
    along = ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / square if square else 0.0
    along = min(1.0, max(0.0, along))
    return math.hypot(at[0] - p[0] - along * dx, at[1] - p[1] - along * dy)
