"""The server driven in process: no port, a client of this machine that has come in through the door."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from rigproof.web.api.app import build_app
from rigproof.web.api.keys import Keys
from tests.cli.rigs import write_rig

PORT = 8765
HERE = f"http://127.0.0.1:{PORT}"
SOCKET = f"ws://127.0.0.1:{PORT}/api/events"
OWN = {"origin": HERE}
QUIET_S = 3600.0
"""The folder is looked at when something is asked, and not in between, so that tests decide when."""


@dataclass
class App:
    """A client of one server."""

    client: TestClient
    keys: Keys
    folder: Path
    revision: int = 0
    name: str = "window-a"
    headers: dict[str, str] = field(default_factory=lambda: dict(OWN))

    def enter(self) -> None:
        """Come in with a fresh token."""
        done = self.client.post(
            "/api/enter", json={"token": self.keys.new_token()}, headers=self.headers
        )
        assert done.status_code == 200, done.text

    def get(self, path: str, status: int = 200, **query: Any) -> Any:
        """Ask for something and return the data."""
        done = self.client.get(path, params=query)
        assert done.status_code == status, done.text
        return done.json()

    def post(self, path: str, data: Any, status: int = 200) -> Any:
        """Send a table and return the data."""
        done = self.client.post(path, json=data, headers=self.headers)
        assert done.status_code == status, done.text
        return done.json()

    def edit(self, *edits: dict[str, Any], status: int = 200, **more: Any) -> Any:
        """Make edits where this window stands, and stand where they have led."""
        data = {"client": self.name, "revision": self.revision, "edits": list(edits), **more}
        said = self.post("/api/edits", data, status)
        if status == 200:
            self.revision = said["revision"]
        return said

    def go(self, way: str, status: int = 200) -> Any:
        """Undo or redo."""
        data = {"client": self.name, "revision": self.revision}
        said = self.post(f"/api/{way}", data, status)
        if status == 200:
            self.revision = said["revision"]
        return said

    def read(self) -> Any:
        """Read the whole project and stand at its revision."""
        said = self.get("/api/project")
        self.revision = said["revision"]
        return said

    def text(self, name: str = "bench.patch.toml") -> str:
        """Return what stands on the disk."""
        return (self.folder / name).read_text("utf-8")

    def window(self, name: str) -> "App":
        """Return another window of the same browser."""
        return App(self.client, self.keys, self.folder, self.revision, name)


@pytest.fixture(autouse=True)
def _own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of what tests serve is remembered where the performer's own is."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A small project: a clock, a voice, a desk and a set of two sections."""
    return write_rig(tmp_path / "bench")


PAGE_FILES = {
    "index.html": '<!doctype html><script type="module" src="/assets/index-B7dk2_Qx.js"></script>',
    "icon.svg": "<svg/>",
    "assets/index-B7dk2_Qx.js": "export {}",
    "assets/index-Dk19aZ0q.css": "body {}",
    "assets/plain.js": "export {}",
    "assets/face-C0ffee12.woff2": "face",
    "assets/page.py": "no part of a page",
    ".hidden.js": "hidden",
}
"""What a build leaves, and what it does not."""


@pytest.fixture
def page(tmp_path: Path) -> Path:
    """A page as a build leaves it."""
    folder = tmp_path / "page"
    for name, text in PAGE_FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def outside(bench: Path, page: Path) -> Iterator[App]:
    """A client of this machine before it has come in."""
    keys = Keys()
    app = build_app(bench, port=PORT, keys=keys, poll_s=QUIET_S, page=page)
    with TestClient(
        app, base_url=HERE, client=("127.0.0.1", 50_000), raise_server_exceptions=False
    ) as client:
        yield App(client, keys, bench)


@pytest.fixture
def app(outside: App) -> App:
    """A client that has come in."""
    outside.enter()
    return outside
