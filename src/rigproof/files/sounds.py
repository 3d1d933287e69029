"""Samples read from audio files of any rate, depth and number of channels, within limits that keep memory bounded.

Formats and sample conversion are those of libsndfile: whole numbers become n / 2^(bits - 1), so full scale is 1.0.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from rigproof.errors import NOWHERE, FileError, RigError, RigErrors, Where
from rigproof.files.interrupts import held_back
from rigproof.files.printable import printable
from rigproof.files.text import open_ordinary, require_inside
from rigproof.model.project import Sound

FORMATS = ("WAV", "WAVEX", "RF64", "FLAC", "AIFF", "OGG")
"""The containers that are read, as libsndfile names them."""
BEGINNINGS = (b"RIFF", b"RF64", b"fLaC", b"FORM", b"OggS")
"""How their files begin. Source: RIFF 1.0, EBU Tech 3306, RFC 9639, AIFF 1.3, RFC 3533."""
SAMPLES_LIMIT = 30_000_000
"""Frames times channels: five minutes in stereo at 48 kHz, 240 MB of memory."""
CHANNELS_LIMIT = 16
RATES_HZ = (1_000, 768_000)
FILE_LIMIT_BYTES = 250_000_000
CHUNK_FRAMES = 262_144


def read_sound(folder: Path, name: str, where: Where = NOWHERE) -> Sound:
    """Return the sample `name`, a path below the project folder.

    Raises `FileError` when it is missing, outside the folder, no audio, empty, too long, or holds NaN.
    """
    path = require_inside(folder / name, folder, where)
    with open_ordinary(path, where, limit_bytes=FILE_LIMIT_BYTES, what="sample") as stream:
        return _decoded(stream, name, where)


def require_beginning(path: Path, where: Where) -> None:
    """Look at the first bytes of a sample, which is quick: raises `FileError` when it begins like no audio file."""
    with open_ordinary(path, where, limit_bytes=FILE_LIMIT_BYTES, what="sample") as stream:
        if stream.read(4) not in BEGINNINGS:
            raise FileError(
                where,
                "this is no audio file that can be read",
                found=f"'{printable(path.name)}'",
                expected="WAV, FLAC, AIFF or OGG",
            )


def _decoded(stream: Any, name: str, where: Where) -> Sound:
    import numpy as np
    import soundfile

    try:
        with held_back() as heed:
            rate_hz, chunks = _chunks(stream, name, where, heed)
    except (soundfile.SoundFileError, RuntimeError, TypeError, ValueError) as error:
        raise _bad(
            where,
            name,
            "this is no audio file that can be read",
            printable(getattr(error, "error_string", None) or str(error))[:120],
            "WAV, FLAC, AIFF or OGG",
        ) from None
    if not chunks:
        raise _bad(where, name, "the sample is empty", "no sound in it")
    data = np.concatenate(chunks)
    if not np.isfinite(data).all():
        raise _bad(where, name, "the sample holds values that are no numbers", "NaN or infinity")
    return Sound(name, rate_hz, data)


def _chunks(
    stream: Any, name: str, where: Where, heed: Callable[[], None]
) -> tuple[float, list[Any]]:
    """Return the rate and the sound of an open file, in pieces; what the library holds is gone when this is left.

    Ctrl-C is to be held back meanwhile: in the library's clean-up it would be lost. `heed` is called between pieces.
    """
    import soundfile

    # By its number: an error inside the library's call-backs would be lost too.
    with soundfile.SoundFile(stream.fileno(), closefd=False) as audio:
        _require_limits(audio, name, where)
        chunks: list[Any] = []
        frames = 0
        # In pieces, because a header may promise more than the file holds.
        while True:
            heed()
            chunk = audio.read(CHUNK_FRAMES, dtype="float64", always_2d=True)
            if not len(chunk):
                return float(audio.samplerate), chunks
            chunks.append(chunk)
            frames += len(chunk)
            if frames * audio.channels > SAMPLES_LIMIT:
                raise _too_long(where, name, frames, audio.channels)


def _require_limits(audio: Any, name: str, where: Where) -> None:
    if audio.format not in FORMATS:
        raise _bad(
            where,
            name,
            "this sort of audio file is not read",
            str(audio.format),
            "WAV, FLAC, AIFF or OGG",
        )
    if audio.channels > CHANNELS_LIMIT:
        raise _bad(
            where,
            name,
            "the sample has too many channels",
            str(audio.channels),
            f"at most {CHANNELS_LIMIT}",
        )
    lo, hi = RATES_HZ
    if not lo <= audio.samplerate <= hi:
        raise _bad(
            where,
            name,
            "the sample's rate is out of reach",
            f"{audio.samplerate} Hz",
            f"{lo} to {hi} Hz",
        )
    if audio.frames * audio.channels > SAMPLES_LIMIT:
        raise _too_long(where, name, audio.frames, audio.channels)


def _too_long(where: Where, name: str, frames: int, channels: int) -> FileError:
    return _bad(
        where,
        name,
        "the sample is too long",
        f"{frames:,} frames of {channels}",
        f"at most {SAMPLES_LIMIT:,} frames in all channels together",
    )


def _bad(
    where: Where, name: str, problem: str, found: str, expected: str | None = None
) -> FileError:
    return FileError(where, problem, found=f"'{printable(name)}': {found}", expected=expected)


def read_sounds(
    folder: Path,
    names: Iterable[str],
    places: Mapping[str, Where],
    *,
    tell: Callable[[int, int], None] | None = None,
) -> dict[str, Sound]:
    """Return sound files by name, each read once; `places` says where they are named, `tell` how many are done.

    Raises `RigErrors` with all of those that cannot be read.
    """
    wanted = tuple(dict.fromkeys(names))
    sounds: dict[str, Sound] = {}
    errors: list[RigError] = []
    for done, name in enumerate(wanted, start=1):
        try:
            sounds[name] = read_sound(folder, name, places.get(name, NOWHERE))
        except RigError as error:
            errors.append(error)
        if tell is not None:
            tell(done, len(wanted))
    if errors:
        raise RigErrors(errors)
    return sounds
