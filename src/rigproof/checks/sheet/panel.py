"""Lints of the panel: what has a place, what lies off it, and what stands in the way of what."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from rigproof.checks.sheet.base import Described, Flaw, Weight, lint
from rigproof.model.panel import PANEL_HEIGHT_MM
from rigproof.model.rig import HP_MM
from rigproof.model.sheet import Control, ControlShape, Housing, Plug

PLUG_APART_MM = {Plug.LINE: 15.0, Plug.MIDI_DIN: 16.0}
"""What a plug needs to the middle of its neighbour, half from each; 3.5 mm plugs need 10 mm. Common practice. [mm]"""
MINI_APART_MM = 10.0
"""Two 3.5 mm plugs side by side need this from centre to centre. Common practice, no source. [mm]"""
NUT_MM = 4.0
"""Half of a socket's nut: no socket is nearer to the edge. Common practice, no source. [mm]"""
HAND_MM = {
    ControlShape.KNOB: 10.0,
    ControlShape.ENCODER: 10.0,
    ControlShape.BUTTON: 6.0,
    ControlShape.SWITCH: 6.0,
    ControlShape.TRIMMER: 4.0,
    ControlShape.FADER: 20.0,
    ControlShape.MENU: 0.0,
}
"""Diameter of a control, or length of a fader, where a sheet is silent. Common practice, no source. [mm]"""
FADER_CAP_MM = 8.0
"""Width of a fader's cap. Common practice, no source. [mm]"""
TOUCH_MM = 0.05
"""Things that overlap by less than a drawing is exact do not overlap. [mm]"""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom. [mm]"""


def size_mm(control: Control) -> float:
    """Return a control's diameter, or a fader's length."""
    return control.size_mm if control.size_mm is not None else HAND_MM[control.shape]


def halves_mm(control: Control) -> tuple[float, float]:
    """Return half the width and half the height that a control takes; a fader stands upright."""
    half = size_mm(control) / 2.0
    return (FADER_CAP_MM / 2.0, half) if control.shape is ControlShape.FADER else (half, half)


def overlap(a: Control, b: Control) -> bool:
    """Return whether two placed controls stand in each other: round ones by distance, faders as boxes."""
    if a.at_mm is None or b.at_mm is None:
        return False
    if ControlShape.FADER not in (a.shape, b.shape):
        return math.dist(a.at_mm, b.at_mm) < (size_mm(a) + size_mm(b)) / 2.0 - TOUCH_MM
    (wide_a, high_a), (wide_b, high_b) = halves_mm(a), halves_mm(b)
    return (
        abs(a.at_mm[0] - b.at_mm[0]) < wide_a + wide_b - TOUCH_MM
        and abs(a.at_mm[1] - b.at_mm[1]) < high_a + high_b - TOUCH_MM
    )


def panel_box(module: Described) -> Box | None:
    """Return the edges of the panel, or None where the sheet does not say how wide it is."""
    if module.sheet.housing is not Housing.MODULE or module.sheet.hp <= 0:
        return None
    return (0.0, 0.0, module.sheet.hp * HP_MM, PANEL_HEIGHT_MM)


def is_within(at: tuple[float, float], half: tuple[float, float], box: Box) -> bool:
    """Return whether a thing of this size lies wholly within a box."""
    return (
        box[0] - TOUCH_MM <= at[0] - half[0]
        and at[0] + half[0] <= box[2] + TOUCH_MM
        and box[1] - TOUCH_MM <= at[1] - half[1]
        and at[1] + half[1] <= box[3] + TOUCH_MM
    )


@lint("place-missing", Weight.NOTE)
def place_missing(module: Described) -> Iterator[Flaw]:
    """Nobody says where a jack or a control sits.

    Why: without a place no cable can be measured, and the papers show no panel to plug into.
    Do: measure from the panel's left and top edge and write `at_mm = [x, y]`.
    Source: common practice, no source.
    """
    if not module.has_panel():
        return
    for jack in module.panel_jacks():
        if jack.at_mm is None:
            yield Flaw(f"jacks.{jack.id}", "no place on the panel", jack.where)
    for control in module.panel_controls():
        if control.at_mm is None:
            yield Flaw(f"controls.{control.id}", "no place on the panel", control.where)


@lint("off-the-panel", Weight.WRONG)
def off_the_panel(module: Described) -> Iterator[Flaw]:
    """A jack or a control lies outside the panel, or over its edge.

    Why: a place is measured wrong, or the width is; cables are then counted too short or too long.
    Do: measure again from the panel's left and top edge in millimetres; 1 HP is 5.08 mm, and a panel is 128.5 mm high.
    Source: 1 HP = 5.08 mm: IEC 60297-3-101; 128.5 mm: common practice for 3U panels.
    """
    box = panel_box(module)
    if box is None:
        return
    things = [(f"jacks.{j.id}", j.at_mm, (NUT_MM, NUT_MM), j.where) for j in module.panel_jacks()]
    things += [
        (f"controls.{c.id}", c.at_mm, halves_mm(c), c.where) for c in module.panel_controls()
    ]
    for name, at, half, where in things:
        if at is not None and not is_within(at, half, box):
            yield Flaw(
                name,
                f"at {at[0]:g}, {at[1]:g} mm on a panel of {box[2]:.1f} by {box[3]:.1f} mm",
                where,
            )


@lint("jacks-too-close", Weight.WRONG)
def jacks_too_close(module: Described) -> Iterator[Flaw]:
    """Two jacks are so close that two plugs do not fit side by side.

    Why: a patch would be planned that nobody can plug in.
    Do: measure the two places again; if they are right, the maker means slim plugs, and the sheet may stand.
    Source: 10 mm between 3.5 mm jacks: common practice, no source.
    """
    for a, b in combinations(module.panel_jacks(), 2):
        if a.at_mm is None or b.at_mm is None:
            continue
        room_mm = sum(PLUG_APART_MM.get(j.plug, MINI_APART_MM) for j in (a, b)) / 2.0
        apart_mm = math.dist(a.at_mm, b.at_mm)
        if apart_mm < room_mm - TOUCH_MM:
            yield Flaw(
                f"jacks.{b.id}",
                f"{apart_mm:.1f} mm from '{a.id}'; their plugs need {room_mm:g} mm",
                b.where,
            )


@lint("controls-overlap", Weight.WRONG)
def controls_overlap(module: Described) -> Iterator[Flaw]:
    """Two controls, or a control and a jack, stand in the same place.

    Why: one of the places or sizes is wrong, and the plan of the hands with it.
    Do: measure both again; `size_mm` is the diameter of a knob and the length of a fader.
    Source: common practice, no source.
    """
    for a, b in combinations(module.panel_controls(), 2):
        if overlap(a, b):
            yield Flaw(f"controls.{b.id}", f"it stands in '{a.id}'", b.where)
    for control in module.panel_controls():
        for jack in module.panel_jacks():
            nut = Control("nut", ControlShape.TRIMMER, at_mm=jack.at_mm, size_mm=2.0 * NUT_MM)
            if overlap(control, nut):
                yield Flaw(
                    f"controls.{control.id}", f"it stands in jack '{jack.id}'", control.where
                )
