"""A stretch of a patch played for the checks: how far every row goes, and how loud the way out is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rigproof.cli.loading import Opened
from rigproof.cli.progress import progress
from rigproof.cli.rendering import mix_rows, player_for, rate_of
from rigproof.net.stretch import Stretch

if TYPE_CHECKING:
    from rigproof.readings.heard import Heard


def hear(opened: Opened, stretch: Stretch) -> Heard:
    """Play a stretch and return what it has shown on every row of the net."""
    from rigproof.engine.render import Take, play_into
    from rigproof.measure.loudness import Meter
    from rigproof.readings.heard import Heard

    mix = mix_rows(opened)
    player = player_for(opened, stretch.events, stretch.seconds, rows=mix, watch=True)
    meter = Meter(rate_of(opened), len(mix)) if mix else None
    takes = [Take(len(mix), meter.add)] if meter is not None else []
    with progress("listening") as work:
        play_into(player, takes, stretch.seconds, lambda done_s: work.tell(done_s, stretch.seconds))
    loud = meter.read() if meter is not None else None
    return Heard(
        stretch.seconds,
        stretch.title,
        player.lows_v.tolist(),
        player.highs_v.tolist(),
        _finite(loud.integrated_lufs) if loud is not None else None,
        _finite(loud.true_peak_dbtp) if loud is not None else None,
    )


def _finite(level_db: float) -> float | None:
    return level_db if math.isfinite(level_db) else None
