"""Events: every window hears of every change, in order, whoever made it."""

import asyncio
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from rigproof.web.api.app import build_app
from rigproof.web.api.events import QUEUE_LIMIT, Hub, Listener
from rigproof.web.api.keys import Keys
from tests.web.conftest import HERE, OWN, PORT, SOCKET, App

TUNE = {"do": "set-control", "control": "voice.tune", "value": "500 Hz"}


def test_two_windows_hear_of_a_change(app: App) -> None:
    with (
        app.client.websocket_connect(SOCKET, headers=OWN) as one,
        app.client.websocket_connect(SOCKET, headers=OWN) as two,
    ):
        for socket in (one, two):
            assert socket.receive_json() == {"event": "hello", "revision": 0}
        app.edit(TUNE)
        app.go("undo")
        for socket in (one, two):
            first, second = socket.receive_json(), socket.receive_json()
            assert (first["event"], first["revision"], first["by"]) == ("changed", 1, "window-a")
            assert first["undo"] == "set voice.tune to 500 Hz"
            assert (second["revision"], second["undo"]) == (2, None)
            assert second["files"] == ["bench.patch.toml"]


def test_a_change_on_the_disk_is_told_unasked(bench: Path) -> None:
    keys = Keys()
    built = build_app(bench, port=PORT, keys=keys, poll_s=0.02)
    with TestClient(built, base_url=HERE, client=("127.0.0.1", 5)) as client:
        App(client, keys, bench).enter()
        with client.websocket_connect(SOCKET, headers=OWN) as socket:
            assert socket.receive_json()["event"] == "hello"
            path = bench / "rig.toml"
            path.write_text(path.read_text("utf-8").replace("Test bench", "Other"), "utf-8")
            told = socket.receive_json()
            assert (told["by"], told["files"]) == ("disk", ["rig.toml"])


def test_a_client_that_says_too_much_is_let_go(app: App) -> None:
    with app.client.websocket_connect(SOCKET, headers=OWN) as socket:
        socket.receive_json()
        socket.send_text("x" * 2000)
        with pytest.raises(WebSocketDisconnect):
            socket.receive_json()


def test_a_client_that_cannot_keep_up_is_let_go() -> None:
    async def run() -> list[Any]:
        hub, slow = Hub(loop=asyncio.get_running_loop()), Listener()
        hub.listeners.add(slow)
        for i in range(QUEUE_LIMIT + 50):
            hub.spread({"event": "changed", "revision": i})
        return [slow.queue.get_nowait() for _ in range(slow.queue.qsize())]

    got = asyncio.run(run())
    assert [e["revision"] for e in got[:-1]] == list(range(QUEUE_LIMIT))
    assert got[-1] is None
