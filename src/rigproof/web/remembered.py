"""Where a folder was served last, so that a server that was ended and started again comes up under the same address
and a page that is still open goes on by itself.

What is kept is a port and the cookie of that run, which opens the folder to whoever has it: so it lies in a file that
only its owner may read, is not trusted when anybody else could have written it, and is forgotten after a day.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import stat
import time
from dataclasses import dataclass
from pathlib import Path

KEPT_S = 24 * 3600.0
"""So long it is good: over a night, not for ever. Our choice. [s]"""
LIMIT_BYTES = 4096
COOKIE = re.compile(r"[A-Za-z0-9_-]{43}")
"""256 bits in base64url."""
PORTS = range(1024, 65536)


@dataclass(frozen=True, slots=True)
class Remembered:
    """Under which port a folder was served, and the cookie of that run."""

    port: int
    cookie: str


def state_folder() -> Path:
    """Return where such files lie. Source: XDG Base Directory Specification 0.8, `XDG_STATE_HOME`."""
    given = os.environ.get("XDG_STATE_HOME", "")
    base = Path(given) if os.path.isabs(given) else Path.home() / ".local" / "state"  # noqa: PTH117
    return base / "rigproof" / "open"


def file_of(target: Path) -> Path:
    """Return the file that keeps what is known of one folder or patch."""
    return (
        state_folder() / f"{hashlib.sha256(str(target.resolve()).encode()).hexdigest()[:32]}.json"
    )


def recall(target: Path, *, now_s: float | None = None) -> Remembered | None:
    """Return where a folder was served last; None where nothing is known, or nothing that may be trusted."""
    now_s = time.time() if now_s is None else now_s
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError, RuntimeError):
        handle = os.open(file_of(target), os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
        with os.fdopen(handle, "rb") as stream:
            info = os.fstat(stream.fileno())
            if not _is_private(info):
                return None
            raw = json.loads(stream.read(LIMIT_BYTES))
        port, cookie, at_s = raw["port"], raw["cookie"], raw["at_s"]
        is_young = 0.0 <= now_s - float(at_s) <= KEPT_S
        if is_young and type(port) is int and port in PORTS and COOKIE.fullmatch(cookie):
            return Remembered(port, cookie)
    return None


def remember(target: Path, port: int, cookie: str) -> bool:
    """Keep where a folder is served now; returns whether that could be done."""
    path = file_of(target)
    part = path.with_name(f"{path.name}.{secrets.token_hex(8)}.part")
    text = json.dumps({"port": port, "cookie": cookie, "at_s": time.time()})
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
        os.replace(part, path)  # noqa: PTH105  beside its fellows of `os`
    except (OSError, RuntimeError):
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        return False
    return True


def _is_private(info: os.stat_result) -> bool:
    """Whether a file is an ordinary one of ours that nobody else may read or write."""
    if not stat.S_ISREG(info.st_mode) or info.st_size > LIMIT_BYTES:
        return False
    if not hasattr(os, "getuid"):
        return True  # a system without such permissions: the home folder itself is private
    return info.st_uid == os.getuid() and not stat.S_IMODE(info.st_mode) & 0o077
