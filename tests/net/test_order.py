"""Running order: what a section reads has been written before it, and every loop is cut."""

from hypothesis import given, settings
from hypothesis import strategies as st

from rigproof.net.flatten import flatten
from rigproof.net.order import order_in_loop, strong_components
from tests.small_rigs import ADDER, project

EDGES = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=40)


def reachable(edges: list[tuple[int, int]], start: int) -> set[int]:
    """Everything that can be reached from a node: the slow way, to check the quick one."""
    found: set[int] = set()
    wave = {start}
    while wave:
        wave = {b for a, b in edges if a in wave} - found
        found |= wave
    return found


@given(EDGES)
@settings(max_examples=200, deadline=None)
def test_components_are_those_that_reach_each_other(edges: list[tuple[int, int]]) -> None:
    """Oracle: the definition. Two nodes share a component when each can be reached from the other."""
    parts = strong_components(10, edges)
    assert sorted(n for part in parts for n in part) == list(range(10))
    home = {n: i for i, part in enumerate(parts) for n in part}
    reach = {n: reachable(edges, n) for n in range(10)}
    for a in range(10):
        for b in range(a):
            assert (home[a] == home[b]) == (b in reach[a] and a in reach[b])
    assert all(home[a] <= home[b] for a, b in edges)


@given(EDGES)
@settings(max_examples=100, deadline=None)
def test_an_order_without_loops_has_nothing_to_cut(edges: list[tuple[int, int]]) -> None:
    forward = [(a, b) for a, b in edges if a < b]
    order = order_in_loop(range(10), forward)
    place = {n: i for i, n in enumerate(order)}
    assert sorted(order) == list(range(10))
    assert all(place[a] < place[b] for a, b in forward)


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5), st.booleans()), max_size=14))
@settings(max_examples=100, deadline=None)
def test_every_section_reads_what_has_been_written(wiring: list[tuple[int, int, bool]]) -> None:
    """Within a sample a row is written before it is read, except by the one-sample delays, once round each loop."""
    cables = sorted({(f"m{a}.out", f"m{b}.in-{1 + second}") for a, b, second in wiring})
    net = flatten(project({f"m{i}": ADDER for i in range(6)}, cables))
    order = [s for part in net.components for s in part.sections]
    assert sorted(order) == list(range(len(net.sections)))
    written = {row.index for row in net.rows if row.writer is None}
    for index in order:
        section = net.sections[index]
        if section.kind.name != "one-sample-delay":
            assert set(section.ins) <= written, section.name
        written.update(section.outs)
    looped = {s for part in net.components if part.is_loop for s in part.sections}
    for section in net.sections:
        if section.kind.name == "one-sample-delay":
            assert section.index in looped


def test_a_module_patched_into_itself() -> None:
    net = flatten(project({"a": ADDER}, [("a.out", "a.in-1")]))
    assert [part.is_loop for part in net.components] == [True]
    assert sum(s.kind.name == "one-sample-delay" for s in net.sections) == 1
