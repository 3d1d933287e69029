"""Telling: what a trace found, in a sentence: what is sent, the volts, the decibels on the way, when it is heard."""

from __future__ import annotations

from rigproof.model.sheet import Signal
from rigproof.readings.delay import Arrival
from rigproof.readings.trace import Hop, Place, Trace

SMALLEST_DB = 0.05
"""A smaller change from one place to the next is not told."""
MOST_CHANGES = 4


def after_words(arrival: Arrival) -> str:
    """Return how long something takes, first and last.

    >>> after_words(Arrival(0.008, 0.010)), after_words(Arrival(0.0114, 0.0114))
    ('8 to 10 ms', '11.4 ms')
    >>> after_words(Arrival(0.009, 1.25))
    '9 ms to 1.25 s'
    """
    (lo, lo_unit), (hi, hi_unit) = (_time(s) for s in (arrival.lo_s, arrival.hi_s))
    if (lo, lo_unit) == (hi, hi_unit):
        return f"{hi} {hi_unit}"
    return f"{lo} to {hi} {hi_unit}" if lo_unit == hi_unit else f"{lo} {lo_unit} to {hi} {hi_unit}"


def _time(seconds: float) -> tuple[str, str]:
    return (f"{seconds:.3g}", "s") if seconds >= 1.0 else (f"{1e3 * seconds:.3g}", "ms")


def way_to_ear(found: Trace) -> list[Hop]:
    """Return the hops from the start to the first ear that is reached; the longest way where none is."""
    ends = [h for h in found.hops if h.place is Place.EAR] or sorted(
        found.hops, key=lambda h: -h.depth
    )
    way: list[Hop] = []
    index = ends[0].index if ends else None
    while index is not None:
        way.append(found.hops[index])
        index = found.hops[index].parent
    return way[::-1]


def told(found: Trace) -> str:
    """Return a trace as a sentence without its full stop.

    Volts are told where a steady voltage leaves a jack, decibels at each sound input where the change against the top
    of the control's travel differs from the one before, with the time that has passed at both.
    """
    head = found.start if found.at is None else f"{found.start} at {found.at:.3g}"
    parts = []
    if found.message is not None and found.message_value is not None:
        parts.append(f"CC {found.message.number} = {found.message_value:.0f}")
    way, last_db = way_to_ear(found), 0.0
    changes: list[str] = []
    last_words = ""
    for hop in way:
        is_jack = hop.place in (Place.INPUT, Place.OUTPUT)
        if hop.level is None or not is_jack:
            continue
        words = "" if hop.arrival is None else f" after {after_words(hop.arrival)}"
        after = "" if words == last_words else words
        if hop.signal in (Signal.CV, Signal.PITCH) and hop.place is Place.OUTPUT:
            parts.append(f"{hop.level.dc_v:.2f} V at {hop.name}{after}")
            last_words = words
        elif hop.change_db is not None and hop.place is Place.INPUT:
            if abs(hop.change_db - last_db) >= SMALLEST_DB:
                changes.append(f"{hop.change_db:+.1f} dB at {hop.name}{after}")
                last_words = words
            last_db = hop.change_db
    parts += (
        changes if len(changes) <= MOST_CHANGES else [*changes[: MOST_CHANGES - 1], changes[-1]]
    )
    if found.heard is None:
        parts.append("not heard at the way out")
    else:
        parts.append(f"heard {after_words(found.heard)} later")
    return f"{head}: {', '.join(parts)}"
