"""Sound written to a file while it is made: under a hidden name first, renamed when all of it is there."""

from __future__ import annotations

import contextlib
import os
from enum import StrEnum
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from rigproof.errors import FileError, Where
from rigproof.files.atomic import cannot_write, keep_mode, part_of, real_target, sync_folder
from rigproof.files.interrupts import held_back
from rigproof.files.printable import printable

WAV_LIMIT_BYTES = 2**32 - 4096
"""A WAV file counts its bytes in 32 bits. Source: RIFF, Multimedia Programming Interface and Data Specifications."""

PROBE_BYTES = 65_536
"""So much more is written to a file that failed, to learn why. It is dropped afterwards."""


class Depth(StrEnum):
    """How a sample is written."""

    INT_16 = "16-bit"
    INT_24 = "24-bit"
    FLOAT_32 = "32-bit float"


DEPTHS = {"16": Depth.INT_16, "24": Depth.INT_24, "float": Depth.FLOAT_32}
"""The depths by what a performer says."""
SUBTYPES = {Depth.INT_16: "PCM_16", Depth.INT_24: "PCM_24", Depth.FLOAT_32: "FLOAT"}
BYTES = {Depth.INT_16: 2, Depth.INT_24: 3, Depth.FLOAT_32: 4}
FORMATS = {".wav": "WAV", ".flac": "FLAC"}
FITTING = {"WAV": tuple(Depth), "FLAC": (Depth.INT_16, Depth.INT_24)}
"""FLAC has no floating point. Source: RFC 9639, Free Lossless Audio Codec, section 4."""


class SoundWriter:
    """A sound file being written; use it in a `with`. Left by an error, it leaves no file and the old one as it was.

    Full scale is 1.0. Whole-number depths stop there; `clipped` counts the values that were cut, `peak` is the
    largest of all. No dither is added.

    Raises `FileError` when the name does not end in .wav or .flac, the depth does not fit, or it may not be written.
    """

    def __init__(
        self,
        path: Path,
        *,
        rate_hz: int,
        channels: int,
        depth: Depth = Depth.INT_24,
        folder: Path | None = None,
    ) -> None:
        """`folder`, when given, is the folder that the file must lie in, links followed."""
        self.where = Where(printable(str(path)))
        sort = FORMATS.get(path.suffix.lower())
        if sort is None:
            raise FileError(
                self.where,
                "this sort of sound file is not written",
                found=printable(path.suffix) or "no ending",
                expected="a name that ends in .wav or .flac",
            )
        if depth not in FITTING[sort]:
            raise FileError(
                self.where,
                f"{sort} cannot hold this depth",
                found=str(depth),
                expected=" or ".join(FITTING[sort]),
            )
        self.path = real_target(path, folder if folder is not None else path.parent)
        self.part = part_of(self.path)
        self.sort, self.depth = sort, depth
        self.rate_hz, self.channels = rate_hz, channels
        self.frames = 0
        self.clipped = 0
        self.peak = 0.0
        self._file: Any = None
        self._audio: Any = None

    def __enter__(self) -> Self:
        import soundfile

        try:
            # "x": a file or link that is in the way is not written through.
            self._file = self.part.open("xb+", buffering=0)
            # By its number: were it a Python object, Ctrl-C or a full disk would strike inside the library's
            # callbacks, from where no exception comes back.
            self._audio = soundfile.SoundFile(
                self._file.fileno(),
                "w",
                closefd=False,
                samplerate=self.rate_hz,
                channels=self.channels,
                subtype=SUBTYPES[self.depth],
                format=self.sort,
            )
        except OSError as error:
            self._drop()
            raise cannot_write(self.where, error) from None
        except (soundfile.SoundFileError, TypeError, ValueError) as error:
            told = self._failed(error)
            self._drop()
            raise told from None
        return self

    def require_room(self, frames: int) -> None:
        """Raise `FileError` when so many frames in all are more than a WAV file holds."""
        size_bytes = frames * self.channels * BYTES[self.depth]
        if self.sort == "WAV" and size_bytes > WAV_LIMIT_BYTES:
            raise FileError(
                self.where,
                "the sound is too long for a WAV file",
                expected="at most 4 GB, or a name that ends in .flac",
            )

    def write(self, sound: Any) -> None:
        """Write float64[frames, channels], full scale 1.0.

        Raises `FileError` when it holds NaN, or a WAV file would grow beyond 4 GB.
        """
        import numpy as np

        if not np.isfinite(sound).all():
            raise FileError(self.where, "the sound holds values that are no numbers")
        self.frames += len(sound)
        self.require_room(self.frames)
        size = np.abs(sound)
        if size.size:
            self.peak = max(self.peak, float(size.max()))
        if self.depth is not Depth.FLOAT_32:
            self.clipped += int(np.count_nonzero(size > 1.0))
            sound = np.clip(sound, -1.0, 1.0)
        try:
            self._audio.write(sound)
        except (OSError, RuntimeError, AssertionError) as error:
            raise self._failed(error) from None

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None:
            self._drop()
            return
        with held_back():
            self._finish()

    def _finish(self) -> None:
        """Put the file in its place; Ctrl-C is to be held back meanwhile, the library's clean-up would lose it."""
        try:
            self._audio.close()
            self._require_whole()
            keep_mode(self.path, self.part)
            os.fsync(self._file.fileno())
            self._file.close()
            self.part.replace(self.path)
            sync_folder(self.path.parent)
        except (OSError, RuntimeError) as failure:
            told = self._failed(failure)
            self._drop()
            raise told from None

    def _require_whole(self) -> None:
        """Raise `RuntimeError` when the file holds less than was written: the library may not tell when it closes."""
        import soundfile

        with soundfile.SoundFile(self.part) as written:
            if self.frames:
                written.seek(self.frames - 1)
            if written.frames != self.frames or len(written.read(2)) != min(1, self.frames):
                raise RuntimeError("the end of it is missing")

    def _failed(self, error: Exception) -> FileError:
        reason = getattr(error, "strerror", None) or str(error)
        try:
            # The library keeps the system's reason to itself, so the system is asked once more.
            for _ in range(2):
                os.write(self._file.fileno(), bytes(PROBE_BYTES))
        except OSError as again:
            reason = again.strerror or reason
        except (AttributeError, ValueError):  # not open yet, or closed already
            pass
        return FileError(self.where, "the sound cannot be written", found=printable(reason))

    def _drop(self) -> None:
        for thing in (self._audio, self._file):
            if thing is not None:
                with contextlib.suppress(OSError, RuntimeError):
                    thing.close()
        with contextlib.suppress(OSError):
            self.part.unlink()
