"""A stretch of the patch played into files: the mix, stems at a chosen full scale, and probes in volts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rigproof.errors import NOWHERE, RigError, RigErrors, UnknownName
from rigproof.model.project import Project, Sound
from rigproof.net.excerpt import bar_start_s, excerpt
from rigproof.net.graph import Net
from rigproof.net.timeline import Event, timeline

WITHOUT_SET_S = 60.0
"""How long a patch without a set is rendered. [s]"""
LONGEST_S = 2 * 3600.0
"""Longer than any set; more is taken for a slip. [s]"""
JACKS_LIMIT = 16
RATES_HZ = (44_100, 48_000, 96_000)
DEPTHS = {"16": "16-bit", "24": "24-bit", "float": "32-bit float"}
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
class Stretch:
    """How long, with which moves, what it is called, and where in the set it begins."""

    seconds: float
    events: tuple[Event, ...]
    title: str
    start_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Track:
    """One file to be written: its rows, one a channel, its full scale and depth."""

    name: str
    sort: str
    rows: tuple[int, ...]
    full_scale_v: float | None
    depth: str

    @property
    def file(self) -> str:
        """The file's name."""
        return "mix.wav" if self.sort == MIX else f"{self.sort}.{self.name}.wav"


class Stopped(Exception):
    """Whoever asked for the render has stopped it."""


def stretch_of(net: Net, wish: Wish) -> Stretch:
    """Return the stretch that is wished for: the whole set, or a minute where there is no set.

    Raises `RigError` when there is no such section or bar, or it would be too long.
    """
    if wish.seconds is not None and not 0.0 < wish.seconds <= LONGEST_S:
        raise RigError(NOWHERE, "so many seconds cannot be", expected=f"above 0 to {LONGEST_S:g}")
    setlist = net.project.setlist
    whole = timeline(net)
    if setlist is None or not setlist.sections:
        if wish.section is not None or wish.from_bar is not None:
            raise RigError(NOWHERE, "this patch has no set, so it has no sections and no bars")
        return Stretch(wish.seconds or WITHOUT_SET_S, whole.events, net.project.patch.name)
    start_s, room_s, title = 0.0, whole.length_s, setlist.name
    if wish.section is not None:
        spans = {p.id: p for p in whole.passages}
        if wish.section not in spans:
            raise UnknownName(NOWHERE, "section", wish.section, spans)
        span = spans[wish.section]
        start_s, room_s = span.start_s, span.length_s
        title = f"{title}, {span.title}"
    if wish.from_bar is not None:
        try:
            at_s = bar_start_s(net, whole, wish.from_bar, section=wish.section)
        except ValueError as error:
            raise RigError(NOWHERE, "there is no such bar", expected=str(error)) from None
        room_s -= at_s - start_s
        start_s = at_s
        title += f", from bar {wish.from_bar}"
    seconds = wish.seconds or room_s
    if seconds > LONGEST_S:
        raise RigError(NOWHERE, "this is too long", expected=f"at most {LONGEST_S:g} s at a time")
    return Stretch(seconds, excerpt(net, whole, start_s, seconds).events, title, start_s)


def ears_of(net: Net) -> tuple[str, ...]:
    """Return the names of the sections by which the room hears anything."""
    return tuple(
        section.name
        for section in net.ears
        if any(net.rows[i].writer is not None for i in section.ins)
    )


def tracks_of(net: Net, wish: Wish, *, ears: Sequence[str]) -> tuple[Track, ...]:
    """Return what is to be written, the mix of these ears first if there are any: one that has fallen silent stays.

    Raises `RigError` when a jack is none with a voltage, or there is nothing to write.
    """
    if len(wish.stems) + len(wish.probes) > JACKS_LIMIT:
        raise RigError(NOWHERE, "too many jacks", expected=f"at most {JACKS_LIMIT}")
    rows: dict[str, list[int]] = {}
    for contact in net.contacts.values():
        if contact.jack.signal.is_volts:
            rows.setdefault(f"{contact.module}.{contact.jack.id}", []).append(contact.row)
    for jack in (*wish.stems, *wish.probes):
        if jack not in rows:
            raise UnknownName(NOWHERE, "jack with a voltage", jack, rows)
    mix = tuple(row for section in net.ears if section.name in ears for row in section.outs)
    depth = DEPTHS[wish.bits]
    tracks = [Track(MIX, MIX, mix, None, depth)] if mix else []
    tracks += [
        Track(jack, "stem", tuple(rows[jack]), wish.stem_full_scale_v, depth)
        for jack in dict.fromkeys(wish.stems)
    ]
    tracks += [
        Track(jack, "probe", tuple(rows[jack]), 1.0, DEPTHS["float"])
        for jack in dict.fromkeys(wish.probes)
    ]
    if not tracks:
        raise RigError(
            NOWHERE,
            "nothing in this patch reaches the way out, so there is nothing to hear",
            expected="a cable into an interface or a desk that has a line input",
        )
    return tuple(tracks)


def load_sounds(net: Net, project: Project, folder: Path) -> Mapping[str, Sequence[Any]]:
    """Return every section's samples at the net's rate; raises `RigErrors` for those that cannot be read."""
    from rigproof.engine.sounds import FILES, sounds_of_sections
    from rigproof.files.sounds import read_sound

    files: dict[str, tuple[str, ...]] = {}
    for section in net.sections:
        found = section.setting.options.get(FILES, ())
        if isinstance(found, tuple) and found:
            files[section.name] = tuple(str(name) for name in found)
    places = {f: s.where for s in project.patch.samples for f in _names(s.values.get(FILES))}
    sounds: dict[str, Sound] = {}
    errors: list[RigError] = []
    for name in dict.fromkeys(name for some in files.values() for name in some):
        try:
            sounds[name] = read_sound(folder, name, places.get(name, NOWHERE))
        except RigError as error:
            errors.append(error)
    if errors:
        raise RigErrors(errors)
    return sounds_of_sections(files, sounds, rate_of(net))


def _names(value: Any) -> tuple[str, ...]:
    return tuple(str(v) for v in value) if isinstance(value, tuple) else ()


def rate_of(net: Net) -> float:
    """Return the sample rate of a net. [Hz]"""
    return net.sections[0].setting.rate_hz if net.sections else 48_000.0


def render_tracks(
    net: Net,
    stretch: Stretch,
    tracks: Sequence[Track],
    *,
    sounds: Mapping[str, Sequence[Any]],
    folder: Path,
    tell: Callable[[float], None],
) -> dict[str, Any]:
    """Play a stretch into files in a folder, and return what the mix measures.

    `tell` is called with the seconds done, often; what it raises stops the render, and no file is left.
    """
    from rigproof.engine.render import Player
    from rigproof.engine.schedule import schedule
    from rigproof.files.audio_out import Depth, SoundWriter
    from rigproof.measure.loudness import Meter

    rows = [row for track in tracks for row in track.rows]
    rate_hz = rate_of(net)
    plan = schedule(net, sounds=sounds, wanted=rows, on_progress=lambda *_counts: tell(0.0))
    player = Player(plan, rows, [e for e in stretch.events if e.at_s < stretch.seconds])
    mix = next((track for track in tracks if track.sort == MIX), None)
    meter = Meter(rate_hz, len(mix.rows)) if mix is not None else None
    done_s = 0.0
    with ExitStack() as stack:
        writers = [
            stack.enter_context(
                SoundWriter(
                    folder / track.file,
                    rate_hz=round(rate_hz),
                    channels=len(track.rows),
                    depth=Depth(track.depth),
                    folder=folder,
                )
            )
            for track in tracks
        ]
        for chunk in player.chunks(stretch.seconds):
            at = 0
            for track, writer in zip(tracks, writers, strict=True):
                part = chunk[at : at + len(track.rows)]
                at += len(track.rows)
                if track.sort == MIX and meter is not None:
                    meter.add(part)
                scale = 1.0 if track.full_scale_v is None else track.full_scale_v
                writer.write(part.T / scale)
            done_s += chunk.shape[1] / rate_hz
            tell(min(done_s, stretch.seconds))
        clipped = {t.file: w.clipped for t, w in zip(tracks, writers, strict=True)}
    heard = meter.read() if meter is not None else None
    return {
        "clipped_samples": clipped,
        "loudness": heard,
    }
