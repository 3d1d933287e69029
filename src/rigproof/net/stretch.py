"""Stretch: the part of a set that is to be played, and where in the net the room hears it."""

from __future__ import annotations

from dataclasses import dataclass

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.net.excerpt import bar_start_s, excerpt
from rigproof.net.graph import Net, NetSection
from rigproof.net.timeline import Event, timeline

WITHOUT_SET_S = 60.0
"""How long a patch without a set is played. [s]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """How long, with which moves, what it is called, and where in the set it begins."""

    seconds: float
    events: tuple[Event, ...]
    title: str
    start_s: float = 0.0


def stretch_of(
    net: Net,
    *,
    section: str | None = None,
    from_bar: int | None = None,
    seconds: float | None = None,
) -> Stretch:
    """Return the stretch that is asked for: the whole set where nothing is, a minute where there is no set.

    Raises `RigError` when there is no such section or bar.
    """
    setlist = net.project.setlist
    whole = timeline(net)
    if setlist is None or not setlist.sections:
        if section is not None or from_bar is not None:
            raise RigError(NOWHERE, "this patch has no set, so it has no sections and no bars")
        return Stretch(seconds or WITHOUT_SET_S, whole.events, net.project.patch.name)
    start_s, room_s, title = 0.0, whole.length_s, setlist.name
    if section is not None:
        spans = {p.id: p for p in whole.passages}
        if section not in spans:
            raise UnknownName(NOWHERE, "section", section, spans)
        start_s, room_s = spans[section].start_s, spans[section].length_s
        title = f"{title}, {spans[section].title}"
    if from_bar is not None:
        try:
            at_s = bar_start_s(net, whole, from_bar, section=section)
        except ValueError as error:
            raise RigError(
                NOWHERE, "there is no such bar", found=str(from_bar), expected=str(error)
            ) from None
        room_s -= at_s - start_s
        start_s = at_s
        title += f", from bar {from_bar}"
    length_s = seconds or room_s
    return Stretch(length_s, excerpt(net, whole, start_s, length_s).events, title, start_s)


def rate_of(net: Net) -> float:
    """Return the sample rate of a net. [Hz]"""
    return net.sections[0].setting.rate_hz if net.sections else 48_000.0


def heard_ears(net: Net) -> tuple[NetSection, ...]:
    """Return the ears that anything reaches."""
    return tuple(
        section for section in net.ears if any(net.rows[i].writer is not None for i in section.ins)
    )


def rows_of_jacks(net: Net) -> dict[str, tuple[int, ...]]:
    """Return the rows of every jack with a voltage (`module.jack`), one a lane."""
    rows: dict[str, list[int]] = {}
    for contact in net.contacts.values():
        if contact.jack.signal.is_volts:
            rows.setdefault(f"{contact.module}.{contact.jack.id}", []).append(contact.row)
    return {name: tuple(some) for name, some in rows.items()}
