"""The server for real, once: a port of the loopback address, HTTP and a WebSocket over it. And what is told of it."""

import json
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

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
        if (
            one.method != "GET"
            or "{" in one.path
            or one.path in ("/api/trace", "/api/ends", "/api/fixes/preview")
        ):
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


def entered(base: str, token: str) -> str:
    """The cookie that the token of a link is exchanged for."""
    ask = urllib.request.Request(
        f"{base}/api/enter",
        json.dumps({"token": token}).encode(),
        {"content-type": "application/json", "origin": base},
    )
    with urllib.request.urlopen(ask) as done:
        cookie: str = done.headers["set-cookie"].partition(";")[0]
        return cookie


def asked_with(base: str, cookie: str) -> tuple[int, dict[str, Any]]:
    """The status, and the project as whoever has the cookie reads it, as soon as the server answers."""
    ask = urllib.request.Request(f"{base}/api/project", headers={"cookie": cookie})
    for _ in range(200):
        try:
            with urllib.request.urlopen(ask) as done:
                return done.status, json.load(done)
        except urllib.error.HTTPError as refused:
            with refused:
                return refused.code, json.load(refused)
        except urllib.error.URLError:
            time.sleep(0.05)
    raise AssertionError("the server has not come up")


@contextmanager
def opened(folder: Path) -> Iterator[tuple[subprocess.Popen[str], dict[str, Any]]]:
    """`rigproof open` in a process of its own, and what it has printed."""
    words = [sys.executable, "-m", "rigproof", "open", str(folder), "--no-browser", "--json"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        text = process.stdout.readline()
        while text.count("{") != text.count("}") or not text.strip():
            text += process.stdout.readline()
        yield process, json.loads(text)
    finally:
        process.kill()
        process.communicate()


@pytest.mark.slow
def test_a_run_that_is_killed_comes_up_again_for_the_page_that_is_open(bench: Path) -> None:
    """Same port, same cookie. A second run beside it has its own, and sees the same disk."""
    with opened(bench) as (first, said):
        base, token = said["link"].split("/#")
        assert asked_with(base, "none")[0] == 401
        cookie = entered(base, token)
        assert asked_with(base, cookie)[1]["rig"]["name"] == "Test bench"
        with opened(bench) as (_, beside):
            other, other_token = beside["link"].split("/#")
            assert other != base
            stolen = cookie.replace(str(said["port"]), str(beside["port"]))
            assert asked_with(other, stolen)[0] == 401
            other_cookie = entered(other, other_token)
            rig = bench / "rig.toml"
            rig.write_text(rig.read_text("utf-8").replace("Test bench", "Changed"), "utf-8")
            for place, key in ((base, cookie), (other, other_cookie)):
                assert asked_with(place, key)[1]["rig"]["name"] == "Changed"
        first.kill()
        first.wait()
    with opened(bench) as (again, said):
        assert said["link"].split("/#")[0] == base
        assert asked_with(base, cookie)[1]["rig"]["name"] == "Changed"
        again.send_signal(signal.SIGINT)
        out, err = again.communicate(timeout=15)
        assert again.returncode == 0
        assert "ended" in err
        assert "Traceback" not in out + err
