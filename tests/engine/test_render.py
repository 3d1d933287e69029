"""The compiled loop: the same as plain Python, the same again to the bit, true to one sample in a loop of cables."""

import numpy as np
import pytest

from rigproof.engine.render import Player, Take, play_into, render
from rigproof.engine.schedule import Floats, schedule
from rigproof.kinds.base import BLOCK
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.net.timeline import Event, timeline
from tests.engine.plain import run_plain
from tests.small_rigs import ADDER, LAG, STEADY, project

RATE_HZ = 48_000


def loop_of_cables(gain: float) -> Net:
    """5 V into an adder whose output comes back, times a gain, through a second adder."""
    return flatten(
        project(
            {"five": STEADY, "sum": ADDER, "back": ADDER},
            [("five.stiff", "sum.in-1"), ("sum.out", "back.in-1"), ("back.out", "sum.in-2")],
            {"five.level": 0.2, "back.gain-1": gain},
        )
    )


def test_compiled_loop_equals_plain_python() -> None:
    """Oracle: a second, slower, independent computation, with the kernels uncompiled."""
    net = flatten(
        project(
            {"five": STEADY, "lag": LAG, "sum": ADDER, "back": ADDER},
            [
                ("five.out", "lag.in"),
                ("lag.out", "sum.in-1"),
                ("sum.out", "back.in-1"),
                ("back.out", "sum.in-2"),
            ],
            {"back.gain-1": -0.9},
        )
    )
    rows = [net.contact(name).row for name in ("lag.out", "sum.out", "back.out")]
    compiled = render(net, 300 / RATE_HZ, probes=rows)
    # Fused multiply-add may round the last bit otherwise.
    np.testing.assert_allclose(compiled, run_plain(net, 300, rows), rtol=1e-12, atol=1e-12)


def test_feedback_through_cables_comes_back_one_sample_later() -> None:
    """Oracle: closed form of y[n] = x + a y[n-1]: x (1 - a^(n+1)) / (1 - a). Each cable loads by 100/101."""
    load = 100 / 101
    net = loop_of_cables(0.5)
    seen = render(net, 40 / RATE_HZ, probes=[net.contact("sum.out").source_row or 0])[0]
    gain = 0.5 * load * load
    n = np.arange(40)
    # 1 milliohm behind 100 kohm: the stiff source loses 1e-8 of its voltage.
    np.testing.assert_allclose(seen, 1.0 * (1 - gain ** (n + 1)) / (1 - gain), rtol=2e-8)


def test_a_howling_loop_stops_at_the_rails() -> None:
    net = loop_of_cables(2.0)
    seen = render(net, 0.1, probes=[net.contact("sum.out").row])
    assert np.isfinite(seen).all()
    assert seen[0, -1] == pytest.approx(11.0 * 100 / 101)


def test_a_render_repeats_to_the_bit() -> None:
    net = loop_of_cables(0.7)
    rows = [net.contact("sum.out").row]
    first, second = (render(net, 0.05, probes=rows) for _ in range(2))
    assert first.tobytes() == second.tobytes()


def test_chunks_join_to_the_same_sound() -> None:
    """Playing on in pieces is the same as playing at once."""
    net = flatten(project({"five": STEADY, "lag": LAG}, [("five.out", "lag.in")]))
    rows = [net.contact("lag.out").row]
    whole = Player(schedule(net), rows).play(20)
    pieces = Player(schedule(net), rows)
    joined = np.concatenate([pieces.play(n) for n in (1, 7, 12)], axis=1)
    assert joined.tobytes() == whole.tobytes()


def test_rc_step_rises_to_63_percent_after_one_time_constant() -> None:
    """Source: Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1: a step reaches 1 - 1/e at t = RC."""
    net = flatten(
        project({"five": STEADY, "lag": LAG}, [("five.stiff", "lag.in")], {"lag.rise": "10 ms"})
    )
    seen = render(net, 0.02, probes=[net.contact("lag.out").source_row or 0])[0]
    assert seen[479] == pytest.approx(5.0 * (1 - np.exp(-1.0)), rel=2e-8)  # sample 479 ends 10 ms


@pytest.mark.parametrize("beats", [0.5, 2.0])
def test_a_knob_glides_in_a_straight_line(beats: float) -> None:
    """Oracle: a move over so many beats at 120 bpm is a straight line of beats / 2 seconds, to a block's edge."""
    move = Move("five.level", 2.0, bar=1, beat=2.0, beats=beats, start=0.0)
    net = flatten(
        project(
            {"five": STEADY},
            setlist=Setlist("s", tempo_bpm=120.0, sections=(Passage("a", bars=2, moves=(move,)),)),
        )
    )
    events = timeline(net).events
    seen = render(net, 2.5, probes=[net.section("five.mix").outs[0]], events=events)[0]
    start, length = RATE_HZ // 2, round(beats * RATE_HZ / 2)
    assert (seen[:start] == 5.0).all()
    n = np.arange(length)
    # The glide takes whole blocks, so its slope may be off by one block in its length.
    np.testing.assert_allclose(
        seen[start : start + length], 10.0 * n / length, atol=10.0 * BLOCK / length + 1e-9
    )
    assert (seen[start + length + BLOCK :] == 10.0).all()
    assert np.abs(np.diff(seen[start + BLOCK : start + length])).max() < 11.0 / length * 1.1


def test_a_switch_steps() -> None:
    events = [Event(0.1, "five.switch-level", 2.0)]
    net = flatten(project({"five": STEADY}))
    seen = render(net, 0.2, probes=[net.section("five.mix").outs[0]], events=events)[0]
    assert set(np.unique(seen)) == {5.0, 10.0}
    assert abs(int(np.argmax(seen > 5.0)) - RATE_HZ // 10) < BLOCK


def test_a_later_move_overtakes_an_earlier_one() -> None:
    """The end of the first glide must not pull the knob back."""
    events = [Event(0.0, "five.level", 2.0, 1.0), Event(0.5, "five.level", 0.0, 0.1)]
    net = flatten(project({"five": STEADY}))
    seen = render(net, 1.2, probes=[net.section("five.mix").outs[0]], events=events)[0]
    assert seen[RATE_HZ // 2 - BLOCK] == pytest.approx(5.0 + 5.0 * 0.5, abs=0.05)
    assert (seen[round(0.61 * RATE_HZ) :] == 0.0).all()
    # Where the second begins there is no jump: 7.5 V to 0 V in 0.1 s is 1.5625 mV a sample.
    assert np.abs(np.diff(seen[BLOCK:])).max() < 2e-3


def test_watching_keeps_the_extremes_of_every_row() -> None:
    net = flatten(project({"five": STEADY, "lag": LAG}, [("five.out", "lag.in")]))
    player = Player(schedule(net), [net.contact("lag.out").row], watch=True)
    seen = player.play(100)
    row = net.contact("lag.out").row
    assert (player.lows_v[row], player.highs_v[row]) == (seen.min(), seen.max())


def test_only_what_is_wanted_runs() -> None:
    """Leaving out what nobody hears changes nothing for those who are heard."""
    net = flatten(
        project(
            {"five": STEADY, "lag": LAG, "idle": ADDER},
            [("five.out", "lag.in"), ("lag.out", "idle.in-1")],
        )
    )
    rows = [net.contact("lag.out").row]
    short = schedule(net, wanted=rows)
    assert len(short.addresses) < len(schedule(net).addresses)
    assert Player(short, rows, [Event(0.0, "idle.gain-1", 0.5)]).play(9).tobytes() == (
        Player(schedule(net), rows).play(9).tobytes()
    )


def test_set_on_the_clock() -> None:
    """Oracle: bars and beats by hand. 4 bars of 4 at 120 are 8 s; bar 3 beat 2 of the second part is 8 + 9 * 0.75 s."""
    parts = (
        Passage("ebb", bars=4),
        Passage("flood", bars=4, tempo_bpm=80.0, moves=(Move("five.level", 0.5, bar=3, beat=2.0),)),
    )
    net = flatten(project({"five": STEADY}, setlist=Setlist("s", tempo_bpm=120.0, sections=parts)))
    line = timeline(net)
    assert line.length_s == pytest.approx(8.0 + 16 * 0.75)
    assert [e.at_s for e in line.events if e.control == "five.level"] == [
        pytest.approx(8.0 + 9 * 0.75)
    ]
    only = timeline(net, only="flood")
    assert [e.at_s for e in only.events if e.control == "five.level"] == [pytest.approx(9 * 0.75)]
    with pytest.raises(KeyError):
        timeline(net, only="storm")


def test_what_is_played_is_dealt_out_to_the_rows_it_belongs_to() -> None:
    """Oracle: the same stretch rendered in one piece, and a full scale of 10 V as a tenth."""
    net = loop_of_cables(0.5)
    rows = [net.contact(name).row for name in ("sum.out", "back.out", "five.stiff")]
    seconds = 20_000.5 / RATE_HZ  # more than one chunk, and no whole number of samples
    parts: tuple[list[Floats], list[Floats]] = ([], [])
    done_s: list[float] = []
    player = Player(schedule(net, wanted=rows), rows)
    takes = [Take(1, parts[0].append), Take(2, parts[1].append, 10.0)]
    play_into(player, takes, seconds, done_s.append)
    whole = render(net, seconds, probes=rows)
    np.testing.assert_array_equal(np.concatenate(parts[0], axis=1), whole[:1])
    np.testing.assert_allclose(np.concatenate(parts[1], axis=1) * 10.0, whole[1:], rtol=1e-15)
    assert len(done_s) > 1
    assert done_s == sorted(done_s)
    assert done_s[-1] == pytest.approx(seconds, abs=1 / RATE_HZ)
