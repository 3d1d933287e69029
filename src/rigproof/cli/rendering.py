"""A stretch of a patch made into sound files: samples read, kernels prepared, blocks written and measured at once."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.cli.loading import Opened
from rigproof.cli.problems import UsageError, unknown
from rigproof.cli.progress import progress
from rigproof.cli.screen import db_text, grid, heading, minutes, show_table
from rigproof.files.interrupts import held_back
from rigproof.net import stretch as of_net
from rigproof.net.stretch import Stretch
from rigproof.net.timeline import Event
from rigproof.units import plural

if TYPE_CHECKING:
    from rich.console import Console

    from rigproof.engine.render import Player
    from rigproof.engine.schedule import Floats
    from rigproof.measure.loudness import Loudness

LONGEST_S = 6 * 3600.0
"""Longer than any set; more is taken for a slip. [s]"""
STEM_FULL_SCALE_V = 10.0
"""The voltage at a jack that a stem writes as full scale, where nobody asks for another. [V]"""


@dataclass(frozen=True, slots=True)
class Stem:
    """One jack to be written beside the mix: its rows, one a lane, and its file."""

    jack: str
    rows: tuple[int, ...]
    path: Path


@dataclass(frozen=True, slots=True)
class Rendered:
    """What has been written, and what it measures."""

    path: Path
    title: str
    seconds: float
    rate_hz: float
    channels: int
    bits: str
    loudness: Loudness
    clipped: int
    """Samples that stand at full scale."""
    took_s: float
    stems: tuple[Stem, ...]
    stem_full_scale_v: float

    @property
    def speed(self) -> float:
        """How many times faster than it plays it was rendered."""
        return self.seconds / self.took_s if self.took_s > 0.0 else 0.0


def stretch_of(
    opened: Opened,
    *,
    section: str | None = None,
    from_bar: int | None = None,
    seconds: float | None = None,
) -> Stretch:
    """Return the stretch that is asked for: the whole set where nothing is, a minute where there is no set."""
    if seconds is not None and not 0.0 < seconds <= LONGEST_S:
        raise UsageError(
            "--seconds cannot be that", found=f"{seconds:g}", expected=f"above 0 to {LONGEST_S:g}"
        )
    return of_net.stretch_of(opened.net, section=section, from_bar=from_bar, seconds=seconds)


def load_sounds(opened: Opened) -> Mapping[str, Sequence[Any]]:
    """Return every section's samples at the engine's rate; raises `RigErrors` for those that cannot be read."""
    from rigproof.engine.sounds import sounds_of_net
    from rigproof.files.sounds import read_sounds

    with progress("reading samples") as work:
        return sounds_of_net(opened.net, partial(read_sounds, opened.folder, tell=work.tell))


def rate_of(opened: Opened) -> float:
    """Return the sample rate of a net. [Hz]"""
    return of_net.rate_of(opened.net)


def player_for(
    opened: Opened,
    events: Sequence[Event],
    seconds: float,
    *,
    rows: Sequence[int] = (),
    watch: bool = False,
) -> Player:
    """Return a patch ready to play, its samples read and its kernels compiled; `watch` runs all of it."""
    sounds = load_sounds(opened)
    with progress("preparing kernels") as work, held_back() as heed:

        def tell(done: int, total: int) -> None:
            work.tell(done, total + 1)
            heed()

        from rigproof.engine.render import Player
        from rigproof.engine.schedule import schedule

        plan = schedule(
            opened.net,
            sounds=sounds,
            wanted=None if watch else rows,
            on_progress=tell,
        )
        player = Player(plan, rows, [e for e in events if e.at_s < seconds], watch)
        player.play(0)  # the loop itself may have to be compiled too
    return player


def mix_rows(opened: Opened) -> list[int]:
    """Return the rows of what the room hears, one a channel, of the ears that anything reaches."""
    return [row for section in of_net.heard_ears(opened.net) for row in section.outs]


def stems_for(opened: Opened, jacks: Sequence[str], out: Path) -> tuple[Stem, ...]:
    """Return where each jack is found and where it is to be written; raises `UsageError` for what is no such jack."""
    known = of_net.rows_of_jacks(opened.net)
    stems = []
    for jack in dict.fromkeys(jacks):
        if jack not in known:
            raise unknown("jack with a voltage", jack, known)
        stems.append(Stem(jack, known[jack], out.with_name(f"{out.stem}.{jack}{out.suffix}")))
    return tuple(stems)


def render_to_file(
    opened: Opened,
    stretch: Stretch,
    out: Path,
    *,
    bits: str = "24",
    stems: Sequence[str] = (),
    stem_full_scale_v: float = STEM_FULL_SCALE_V,
) -> Rendered:
    """Render a stretch to a file, and the stems to theirs; all of them appear when all is done, or none does."""
    import numpy as np

    from rigproof.engine.render import Take, play_into
    from rigproof.files.audio_out import DEPTHS, SoundWriter
    from rigproof.measure.loudness import Meter

    rate_hz = rate_of(opened)
    mix = mix_rows(opened)
    if not mix:
        raise UsageError(
            "nothing in this patch reaches the way out, so there is nothing to hear",
            expected="a cable into an interface or a desk that has a line input",
        )
    wanted = stems_for(opened, stems, out)
    rows = [*mix, *(row for stem in wanted for row in stem.rows)]
    player = player_for(opened, stretch.events, stretch.seconds, rows=rows)
    meter = Meter(rate_hz, len(mix))
    clipped = 0
    began_s = time.monotonic()
    with ExitStack() as stack:
        work = stack.enter_context(progress("rendering"))
        writers = [
            stack.enter_context(
                SoundWriter(path, rate_hz=round(rate_hz), channels=channels, depth=DEPTHS[bits])
            )
            for path, channels in ((out, len(mix)), *((s.path, len(s.rows)) for s in wanted))
        ]
        for writer in writers:  # rather told now than when an hour has been rendered
            writer.require_room(round(stretch.seconds * rate_hz))

        def keep_mix(heard: Floats) -> None:
            nonlocal clipped
            writers[0].write(heard.T)
            meter.add(heard)
            clipped += int(np.count_nonzero(np.abs(heard) >= 1.0))

        def keep_stem(writer: SoundWriter, sound: Floats) -> None:
            writer.write(sound.T)

        def tell(done_s: float) -> None:
            took_s = time.monotonic() - began_s
            work.tell(done_s, stretch.seconds, f"{done_s / max(took_s, 1e-9):.1f} x real time")

        takes = [Take(len(mix), keep_mix)] + [
            Take(len(stem.rows), partial(keep_stem, writer), stem_full_scale_v)
            for stem, writer in zip(wanted, writers[1:], strict=True)
        ]
        play_into(player, takes, stretch.seconds, tell)
    return Rendered(
        out,
        stretch.title,
        stretch.seconds,
        rate_hz,
        len(mix),
        bits,
        meter.read(),
        clipped,
        time.monotonic() - began_s,
        wanted,
        stem_full_scale_v,
    )


def rendered_data(done: Rendered) -> dict[str, Any]:
    """Return what has been written, for programs."""
    heard = done.loudness
    return {
        "path": done.path,
        "title": done.title,
        "seconds": done.seconds,
        "rate_hz": done.rate_hz,
        "channels": done.channels,
        "bits": done.bits,
        "peak_dbfs": heard.peak_dbfs,
        "true_peak_dbtp": heard.true_peak_dbtp,
        "rms_dbfs": heard.rms_dbfs,
        "integrated_lufs": heard.integrated_lufs,
        "short_term_max_lufs": heard.short_term_max_lufs,
        "range_lu": heard.range_lu,
        "clipped_samples": done.clipped,
        "speed_x": done.speed,
        "stems": [{"jack": s.jack, "path": s.path} for s in done.stems],
        "stem_full_scale_v": done.stem_full_scale_v,
    }


def show_rendered(console: Console, done: Rendered) -> None:
    """Print what has been written and what it measures."""
    heading(console, str(done.path), f"{minutes(done.seconds)}")
    heard = done.loudness
    table = grid("<", ">", "<")
    table.add_row("loudness", db_text(heard.integrated_lufs), "LUFS integrated")
    table.add_row("range", f"{heard.range_lu:.1f}", "LU")
    table.add_row("true peak", db_text(heard.true_peak_dbtp), "dBTP")
    table.add_row("peak", db_text(heard.peak_dbfs), "dBFS")
    table.add_row("rms", db_text(heard.rms_dbfs), "dBFS")
    if done.clipped:
        table.add_row("clipped", str(done.clipped), "samples at full scale")
    table.add_row("rendered", f"{done.speed:.1f}", "x real time")
    show_table(console, table)
    for stem in done.stems:
        console.print(
            f"stem {stem.jack}: {stem.path}, full scale {done.stem_full_scale_v:g} V",
            soft_wrap=True,
        )
    channels = {1: "mono", 2: "stereo"}.get(done.channels, plural(done.channels, "channel"))
    depth = "32-bit float" if done.bits == "float" else f"{done.bits} bit"
    console.print(f"{done.title} · {channels}, {done.rate_hz:g} Hz, {depth}", style="dim")
