"""A stretch of the set: where controls stand when one begins in the middle, by hand and by rendering both ways."""

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.model.patch import Settings
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.net.excerpt import bar_start_s, excerpt
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.net.timeline import TEMPO, timeline
from tests.small_rigs import STEADY, project

BAR_S = 2.0
"""Four beats at 120 bpm."""


def net_of(*moves: Move) -> Net:
    first = Passage("a", bars=4, moves=tuple(moves))
    second = Passage("b", bars=2, tempo_bpm=60.0, settings=(Settings("five.level", 1.5),))
    return flatten(project({"five": STEADY}, setlist=Setlist("s", "", 120.0, 4, (first, second))))


def test_bars_count_over_the_whole_set_and_inside_a_section() -> None:
    net = net_of()
    whole = timeline(net)
    assert bar_start_s(net, whole, 1) == 0.0
    assert bar_start_s(net, whole, 4) == 3 * BAR_S
    assert bar_start_s(net, whole, 6) == 4 * BAR_S + 4.0  # a bar at 60 bpm takes four seconds
    assert bar_start_s(net, whole, 2, section="b") == bar_start_s(net, whole, 6)


@pytest.mark.parametrize(("bar", "section", "bars"), [(7, None, 6), (0, None, 6), (3, "b", 2)])
def test_a_bar_that_is_none_says_how_many_there_are(
    bar: int, section: str | None, bars: int
) -> None:
    net = net_of()
    with pytest.raises(ValueError, match=f"^1 to {bars}$"):
        bar_start_s(net, timeline(net), bar, section=section)
    with pytest.raises(KeyError):
        bar_start_s(net, timeline(net), 1, section="none")


def test_a_glide_under_way_goes_on_from_where_it_has_got_to() -> None:
    """From 1 (the sheet's default) to 2 over 8 s, entered after 2 s: a quarter of the way."""
    net = net_of(Move("five.level", 2.0, beats=16.0))
    part = excerpt(net, timeline(net), 2.0)
    event = next(e for e in part.events if e.control == "five.level")
    assert (event.at_s, event.start, event.value, event.glide_s) == (0.0, 1.25, 2.0, 6.0)


def test_an_overtaken_glide_starts_the_next_where_it_was() -> None:
    """Towards 2 over 8 s from 0 s, overtaken after 4 s at 1.5 by one back to 0 over 4 s; 2 s later: 0.75."""
    net = net_of(
        Move("five.level", 2.0, beats=16.0), Move("five.level", 0.0, bar=3, beat=1.0, beats=8.0)
    )
    part = excerpt(net, timeline(net), 6.0)
    event = next(e for e in part.events if e.control == "five.level" and e.at_s == 0.0)
    assert event.start == pytest.approx(0.75)


def test_tempo_and_length_come_along() -> None:
    net = net_of()
    part = excerpt(net, timeline(net), 10.0)
    assert [(e.at_s, e.value) for e in part.events if e.control == TEMPO] == [(0.0, 60.0)]
    assert part.length_s == 6.0
    assert [(p.id, p.start_s, p.length_s) for p in part.passages] == [("b", 0.0, 6.0)]
    cut = excerpt(net, timeline(net), 6.0, 3.0)
    assert [(p.id, p.start_s, p.length_s) for p in cut.passages] == [
        ("a", 0.0, 2.0),
        ("b", 2.0, 1.0),
    ]


def test_from_the_start_nothing_changes() -> None:
    net = net_of(Move("five.level", 2.0, bar=2, beats=4.0))
    assert excerpt(net, timeline(net), 0.0) == timeline(net)


def test_an_excerpt_sounds_like_that_part_of_the_whole() -> None:
    """Oracle: the whole set rendered and cut. The module has no memory, so nothing but the controls matters.

    Entered on a block's edge in the middle of a glide; a glide may be a block out, hence the tolerance: 5 V in 8 s
    is 1 mV in 1.3 ms.
    """
    net = net_of(Move("five.level", 2.0, beats=16.0), Move("five.level", 0.5, bar=3, beats=2.0))
    row = net.contact("five.out").row
    start_s = 2.4
    whole = render(net, 6.0, probes=[row], events=timeline(net).events)
    part = render(net, 3.6, probes=[row], events=excerpt(net, timeline(net), start_s).events)
    assert np.abs(whole[0, round(start_s * 48_000) :] - part[0]).max() < 6e-3
    assert np.ptp(part[0]) > 3.0
