"""The server for real, once: a port of the loopback address, HTTP and a WebSocket over it. And what is told of it."""

import json
import re
import socket
import threading
import time
import urllib.request
from pathlib import Path

import pytest
from websockets.sync.client import connect
from websockets.typing import Origin

from rigproof.web.api.app import ASKED
from rigproof.web.server import make_ready
from tests.web.conftest import App


def test_everything_that_can_be_asked_is_told(app: App) -> None:
    told = app.get("/api")["asked"]
    assert len(told) == len(ASKED)
    assert all(one["doc"].endswith(".") and one["answers"] for one in told)
    assert len({(one["method"], one["path"]) for one in told}) == len(told)


def test_answers_have_the_shape_that_the_table_says(app: App) -> None:
    """The keys that the table names are those that come, for everything that needs no name in its address."""
    for one in ASKED:
        if one.method != "GET" or "{" in one.path or one.path in ("/api/trace", "/api/ends"):
            continue
        outer = re.sub(r": \[.*\]", "", one.answers.strip("{}"))
        wanted = {key.strip() for key in outer.split(",")}
        assert set(app.get(one.path)) == wanted, one.path


@pytest.mark.slow
def test_a_real_port_on_loopback(bench: Path) -> None:
    ready = make_ready(bench)
    host, port = ready.listening.getsockname()
    assert host == "127.0.0.1"
    thread = threading.Thread(target=ready.run)
    thread.start()
    try:
        while not ready.server.started:
            time.sleep(0.02)
        base, token = ready.link.split("/#")
        ask = urllib.request.Request(
            f"{base}/api/enter",
            json.dumps({"token": token}).encode(),
            {"content-type": "application/json", "origin": base},
        )
        with urllib.request.urlopen(ask) as done:
            cookie = done.headers["set-cookie"].partition(";")[0]
            assert "server" not in done.headers
        with connect(
            f"ws://127.0.0.1:{port}/api/events",
            origin=Origin(base),
            additional_headers={"cookie": cookie},
        ) as events:
            assert json.loads(events.recv(timeout=5)) == {"event": "hello", "revision": 0}
        with socket.socket() as other:
            assert other.connect_ex(("127.0.0.2", port)) != 0  # no other address is listened on
    finally:
        ready.server.should_exit = True
        thread.join(timeout=10)
    assert not thread.is_alive()
