"""Sound written to a file while it is made: under a hidden name first, renamed when all of it is there."""

from __future__ import annotations

import contextlib
import os
from enum import StrEnum
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from rigproof.errors import FileError, Where
from rigproof.files.atomic import cannot_write, keep_mode, part_of, real_target, sync_folder
from rigproof.files.printable import printable

WAV_LIMIT_BYTES = 2**32 - 4096
"""A WAV file counts its bytes in 32 bits. Source: RIFF, Multimedia Programming Interface and Data Specifications."""


class Depth(StrEnum):
    """How a sample is written."""

    INT_16 = "16-bit"
    INT_24 = "24-bit"
    FLOAT_32 = "32-bit float"


SUBTYPES = {Depth.INT_16: "PCM_16", Depth.INT_24: "PCM_24", Depth.FLOAT_32: "FLOAT"}
BYTES = {Depth.INT_16: 2, Depth.INT_24: 3, Depth.FLOAT_32: 4}
FORMATS = {".wav": "WAV", ".flac": "FLAC"}
FITTING = {"WAV": tuple(Depth), "FLAC": (Depth.INT_16, Depth.INT_24)}
"""FLAC has no floating point. Source: RFC 9639, Free Lossless Audio Codec, section 4."""


class _Stream:
    """A file as the sound library writes it. The first failure is kept, since the library cannot pass one on."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file
        self.failure: OSError | None = None

    def write(self, data: Any) -> int:
        """Write all of it, or keep the reason why not."""
        self._try(self.file.write, data)
        return len(data)

    def read(self, size: int = -1) -> bytes:
        """Read back what was written."""
        return self._try(self.file.read, size) or b""

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Go to a place."""
        return self._try(self.file.seek, offset, whence) or 0

    def tell(self) -> int:
        """Return the place."""
        return self._try(self.file.tell) or 0

    def require_whole(self) -> None:
        """Raise the `OSError` that was kept, if there is one."""
        if self.failure is not None:
            raise self.failure

    def _try(self, action: Any, *arguments: Any) -> Any:
        if self.failure is not None:
            return None
        try:
            return action(*arguments)
        except OSError as error:
            self.failure = error
            return None


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
        self._stream: Any = None
        self._audio: Any = None

    def __enter__(self) -> Self:
        import soundfile

        try:
            # "x": a file or link that is in the way is not written through.
            self._file = self.part.open("xb+")
            self._stream = _Stream(self._file)
            self._audio = soundfile.SoundFile(
                self._stream,
                "w",
                samplerate=self.rate_hz,
                channels=self.channels,
                subtype=SUBTYPES[self.depth],
                format=self.sort,
            )
            self._stream.require_whole()
        except OSError as error:
            self._drop()
            raise cannot_write(self.where, error) from None
        except (soundfile.SoundFileError, TypeError, ValueError) as error:
            self._drop()
            raise FileError(
                self.where, "the sound cannot be written", found=printable(str(error))
            ) from None
        return self

    def write(self, sound: Any) -> None:
        """Write float64[frames, channels], full scale 1.0.

        Raises `FileError` when it holds NaN, or a WAV file would grow beyond 4 GB.
        """
        import numpy as np

        if not np.isfinite(sound).all():
            raise FileError(self.where, "the sound holds values that are no numbers")
        self.frames += len(sound)
        size_bytes = self.frames * self.channels * BYTES[self.depth]
        if self.sort == "WAV" and size_bytes > WAV_LIMIT_BYTES:
            raise FileError(
                self.where,
                "the sound is too long for a WAV file",
                expected="at most 4 GB, or a name that ends in .flac",
            )
        size = np.abs(sound)
        if size.size:
            self.peak = max(self.peak, float(size.max()))
        if self.depth is not Depth.FLOAT_32:
            self.clipped += int(np.count_nonzero(size > 1.0))
            sound = np.clip(sound, -1.0, 1.0)
        try:
            self._audio.write(sound)
            self._stream.require_whole()
        except (OSError, RuntimeError) as error:
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
        try:
            self._audio.close()
            self._stream.require_whole()
            self._file.flush()
            keep_mode(self.path, self.part)
            os.fsync(self._file.fileno())
            self._file.close()
            self.part.replace(self.path)
            sync_folder(self.path.parent)
        except (OSError, RuntimeError) as failure:
            self._drop()
            raise self._failed(failure) from None

    def _failed(self, error: Exception) -> FileError:
        reason = getattr(error, "strerror", None) or str(error)
        return FileError(self.where, "the sound cannot be written", found=printable(reason))

    def _drop(self) -> None:
        for thing in (self._audio, self._file):
            if thing is not None:
                with contextlib.suppress(OSError, RuntimeError):
                    thing.close()
        with contextlib.suppress(OSError):
            self.part.unlink()
