"""Every generic sheet by itself: it lays out to a net, and a second of it stays within what is proved of it.

The oracle of the interval is the sound itself. Controls stand where the sheet puts them, then anywhere at all.
"""

import math
from collections.abc import Mapping

import numpy as np
import pytest

from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.kinds.base import BLOCK
from rigproof.model.sheet import Sheet, Signal, Way
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.volts import SLACK_RATIO, read_volts
from tests.library.all_sheets import FEED, NAMES, fed, folder_of_all

RATE_HZ = 48_000
SECOND = RATE_HZ // BLOCK
MOVING_V = 0.1
"""An output that moves less than this over a second at full feed does nothing worth a jack. Our choice. [V]"""
SILENT_AS_IT_COMES = {
    # sheet -> why its outputs stand still on the bench
    "attenuverter-4": "every knob stands at nothing",
    "sampler-6": "its banks are empty",
    "sampler-6-outs": "it lives on the sampler's ribbon",
    "track-sampler-8": "its banks are empty",
    "track-sampler-8-outs": "it lives on the sample player's ribbon",
    "step-rhythm-4": "its rhythms are empty",
    "note-sequencer-16": "its notes are empty",
    "midi-cv-12": "no message comes",
    "midi-note-cv": "no message comes",
    "midi-din-cv-4": "no message comes",
    "midi-trs-cv-6": "no message comes",
}


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Sheet]:
    """All sheets of the library."""
    return folder_of_all(tmp_path_factory.mktemp("all"))


def sounds(net: Net) -> dict[str, list[np.ndarray]]:
    """A bank of two harsh sounds for every sample voice."""
    rng = np.random.default_rng(1)
    bank = [np.sign(rng.standard_normal((4000, 1))), rng.uniform(-1.0, 1.0, (6000, 2))]
    return {s.name: bank for s in net.sections if s.kind.name == "sample-voice"}


def played(net: Net, blocks: int) -> Player:
    """The net after so many blocks, with the lowest and highest voltage of every row."""
    player = Player(schedule(net, sounds=sounds(net)), (), (), watch=True)
    player.play(blocks)
    return player


def strays(net: Net, player: Player) -> list[str]:
    """The rows that left their interval."""
    found = []
    for row, span, low, high in zip(
        net.rows, read_volts(net), player.lows_v, player.highs_v, strict=True
    ):
        slack_v = SLACK_RATIO * max(span.peak, 1e-3)
        if not (span.lo - slack_v <= low and high <= span.hi + slack_v):
            found.append(f"{row.name} saw {low} to {high}, proved {span}")
    return found


@pytest.mark.parametrize("name", NAMES)
def test_a_second_of_it_stays_within_what_is_proved(name: str, sheets: Mapping[str, Sheet]) -> None:
    net = flatten(fed(sheets[name]))
    player = played(net, SECOND)
    assert strays(net, player) == []
    volts = [
        c.row
        for c in net.contacts.values()
        if c.module == "it" and c.jack.way is Way.OUT and c.jack.signal.is_volts
    ]
    if volts and name not in SILENT_AS_IT_COMES:
        moved_v = max(player.highs_v[row] - player.lows_v[row] for row in volts)
        assert moved_v > MOVING_V
        assert math.isfinite(moved_v)


@pytest.mark.parametrize("name", NAMES)
def test_it_stays_within_what_is_proved_wherever_its_controls_stand(
    name: str, sheets: Mapping[str, Sheet]
) -> None:
    net = flatten(fed(sheets[name], seed=0))
    assert strays(net, played(net, SECOND // 8)) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_it_stays_within_what_is_proved_wherever_its_controls_stand_many_times(
    name: str, sheets: Mapping[str, Sheet]
) -> None:
    for seed in range(1, 21):
        net = flatten(fed(sheets[name], seed=seed))
        assert strays(net, played(net, SECOND // 4)) == [], seed


def test_what_stands_still_is_still_in_the_library() -> None:
    assert set(SILENT_AS_IT_COMES) <= set(NAMES)


def test_the_feed_has_an_output_for_every_signal_that_is_volts() -> None:
    assert {s for s in Signal if s.is_volts} == {jack.signal for jack in FEED.jacks.values()}
