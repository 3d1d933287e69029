"""What a kernel that needs no glide reads while a control moves: never anything beyond where the hand goes."""

from itertools import pairwise

from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.net.flatten import flatten
from rigproof.net.timeline import Event
from tests.small_rigs import LAG, project


def test_a_parameter_that_moves_stays_between_its_ends_at_column_zero() -> None:
    """A time constant from 1 ms to 1 s must not be read as less than nothing in the first block of the move."""
    net = flatten(project({"lag": LAG}, settings={"lag.rise": "1 ms"}))
    plan = schedule(net)
    ref = net.controls["lag.rise"][0]
    row = plan.param_row(ref.section, ref.row)
    events = [Event(0.01, "lag.rise", 1.0, 0.02), Event(0.025, "lag.rise", 0.5, 0.0)]
    player = Player(plan, events=events)
    seen = []
    for _ in range(60):
        player.play(1)
        seen.append(float(plan.params[row or 0, 0]))
    assert min(seen) >= 0.001
    assert max(seen) <= 1.0
    assert max(seen) > 0.5  # it did move up
    assert seen[-1] == 0.5


def test_a_move_begins_and_ends_without_a_jump() -> None:
    """No sample of a glide differs from the one before by more than the glide's steady speed."""
    net = flatten(project({"lag": LAG}, settings={"lag.rise": "1 ms"}))
    plan = schedule(net)
    ref = net.controls["lag.rise"][0]
    row = plan.param_row(ref.section, ref.row) or 0
    player = Player(plan, events=[Event(0.01, "lag.rise", 1.0, 0.02)])
    values: list[float] = []
    for _ in range(60):
        player.play(1)
        values += [plan.params[row, 0] + n * plan.params[row, 1] for n in range(8, 72)]
    steps = [b - a for a, b in pairwise(values)]
    assert max(steps) <= 0.999 / (8 + 14 * 64) * (1 + 1e-9)  # 20 ms are 15 blocks
    assert min(steps) >= -1e-12
    assert (values[0], values[-1]) == (0.001, 1.0)
