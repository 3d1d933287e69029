"""A stretch of the patch played into files: the mix, stems at a chosen full scale, and probes in volts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigproof.errors import NOWHERE, RigError, UnknownName
from rigproof.files.audio_out import DEPTHS, Depth
from rigproof.net.graph import Net
from rigproof.net.stretch import Stretch, heard_ears, rate_of, rows_of_jacks, stretch_of

if TYPE_CHECKING:
    from rigproof.files.audio_out import SoundWriter
    from rigproof.measure.loudness import Meter

LONGEST_S = 2 * 3600.0
"""Longer than any set; more is taken for a slip. [s]"""
JACKS_LIMIT = 16
RATES_HZ = (44_100, 48_000, 96_000)
MIX = "mix"
"""The name of the file that holds what the room hears."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be rendered."""

    section: str | None = None
    from_bar: int | None = None
    seconds: float | None = None
    rate_hz: int = 48_000
    bits: str = "24"
    stems: tuple[str, ...] = ()
    """Jacks to be written beside the mix."""
    stem_full_scale_v: float = 10.0
    probes: tuple[str, ...] = ()
    """Jacks to be looked at: written in volts, so that nothing is cut."""
    without: tuple[int, ...] = ()
    """Cables of the patch to leave out, so that what they do can be heard by the difference."""
    fix: tuple[str, str] | None = None
    """A finding and its place: play the patch as its fix would make it."""

    @property
    def is_what_if(self) -> bool:
        """Whether something else is played than the files say."""
        return bool(self.without) or self.fix is not None


@dataclass(frozen=True, slots=True)
class Track:
    """One file to be written: its rows, one a channel, its full scale and depth."""

    name: str
    sort: str
    rows: tuple[int, ...]
    full_scale_v: float | None
    depth: Depth

    @property
    def file(self) -> str:
        """The file's name."""
        return "mix.wav" if self.sort == MIX else f"{self.sort}.{self.name}.wav"


class Stopped(Exception):
    """Whoever asked for the render has stopped it."""


def wished_stretch(net: Net, wish: Wish) -> Stretch:
    """Return the stretch that is wished for: the whole set, or a minute where there is no set.

    Raises `RigError` when there is no such section or bar, or it would be too long.
    """
    found = stretch_of(net, section=wish.section, from_bar=wish.from_bar, seconds=wish.seconds)
    if found.seconds > LONGEST_S:
        raise RigError(NOWHERE, "this is too long", expected=f"at most {LONGEST_S:g} s at a time")
    return found


def ears_of(net: Net) -> tuple[str, ...]:
    """Return the names of the sections by which the room hears anything."""
    return tuple(section.name for section in heard_ears(net))


def tracks_of(net: Net, wish: Wish, *, ears: Sequence[str]) -> tuple[Track, ...]:
    """Return what is to be written, the mix of these ears first if there are any: one that has fallen silent stays.

    Raises `RigError` when a jack is none with a voltage, or there is nothing to write.
    """
    if len(wish.stems) + len(wish.probes) > JACKS_LIMIT:
        raise RigError(NOWHERE, "too many jacks", expected=f"at most {JACKS_LIMIT}")
    rows = rows_of_jacks(net)
    for jack in (*wish.stems, *wish.probes):
        if jack not in rows:
            raise UnknownName(NOWHERE, "jack with a voltage", jack, rows)
    mix = tuple(row for section in net.ears if section.name in ears for row in section.outs)
    depth = DEPTHS[wish.bits]
    tracks = [Track(MIX, MIX, mix, None, depth)] if mix else []
    tracks += [
        Track(jack, "stem", rows[jack], wish.stem_full_scale_v, depth)
        for jack in dict.fromkeys(wish.stems)
    ]
    tracks += [
        Track(jack, "probe", rows[jack], 1.0, Depth.FLOAT_32) for jack in dict.fromkeys(wish.probes)
    ]
    if not tracks:
        raise RigError(
            NOWHERE,
            "nothing in this patch reaches the way out, so there is nothing to hear",
            expected="a cable into an interface or a desk that has a line input",
        )
    return tuple(tracks)


def load_sounds(net: Net, folder: Path) -> Mapping[str, Sequence[Any]]:
    """Return every section's samples at the net's rate; raises `RigErrors` for those that cannot be read."""
    from rigproof.engine.sounds import sounds_of_net
    from rigproof.files.sounds import read_sounds

    return sounds_of_net(net, partial(read_sounds, folder))


def render_tracks(
    net: Net,
    stretch: Stretch,
    tracks: Sequence[Track],
    *,
    sounds: Mapping[str, Sequence[Any]],
    folder: Path,
    tell: Callable[[float], None],
    tell_ready: Callable[[float], None],
) -> dict[str, Any]:
    """Play a stretch into files in a folder, and return what the mix measures.

    `tell_ready` is called with the share of the sound library that is ready, and then `tell` with the seconds done,
    both often; what they raise stops the render, and no file is left.
    """
    from rigproof.engine.render import Player, Take, play_into
    from rigproof.engine.schedule import schedule
    from rigproof.files.audio_out import SoundWriter
    from rigproof.measure.loudness import Meter

    rows = [row for track in tracks for row in track.rows]
    rate_hz = rate_of(net)

    def ready(done: int, total: int) -> None:
        tell_ready(done / (total + 1))  # the loop itself may have to be compiled too

    plan = schedule(net, sounds=sounds, wanted=rows, on_progress=ready)
    player = Player(plan, rows, [e for e in stretch.events if e.at_s < stretch.seconds])
    mix = next((track for track in tracks if track.sort == MIX), None)
    meter = Meter(rate_hz, len(mix.rows)) if mix is not None else None
    with ExitStack() as stack:
        writers = [
            stack.enter_context(
                SoundWriter(
                    folder / track.file,
                    rate_hz=round(rate_hz),
                    channels=len(track.rows),
                    depth=track.depth,
                    folder=folder,
                )
            )
            for track in tracks
        ]
        takes = [
            Take(
                len(track.rows),
                partial(_keep, writer, meter if track is mix else None),
                1.0 if track.full_scale_v is None else track.full_scale_v,
            )
            for track, writer in zip(tracks, writers, strict=True)
        ]
        play_into(player, takes, stretch.seconds, tell)
        clipped = {t.file: w.clipped for t, w in zip(tracks, writers, strict=True)}
    heard = meter.read() if meter is not None else None
    return {
        "clipped_samples": clipped,
        "loudness": heard,
    }


def _keep(writer: SoundWriter, meter: Meter | None, sound: Any) -> None:
    if meter is not None:
        meter.add(sound)
    writer.write(sound.T)
