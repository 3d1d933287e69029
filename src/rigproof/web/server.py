"""The server running: a port of the loopback address, and the link that opens it."""

from __future__ import annotations

import contextlib
import gc
import socket
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from rigproof.web.api.app import build_app
from rigproof.web.api.keys import Keys
from rigproof.web.remembered import Remembered, recall, remember

LOOPBACK = "127.0.0.1"
MESSAGE_LIMIT_BYTES = 65_536


@dataclass(frozen=True, slots=True)
class Ready:
    """A server that can be run, and the link to it. The token stands behind the `#`, so no server ever logs it."""

    server: uvicorn.Server
    listening: socket.socket
    link: str
    keys: Keys

    @property
    def port(self) -> int:
        """The port that it listens on."""
        port: int = self.listening.getsockname()[1]
        return port

    def run(self) -> None:
        """Serve until `server.should_exit` is set or Ctrl-C is pressed."""
        _sweep_less()
        with contextlib.closing(self.listening):
            self.server.run(sockets=[self.listening])


def make_ready(path: Path, *, port: int | None = None) -> Ready:
    """Return a server of a folder or patch file, where it was served last if that is not long ago and still free.

    With a `port` it is that one or none, 0 takes any that is free.

    Raises `RigError` when there is something at the path that cannot be opened, `OSError` when the port is taken.
    """
    last = recall(path)
    try:
        listening = socket.create_server((LOOPBACK, _wanted(port, last)))
    except OSError:
        if port is not None:
            raise
        listening = socket.create_server((LOOPBACK, 0))  # another run serves this folder too
    try:
        taken: int = listening.getsockname()[1]
        is_again = last is not None and last.port == taken
        keys = Keys(last.cookie) if last is not None and is_again else Keys()
        config = uvicorn.Config(
            build_app(path, port=taken, keys=keys),
            ws="websockets-sansio",
            ws_per_message_deflate=False,
            ws_max_size=MESSAGE_LIMIT_BYTES,
            proxy_headers=False,
            server_header=False,
            access_log=False,
            log_config=None,
            limit_concurrency=64,
            timeout_graceful_shutdown=3,
        )
    except BaseException:
        listening.close()
        raise
    if last is None or is_again or not _is_taken(last.port):
        remember(path, taken, keys.cookie)
    link = f"http://{LOOPBACK}:{taken}/#{keys.new_token()}"
    return Ready(uvicorn.Server(config), listening, link, keys)


def _sweep_less() -> None:
    """Let the memory be swept less often: a project makes many small objects that live as long as its revision, and
    each sweep goes through all of them. Measured on 60 modules: a tenth of what an edit and its proof take.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def _wanted(port: int | None, last: Remembered | None) -> int:
    if port is not None:
        return port
    return 0 if last is None else last.port


def _is_taken(port: int) -> bool:
    """Whether somebody listens there: the first run of this folder, whose place is kept for it."""
    try:
        socket.create_server((LOOPBACK, port)).close()
    except OSError:
        return True
    return False
