"""Volts: for every row of the net, the interval that no sample can leave, for any input and any move of the set.

Sections are read in running order, each by its kind's interval law. A loop is read by a fixed point: the rows that one
sample hands to the next start at the 0 V that they hold before the first sample and grow until another time round adds
nothing; ends that go on growing are pushed outwards, first to where they seem to head for, then to the rungs of a
ladder, so that the reading ends after a bounded number of rounds. Any intervals that a time round cannot leave are
true, however they were guessed (induction over the samples), so the guesses cost tightness and never truth.

Rounding: the laws are exact in real numbers and kernels round. In a loop, where rounding could pile up, every time
round is given `LOOP_SLACK_RATIO` of the largest voltage in the loop; elsewhere an interval is true to
`SLACK_RATIO` of its peak.

Source: interval arithmetic (R. E. Moore, Interval Analysis, 1966); fixed points with widening and narrowing (P. Cousot
and R. Cousot, "Abstract interpretation", POPL 1977).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rigproof.kinds.base import MIDI_CODES, RAIL_V, ZERO, Span
from rigproof.net.graph import Component, Net
from rigproof.readings.walk import carried_rows

SLACK_RATIO = 1e-9
"""A sample may leave its interval by this share of the interval's peak, by rounding alone."""
LOOP_SLACK_RATIO = 1e-12
"""Share of a loop's largest voltage that rounding may add each time round."""
RUNGS_V = (0.1, 1.0, 5.0, 8.0, 10.0, RAIL_V, 12.0, 100.0)
"""Where ends that go on growing are pushed to: usual ranges, then the rails. Our choice, tightness only. [V]"""
TOP_V = 1e6
"""The last rung: far above what any kind's output can reach. [V]"""
BOUNDLESS_V = 1e30
"""What a loop is given that no clamp holds. No loop of the kinds we have gets here. [V]"""
PLAIN_ROUNDS = 4
"""Rounds before ends are pushed."""
LADDER_ROUNDS = 12
"""Rounds before everything is pushed to the last rung."""
NARROWING_ROUNDS = 6


def read_volts(net: Net, *, pinned: Mapping[int, Span] | None = None) -> tuple[Span, ...]:
    """Return one interval for each row. [V]

    `pinned` gives rows an interval of the caller's own, for asking what if: what their writers say is not heard.
    """
    reader = _Reader(net, pinned or {})
    for part in net.components:
        if part.is_loop:
            reader.read_loop(part)
        else:
            reader.read_part(part)
    return tuple(reader.spans)


class _Reader:
    def __init__(self, net: Net, pinned: Mapping[int, Span]) -> None:
        self.net = net
        self.pinned = pinned
        self.spans = [
            ZERO if row.steady_v is None else Span.point(row.steady_v) for row in net.rows
        ]
        for row, span in pinned.items():
            self.spans[row] = span

    def read_part(self, part: Component) -> None:
        """Carry the intervals once through the sections of a component."""
        rows, spans, pinned = self.net.rows, self.spans, self.pinned
        for index in part.sections:
            section = self.net.sections[index]
            found = section.kind.interval([spans[r] for r in section.ins], section.setting)
            for row, span in zip(section.outs, found, strict=True):
                if row not in pinned:
                    spans[row] = MIDI_CODES if rows[row].is_midi else span

    def read_loop(self, part: Component) -> None:
        """Find intervals that a time round the loop cannot leave, then draw them in as far as that stays true."""
        carried = [r for r in carried_rows(self.net, part) if r not in self.pinned]
        rows = [r for r in carried if not self.net.rows[r].is_midi]
        for row in carried:
            if self.net.rows[row].is_midi:
                self.spans[row] = MIDI_CODES
        held = dict.fromkeys(rows, ZERO)
        past: list[dict[int, Span]] = []
        found = self._round(part, held)
        for number in range(LADDER_ROUNDS + 3):
            grown = [r for r in rows if not _inside(found[r], held[r])]
            if not grown:
                break
            past.append(held)
            held = self._pushed(number, held, found, grown, past)
            found = self._round(part, held)
        else:
            held = dict.fromkeys(rows, Span(-BOUNDLESS_V, BOUNDLESS_V))
            found = self._round(part, held)
        for _ in range(NARROWING_ROUNDS):
            closer = {r: _common(found[r].including(0.0), held[r]) for r in rows}
            if all(_near(closer[r], held[r]) for r in rows):
                break
            further = self._round(part, closer)
            if not all(_inside(further[r], closer[r]) for r in rows):
                self._round(part, held)
                break
            held, found = closer, further

    def _round(self, part: Component, held: Mapping[int, Span]) -> dict[int, Span]:
        """Go round once, from what the sample before may have left; return what this sample may leave."""
        for row, span in held.items():
            self.spans[row] = span
        self.read_part(part)
        slack_v = LOOP_SLACK_RATIO * self._largest_v(part)
        return {row: self.spans[row].widened(slack_v) for row in held}

    def _largest_v(self, part: Component) -> float:
        is_midi = self.net.rows
        return max(
            (
                self.spans[r].peak
                for index in part.sections
                for r in self.net.sections[index].ins
                if not is_midi[r].is_midi
            ),
            default=0.0,
        )

    @staticmethod
    def _pushed(
        number: int,
        held: Mapping[int, Span],
        found: Mapping[int, Span],
        grown: Sequence[int],
        past: Sequence[Mapping[int, Span]],
    ) -> dict[int, Span]:
        """Return wider intervals for the rows that have grown, the wider the longer the search has taken."""
        wider = dict(held)
        for row in grown:
            old, new = held[row], held[row].hull(found[row])
            if number < PLAIN_ROUNDS:
                wider[row] = new
            elif number == PLAIN_ROUNDS:
                before = past[-2][row]
                wider[row] = Span(
                    min(new.lo, _headed_for(before.lo, old.lo, new.lo)),
                    max(new.hi, _headed_for(before.hi, old.hi, new.hi)),
                )
            elif number < LADDER_ROUNDS:
                wider[row] = Span(
                    new.lo if new.lo == old.lo else -_rung_above(-new.lo),
                    new.hi if new.hi == old.hi else _rung_above(new.hi),
                )
        if number >= LADDER_ROUNDS:
            wider = dict.fromkeys(held, Span(-TOP_V, TOP_V))
        return wider


def _inside(inner: Span, outer: Span) -> bool:
    return outer.lo <= inner.lo and inner.hi <= outer.hi


def _common(a: Span, b: Span) -> Span:
    return Span(max(a.lo, b.lo), min(a.hi, b.hi))


def _near(a: Span, b: Span) -> bool:
    close = SLACK_RATIO * (1.0 + b.peak)
    return abs(a.lo - b.lo) <= close and abs(a.hi - b.hi) <= close


def _headed_for(first: float, second: float, third: float) -> float:
    """Return the limit of a geometric approach, a little beyond it. Source: Aitken's delta-squared process (1926)."""
    one, two = second - first, third - second
    if abs(two) >= abs(one) or one == 0.0 or abs(two) < 1e-300:
        return third
    limit = third + two * two / (one - two)
    return limit + SLACK_RATIO * (1.0 + abs(limit)) * (1.0 if two > 0.0 else -1.0)


def _rung_above(value_v: float) -> float:
    """Return the lowest rung at or above a voltage; below zero too, where an end is pushed up towards zero."""
    if value_v <= 0.0:
        return 0.0
    return next((rung for rung in RUNGS_V if rung >= value_v), TOP_V)
