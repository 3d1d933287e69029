"""What becomes of messages on their way: filters, routers, pairs of controllers, and the clock they carry."""

from fractions import Fraction

import pytest

from rigproof.kinds.base import Beat
from rigproof.model.sheet import Plug, Signal
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.level import read_level
from rigproof.readings.messages import Message, listeners_reached, message_of, senders
from rigproof.readings.paths import Paths
from rigproof.readings.pulse import read_pulses
from tests.small_rigs import jack_in, jack_out, project, sheet


def routed_net(**filter_settings: object) -> Net:
    """One fader on channel 3 into a filter and a router, each with converters behind it."""
    made = sheet(
        "box",
        {
            "fader": {"kind": "cc-sender", "number": 7, "channel": 3, "position": 1.0},
            "filter": {"kind": "channel-filter", **filter_settings},  # type: ignore[dict-item]
            "router": {"kind": "midi-router", "ways": 2, "channel-1": 3, "channel-2": 4},
            "filtered": {"kind": "cc-to-cv", "number": 7, "channel": 3},
            "first": {"kind": "cc-to-cv", "number": 7, "channel": 3},
            "second": {"kind": "cc-to-cv", "number": 7, "channel": 3},
            "pair": {"kind": "cc-pair-to-cv", "number": 7, "channel": 3},
            "waits": {"kind": "cc-pair-to-cv", "number": 7, "channel": 3, "update": 1},
        },
        [
            jack_out(name, f"{name}.out", Signal.CV)
            for name in ("filtered", "first", "second", "pair", "waits")
        ],
        {"fader": ("fader.position", 0.0, 1.0, 1.0, "ratio")},
        wires=[
            ("fader.out", "filter.in"),
            ("fader.out", "router.in"),
            ("filter.out", "filtered.in"),
            ("router.out-1", "first.in"),
            ("router.out-2", "second.in"),
            ("fader.out", "pair.in"),
            ("fader.out", "waits.in"),
        ],
    )
    return flatten(project({"box": made}))


@pytest.mark.parametrize(
    ("settings", "filtered_v"),
    [
        ({"channel": 3}, 5.0),
        ({"channel": 4}, 0.0),
        ({"channel": 3, "mode": 1}, 0.0),
        ({"channel": 4, "mode": 1}, 5.0),
    ],
)
def test_a_fader_at_the_top_lifts_what_its_channel_gets_to(
    settings: dict[str, int], filtered_v: float
) -> None:
    net = routed_net(**settings)
    levels = read_level(net)
    found = {s.name.split(".")[-1]: levels[s.outs[0]].dc_v for s in net.sections if s.outs}
    assert found["filtered"] == filtered_v
    assert (found["first"], found["second"]) == (5.0, 0.0)
    assert found["pair"] == pytest.approx(5.0 * 127 * 128 / 16_383)  # upper half alone
    assert found["waits"] == 0.0
    sending = senders(net, "box.fader")
    assert [message_of(s) for s in sending] == [Message(7, 3)]
    reached = {s.name.split(".")[-1] for s in listeners_reached(net, sending, Message(7, 3))}
    assert reached == {"first", "pair", "waits"} | ({"filtered"} if filtered_v else set())
    paths = Paths(net)
    ends = {sec.outs[0]: sec.name.split(".")[-1] for sec in net.sections if sec.outs}
    todo, seen = list(sending[0].outs), set()
    while todo:
        for hop in paths.onward(todo.pop(), message=Message(7, 3)):
            seen.add(ends.get(hop.target_row, ""))
            todo.append(hop.target_row)
    assert {"first", "pair"} <= seen
    assert ("filtered" in seen) == (filtered_v > 0.0)
    assert "second" not in seen


@pytest.mark.parametrize("plug", [Plug.MIDI_DIN, Plug.USB_HOST])
def test_a_clock_is_read_through_midi_and_back(plug: Plug) -> None:
    """Source: 24 clock messages a quarter note (MIDI 1.0), whichever line carries them."""
    sender = sheet(
        "sender",
        {
            "clock": {"kind": "clock", "ways": 1, "times-1": 2},
            "to-midi": {"kind": "pulses-to-midi-clock", "ppqn": 1},
            "merge": {"kind": "midi-merge", "ways": 2},
            "thru": {"kind": "midi-thru", "ways": 1},
        },
        [jack_out("midi", "thru.out-1", Signal.MIDI, plug=plug)],
        wires=[
            ("clock.out-1", "to-midi.clock"),
            ("to-midi.out", "merge.in-2"),
            ("merge.out", "thru.in"),
        ],
    )
    taker = sheet(
        "taker",
        {"back": {"kind": "midi-clock-to-pulses", "ways": 2, "ppqn-1": 8, "ppqn-2": 7}},
        [
            jack_in("midi", "back.in", signal=Signal.MIDI, plug=plug),
            jack_out("quarters", "back.out-1", Signal.CLOCK),
            jack_out("uneven", "back.out-2", Signal.CLOCK),
        ],
    )
    net = flatten(project({"a": sender, "b": taker}, [("a.midi", "b.midi")]))
    pulses = read_pulses(net)
    back = next(s for s in net.sections if s.kind.name == "midi-clock-to-pulses")
    assert pulses[back.ins[0]].per_quarter == 24
    assert pulses[back.outs[0]].per_quarter == 1
    assert pulses[back.outs[1]].per_quarter == Fraction(3, 2)
    assert pulses[back.outs[0]].beat is Beat.STEADY
