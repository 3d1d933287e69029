"""What feeds what, on small rigs where it can be seen by eye."""

from __future__ import annotations

from rigproof.net.flatten import flatten
from rigproof.readings.paths import Paths
from rigproof.readings.proof import read
from rigproof.readings.reach import backward, contacts_of, forward, modules_of, mute_voices
from tests.readings.fader_rig import AMPLIFIER, OSCILLATOR, WAY_IN, fader_net
from tests.small_rigs import ADDER, STEADY, project


def test_forward_and_backward_are_mirror_images() -> None:
    """Over every pair of rows of a rig with a loop: one is reached from the other just when it leads back to it."""
    net = flatten(
        project(
            {"five": STEADY, "a": ADDER, "b": ADDER, "osc": OSCILLATOR, "desk": WAY_IN},
            [
                ("five.out", "a.in-1"),
                ("a.out", "b.in-1"),
                ("b.out", "a.in-2"),
                ("osc.saw", "b.in-2"),
                ("b.out", "desk.left"),
            ],
        )
    )
    paths = Paths(net)
    rows = [row.index for row in net.rows]
    ahead = {(a, b) for a in rows for b in forward(paths, [a]).rows}
    behind = {(a, b) for b in rows for a in backward(paths, [b]).rows}
    assert ahead == behind


def test_a_fader_rig_is_heard_from_end_to_end() -> None:
    net = fader_net()
    readings = read(net)
    assert modules_of(net, readings.heard) == ("faders", "bridge", "osc", "amp", "desk")
    # The second fader's messages go down the same line, but the voltage made of them is wired to nothing.
    assert "bridge.cc-2" not in {net.sections[i].name for i in readings.heard.sections}
    assert readings.dead_ends == ()
    reached = forward(readings.paths, [net.section("osc.o").outs[2]])
    assert set(contacts_of(net, reached)) >= {"osc.sine", "amp.in", "amp.out", "desk.left"}
    assert "bridge.cv-1" not in contacts_of(net, reached)


def test_a_signal_that_ends_nowhere_is_a_dead_end() -> None:
    """The second oscillator goes into an amplifier with nothing behind it."""
    net = flatten(
        project(
            {"a": OSCILLATOR, "b": OSCILLATOR, "amp": AMPLIFIER, "desk": WAY_IN},
            [("a.sine", "desk.left"), ("b.sine", "amp.in")],
        )
    )
    readings = read(net)
    (end,) = readings.dead_ends
    assert end.contact.name == "b.sine"
    assert end.last == ("node amp.out",)
    assert mute_voices(readings.paths) == ("b",)


def test_nothing_is_heard_without_an_ear() -> None:
    readings = read(flatten(project({"a": OSCILLATOR, "amp": AMPLIFIER}, [("a.sine", "amp.in")])))
    assert readings.heard.rows == frozenset()
    assert [end.contact.name for end in readings.dead_ends] == ["a.sine"]
