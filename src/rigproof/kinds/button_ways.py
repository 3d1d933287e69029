"""Which of several ways a hand has chosen, with a knob or by pressing a button. Plain functions; see `base`.

`way` takes its way at once when it is turned; each press of `button`, from off to on, takes the next, and the first
after the last.

Source: definition.
"""

from __future__ import annotations

from typing import Any

from rigproof.kinds.base import Setting, Span
from rigproof.kinds.clipping import clamp

PLACE, WAY, IS_DOWN = 0, 1, 2
"""Places in the state: the way from 0, the knob and the button as they last stood."""
SIZE = 3


def nearest_way(way: float, ways: int) -> float:
    """Return a knob's way, counted from 0."""
    return float(int(clamp(way + 0.5, 1.0, float(ways)))) - 1.0


def look_at_hand(state: Any, way: float, button: float, ways: int) -> None:
    """Follow the knob and the button, once a call."""
    if way != state[WAY]:
        state[WAY] = way
        state[PLACE] = nearest_way(way, ways)
    is_down = 1.0 if button >= 0.5 else 0.0
    if is_down > state[IS_DOWN]:
        state[PLACE] = (state[PLACE] + 1.0) % ways
    state[IS_DOWN] = is_down


def first_place(setting: Setting) -> list[float]:
    """Return the state at the start: where the knob stands."""
    way = setting["way"]
    return [nearest_way(way, setting.ways), way, 1.0 if setting["button"] >= 0.5 else 0.0]


def reachable(setting: Setting) -> range:
    """Return all the ways, from 0, that the hand can choose."""
    button: Span = setting.span("button")
    if button.lo < 0.5 <= button.hi:
        return range(setting.ways)
    way = setting.span("way")
    return range(int(nearest_way(way.lo, setting.ways)), int(nearest_way(way.hi, setting.ways)) + 1)
