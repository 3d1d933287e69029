"""Delays: what meets itself again, a little later."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.checks.base import Bench, Finding, Severity, check
from rigproof.readings.delay import Difference, first_notch_hz

SHORTEST_S = 50e-6
"""A shorter difference has its first notch above 10 kHz. Our choice. [s]"""
LONGEST_S = 0.020
"""A longer difference is heard as an echo and no longer as a colour, from about 20 to 40 ms. Common practice, no
source. [s]"""


@check("sound-meets-itself", severity=Severity.WORTH_KNOWING)
def sound_meets_itself(bench: Bench) -> Iterator[Finding]:
    """One sound comes to a mix by two ways of which one takes a few milliseconds longer.

    On stage: hollow and thin, like a voice through a pipe; worst on bass, where the first notch takes whole notes.
    Fix: none is computed: drop one of the ways, or make both as long.
    Blind to: how loud each way is; equal ones cancel wholly. Flanging on purpose looks the same; decline it there.
    Source: x(t) + x(t - d) has the gain 2 |cos(pi f d)|, so the first notch lies at 1/(2 d) (closed form).
    """
    said: dict[str, Difference] = {}
    for found in bench.readings.differences:
        if not SHORTEST_S <= found.hi_s < LONGEST_S:
            continue
        place = bench.net.sections[found.section].name
        if place not in said or found.hi_s > said[place].hi_s:
            said[place] = found
    for place, found in said.items():
        source = bench.net.rows[found.source_row].name
        notch_hz = first_notch_hz(found.hi_s)
        yield Finding(
            place,
            f"{source} comes to {place} twice, by {found.early_port} and {1e3 * found.hi_s:.3g} ms "
            f"later by {found.late_port}: notches at {notch_hz:.4g} Hz and its odd multiples.",
            {"difference_s": found.hi_s, "first_notch_hz": notch_hz},
            None,
            bench.net.sections[found.section].where,
        )
