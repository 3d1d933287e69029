"""The server running: a port of the loopback address, and the link that opens it."""

from __future__ import annotations

import contextlib
import socket
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from rigproof.web.api.app import build_app
from rigproof.web.api.keys import Keys

LOOPBACK = "127.0.0.1"
MESSAGE_LIMIT_BYTES = 65_536


@dataclass(frozen=True, slots=True)
class Ready:
    """A server that can be run, and the link to it. The token stands behind the `#`, so no server ever logs it."""

    server: uvicorn.Server
    listening: socket.socket
    link: str
    keys: Keys

    def run(self) -> None:
        """Serve until `server.should_exit` is set or Ctrl-C is pressed."""
        with contextlib.closing(self.listening):
            self.server.run(sockets=[self.listening])


def make_ready(path: Path, *, port: int = 0) -> Ready:
    """Return a server of a project folder or patch file; port 0 takes any that is free.

    Raises `RigError` when there is no project at the path, `OSError` when the port is taken.
    """
    listening = socket.create_server((LOOPBACK, port))
    try:
        port = listening.getsockname()[1]
        keys = Keys()
        config = uvicorn.Config(
            build_app(path, port=port, keys=keys),
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
    link = f"http://{LOOPBACK}:{port}/#{keys.new_token()}"
    return Ready(uvicorn.Server(config), listening, link, keys)
