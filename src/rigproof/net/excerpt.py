"""Excerpt: a stretch of the set on the clock, with every control where the set up to there has brought it."""

from __future__ import annotations

from dataclasses import replace

from rigproof.net.graph import Net
from rigproof.net.timeline import Event, Span, Timeline, bar_s


def bar_start_s(net: Net, whole: Timeline, bar: int, *, section: str | None = None) -> float:
    """Return when a bar begins, counted from 1 over the whole set or inside one section. [s]

    Raises `ValueError`, saying how many bars there are, when there is no such bar; `KeyError` for no such section.
    """
    setlist = net.project.setlist
    passages = setlist.sections if setlist is not None else ()
    if section is not None and all(p.id != section for p in passages):
        raise KeyError(section)
    left = bar - 1
    bars = 0
    for passage, span in zip(passages, whole.passages, strict=True):
        if section is not None and passage.id != section:
            continue
        if 0 <= left < passage.bars:
            assert setlist is not None  # or there would be no passages
            return span.start_s + left * bar_s(span.tempo_bpm, setlist.beats_per_bar)
        left -= passage.bars
        bars += passage.bars
    raise ValueError(f"1 to {bars}")


def excerpt(net: Net, whole: Timeline, start_s: float, length_s: float | None = None) -> Timeline:
    """Return the set from `start_s` on, to its end or for `length_s`, with the clock at 0 s.

    A glide that is under way goes on from where it has got to. Only the controls are carried over: echoes and tails of
    what came before are not.
    """
    end_s = whole.length_s if length_s is None else min(whole.length_s, start_s + length_s)
    before: dict[str, Event] = {}
    later: list[Event] = []
    for event in whole.events:
        if event.at_s > start_s or (event.at_s == start_s and start_s == 0.0):
            if event.at_s < end_s:
                later.append(replace(event, at_s=event.at_s - start_s))
            continue
        came_from = event.start
        if came_from is None:
            last = before.get(event.control)
            came_from = _initial(net, event.control) if last is None else value_at(last, event.at_s)
        before[event.control] = replace(event, start=came_from)
    carried = []
    for event in before.values():
        rest_s = event.at_s + event.glide_s - start_s
        if event.glide_s > 0.0 and rest_s > 0.0:
            here = value_at(event, start_s)
            carried.append(Event(0.0, event.control, event.value, rest_s, here))
        else:
            carried.append(Event(0.0, event.control, event.value))
    passages = tuple(
        Span(
            p.id,
            p.title,
            max(0.0, p.start_s - start_s),
            min(p.start_s + p.length_s, end_s) - max(p.start_s, start_s),
            p.tempo_bpm,
        )
        for p in whole.passages
        if p.start_s < end_s and p.start_s + p.length_s > start_s
    )
    return Timeline(max(0.0, end_s - start_s), passages, (*carried, *later))


def value_at(event: Event, at_s: float) -> float:
    """Return where a move has brought its control by a time after its start; a move without start stands at its end."""
    if event.start is None or event.glide_s <= 0.0:
        return event.value
    done = min(1.0, max(0.0, (at_s - event.at_s) / event.glide_s))
    return event.start + done * (event.value - event.start)


def _initial(net: Net, control: str) -> float | None:
    """Return where the patch sets a control before the set begins; None for the tempo and for what sets nothing."""
    refs = net.controls.get(control, ())
    if not refs:
        return None
    return net.sections[refs[0].section].setting.values[refs[0].name]
