"""Sound files that a client brings in: bounded, looked at before anybody can use them, never written over another."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from anyio import to_thread

from rigproof.errors import FileError, RigError, Where
from rigproof.files.atomic import part_of, real_target, sync_folder
from rigproof.files.new_file import require_new
from rigproof.files.scaffold import SAMPLES
from rigproof.files.sounds import read_sound
from rigproof.files.text import require_inside
from rigproof.web.api.problems import Refusal, refused_edit

LIMIT_BYTES = 100_000_000
"""The largest sound file that is taken: five minutes in stereo of 24 bit at 48 kHz are 86 MB."""
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.()-]{0,98}\.(wav|flac|aif|aiff|ogg)", re.IGNORECASE)
"""A name of one part, of letters that every system takes."""
RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)\.", re.IGNORECASE)


def sample_names(folder: Path) -> list[str]:
    """Return the sound files in the project's samples folder, as a patch names them."""
    try:
        names = sorted(entry.name for entry in (folder / SAMPLES).iterdir())
    except OSError:
        return []
    return [f"{SAMPLES}/{name}" for name in names if NAME.fullmatch(name)]


async def take_sample(folder: Path, name: str, body: AsyncIterator[bytes]) -> dict[str, Any]:
    """Write a sound file that a client sends into the samples folder, and return what it is.

    Raises `Refusal` when the name is none or taken, it is too large, or it is no sound file.
    """
    if not NAME.fullmatch(name) or RESERVED.match(name):
        wrong = FileError(
            Where(SAMPLES),
            "a sound file cannot be called this",
            expected="letters, digits, spaces, - _ . and an ending such as .wav",
        )
        raise refused_edit([wrong])
    path = folder / SAMPLES / name
    try:
        require_inside(folder / SAMPLES, folder, Where(SAMPLES))
        path.parent.mkdir(exist_ok=True)
        require_new(path, folder)
        real_target(path, folder)
    except RigError as error:
        raise refused_edit([error]) from None
    part = part_of(path)
    try:
        await _receive(part, body)
        return await to_thread.run_sync(_accept, folder, part, path)
    except RigError as error:
        raise refused_edit([error]) from None
    except OSError as error:
        wrong = FileError(Where(f"{SAMPLES}/{name}"), "the file cannot be written")
        raise refused_edit([wrong]) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


async def _receive(part: Path, body: AsyncIterator[bytes]) -> None:
    size_bytes = 0
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    with os.fdopen(handle, "wb") as stream:
        async for piece in body:
            size_bytes += len(piece)
            if size_bytes > LIMIT_BYTES:
                raise Refusal(413, "too-large", f"A sound file may have {LIMIT_BYTES:,} bytes.")
            stream.write(piece)
        stream.flush()
        os.fsync(handle)


def _accept(folder: Path, part: Path, path: Path) -> dict[str, Any]:
    """Read the whole file once, then give it its name unless that has been taken meanwhile."""
    name = f"{SAMPLES}/{path.name}"
    try:
        sound = read_sound(folder, f"{SAMPLES}/{part.name}", Where(name))
    except RigError as error:
        raise FileError(
            Where(name), error.problem, found=_without(error.found, part, path)
        ) from None
    try:
        os.link(part, path)
    except FileExistsError:
        raise FileError(
            Where(name), "there is a file of this name already", expected="another name"
        ) from None
    sync_folder(path.parent)
    frames, channels = sound.data.shape
    return {
        "file": name,
        "rate_hz": sound.rate_hz,
        "frames": int(frames),
        "channels": int(channels),
        "seconds": frames / sound.rate_hz,
    }


def _without(found: str | None, part: Path, path: Path) -> str | None:
    return None if found is None else found.replace(part.name, path.name)
