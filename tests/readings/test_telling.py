"""A trace in a sentence, with figures that can be worked out by hand."""

from __future__ import annotations

from rigproof.readings.proof import read
from rigproof.readings.telling import told, way_to_ear
from rigproof.readings.trace import Place, trace
from tests.readings.fader_rig import CC, fader_net


def test_a_fader_at_64_in_a_sentence() -> None:
    """64/127 of 5 V is 2.52 V; 20 log10(64/127) is -5.95 dB."""
    sentence = told(trace(read(fader_net()), "faders.f5", at=64))
    assert sentence.startswith(f"faders.f5 at 0.504: CC {CC} = 64, 2.52 V at bridge.cv-1 after ")
    assert ", -6.0 dB at desk.left, heard " in sentence
    assert sentence.endswith(" ms later")


def test_the_way_goes_from_the_start_to_the_ear() -> None:
    found = trace(read(fader_net()), "faders.f5", at=64)
    way = way_to_ear(found)
    assert way[0].name == "faders.f5"
    assert way[-1].place is Place.EAR
    assert [hop.parent for hop in way[1:]] == [hop.index for hop in way[:-1]]


def test_at_the_top_nothing_is_down() -> None:
    assert " dB at " not in told(trace(read(fader_net()), "faders.f5", at=127))
