"""Euclidean rhythms against the published table, and against the construction done with lists."""

import pytest

from rigproof.kinds.euclid import euclidean

# Source: G. Toussaint, The Euclidean Algorithm Generates Traditional Musical Rhythms, Proc. BRIDGES
# 2005, the list of rhythms. E(5,16) is printed with one rest too many there; its interval vector
# (33334) gives the 16 steps below. The last column is by how many steps the recursive construction
# must be rotated left to give the paper's string: not 0 only where there is a single rest.
PAPER = [
    (1, 2, "x.", "2", 0),
    (1, 3, "x..", "3", 0),
    (1, 4, "x...", "4", 0),
    (4, 12, "x..x..x..x..", "3333", 0),
    (2, 3, "x.x", "21", 1),
    (2, 5, "x.x..", "23", 0),
    (3, 4, "x.xx", "211", 2),
    (3, 5, "x.x.x", "221", 0),
    (3, 7, "x.x.x..", "223", 0),
    (3, 8, "x..x..x.", "332", 0),
    (4, 7, "x.x.x.x", "2221", 0),
    (4, 9, "x.x.x.x..", "2223", 0),
    (5, 6, "x.xxxx", "21111", 4),
    (5, 8, "x.xx.xx.", "21212", 0),
    (5, 9, "x.x.x.x.x", "22221", 0),
    (5, 11, "x.x.x.x.x..", "22223", 0),
    (5, 12, "x..x.x..x.x.", "32322", 0),
    (5, 16, "x..x..x..x..x...", "33334", 0),
    (7, 8, "x.xxxxxx", "2111111", 6),
    (7, 12, "x.xx.x.xx.x.", "2122122", 0),
    (11, 24, "x..x.x.x.x.x..x.x.x.x.x.", "32222322222", 0),
]

# Same source: rotations that the paper describes in words ("started on the second onset").
ROTATED = [
    (5, 8, 2, "xx.xx.x."),
    (5, 9, 2, "x.x.x.xx."),
    (3, 5, 2, "x.xx."),
    (5, 16, 3, "x..x..x...x..x.."),
    (7, 16, 7, "x.x..x.x.x..x.x."),
    (7, 16, 5, "x.x.x.x..x.x.x.."),
    (9, 16, 4, "x.x.xx.x.x.x.xx."),
    (9, 16, 8, "x.x.x.xx.x.x.xx."),
    (11, 24, 7, "x.x.x.x.x.x..x.x.x.x.x.."),
    (13, 24, 4, "x.x.x.x.xx.x.x.x.x.x.xx."),
]


def intervals(rhythm: str) -> list[int]:
    """Steps from each hit to the next, round the end."""
    places = [i for i, letter in enumerate(rhythm) if letter == "x"]
    return [b - a for a, b in zip(places, [*places[1:], places[0] + len(rhythm)], strict=True)]


def by_lists(hits: int, steps: int) -> str:
    """The construction done literally, group by group."""
    first, second = ["x"] * hits, ["."] * (steps - hits)
    while first and len(second) > 1:
        pairs = min(len(first), len(second))
        joined = [a + b for a, b in zip(first, second, strict=False)]
        first, second = joined, [*first[pairs:], *second[pairs:]]
    return "".join(first + second)


@pytest.mark.parametrize(("hits", "steps", "rhythm", "gaps", "rotation"), PAPER)
def test_the_published_table(hits: int, steps: int, rhythm: str, gaps: str, rotation: int) -> None:
    assert euclidean(hits, steps, rotation) == rhythm
    assert "".join(str(gap) for gap in intervals(rhythm)) == gaps


@pytest.mark.parametrize(("hits", "steps", "onset", "rhythm"), ROTATED)
def test_rotation_goes_left(hits: int, steps: int, onset: int, rhythm: str) -> None:
    plain = euclidean(hits, steps)
    start = [i for i, letter in enumerate(plain) if letter == "x"][onset - 1]
    assert euclidean(hits, steps, start) == rhythm


@pytest.mark.parametrize(("hits", "steps", "rhythm"), [(2, 3, "xx."), (3, 4, "xxx.")])
def test_a_single_rest_stands_last(hits: int, steps: int, rhythm: str) -> None:
    """Source: Demaine et al., The Distance Geometry of Music, Computational Geometry 42 (2009)."""
    assert euclidean(hits, steps) == rhythm


def test_every_rhythm_equals_the_construction_done_with_lists() -> None:
    for steps in range(1, 65):
        for hits in range(steps + 1):
            assert euclidean(hits, steps) == by_lists(hits, steps)


def test_gaps_differ_by_one_at_most() -> None:
    """Toussaint 2005: as even as whole steps allow."""
    for steps in range(2, 65):
        for hits in range(1, steps + 1):
            gaps = intervals(euclidean(hits, steps))
            assert len(gaps) == hits
            assert sum(gaps) == steps
            assert max(gaps) - min(gaps) <= 1


@pytest.mark.parametrize(("hits", "steps"), [(1, 0), (5, 4), (-1, 4), (3, 65)])
def test_what_is_no_rhythm_is_refused(hits: int, steps: int) -> None:
    with pytest.raises(ValueError, match="no rhythm"):
        euclidean(hits, steps)
