"""From an empty folder to a project: begun from the app, whole or not at all, and nothing written over."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from rigproof.checks import Bench, run_checks
from rigproof.files.begin import demo_files, write_project
from rigproof.files.load import load_project
from rigproof.files.new_file import write_new
from rigproof.web.api.app import build_app
from rigproof.web.api.keys import Keys
from tests.cli.rigs import write_rig
from tests.web.conftest import HERE, OWN, PORT, QUIET_S, SOCKET, App


@pytest.fixture(params=["missing", "empty", "other"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[App]:
    """A client of a folder that holds no project: it is not there, or empty, or holds something else."""
    folder = tmp_path / "deep" / "my-rig"
    if request.param != "missing":
        folder.mkdir(parents=True)
    if request.param == "other":
        (folder / "notes.txt").write_text("mine", "utf-8")
    keys = Keys()
    app = build_app(folder, port=PORT, keys=keys, poll_s=QUIET_S)
    with TestClient(
        app, base_url=HERE, client=("127.0.0.1", 50_000), raise_server_exceptions=False
    ) as client:
        found = App(client, keys, folder)
        found.enter()
        yield found


def test_an_empty_folder_is_told(empty: App) -> None:
    said = empty.read()
    assert said["empty"] is True
    assert (said["revision"], said["folder"], said["files"]) == (0, "my-rig", [])
    assert said["rig"] is None
    for path in ("/api/proof", "/api/diagram", "/api/samples", "/api/texts/rig.toml"):
        assert empty.get(path, 409)["error"]["name"] == "no-project"
    edit = {"client": "a", "revision": 0, "edits": [{"do": "set-rail", "rail": "+12V", "ma": 1}]}
    assert empty.post("/api/edits", edit, 409)["error"]["name"] == "no-project"
    assert empty.get("/api/library")["sheets"]
    assert not empty.folder.exists() or {p.name for p in empty.folder.iterdir()} <= {"notes.txt"}


def test_the_demo_is_copied_whole(empty: App) -> None:
    with empty.client.websocket_connect(SOCKET, headers=OWN) as socket:
        assert socket.receive_json() == {"event": "hello", "revision": 0}
        said = empty.post("/api/begin", {"client": "a", "start": "demo"}, 201)
        told = socket.receive_json()
    assert said["revision"] == 1
    assert (told["event"], told["revision"], told["by"]) == ("changed", 1, "a")
    for name, data in demo_files().items():
        assert (empty.folder / name).read_bytes() == data
    assert empty.get("/api/proof")["counts"]["stops-the-show"] == 0
    assert empty.read()["empty"] is False
    again = empty.post("/api/begin", {"client": "a", "start": "demo"}, 409)
    assert again["error"]["name"] == "has-project"
    empty.edit({"do": "set-rail", "rail": "+12V", "ma": 1234})
    empty.go("undo")
    assert (
        empty.post("/api/undo", {"client": "a", "revision": 3}, 409)["error"]["name"]
        == "nothing-to-undo"
    )


def test_a_blank_rig_has_the_case_and_supply_that_were_said(empty: App) -> None:
    wanted = {
        "client": "a",
        "start": "blank",
        "name": 'Harbour "two"',
        "rows": [{"hp": 104, "depth_mm": 45.5}, {"hp": 60, "depth_mm": 30}],
        "rails_ma": {"+12V": 1500, "-12V": 900},
        "tempo_bpm": 93,
    }
    empty.post("/api/begin", wanted, 201)
    project = load_project(empty.folder).require_project()
    assert project.rig.name == 'Harbour "two"'
    assert [(r.hp, r.depth_mm) for r in project.rig.rows] == [(104, 45.5), (60, 30.0)]
    assert project.rig.supply is not None
    assert project.rig.supply.rails_ma == {"+12V": 1500.0, "-12V": 900.0}
    assert '"+12V" = 1500, "-12V" = 900' in (empty.folder / "rig.toml").read_text("utf-8")
    assert project.patch.tempo_bpm == 93.0
    assert "Caution" in (empty.folder / "rig.toml").read_text("utf-8")


OWNED: dict[str, Any] = {
    "client": "a",
    "start": "owned",
    "name": "Mine",
    "modules": [
        "clock-6",
        "note-sequencer-16",
        "oscillator",
        "dual-envelope",
        "quad-vca",
        "line-out-2",
    ],
    "controller": "fader-box-8",
    "interface": "interface-2",
}


def test_what_is_owned_is_mounted_and_sounds(empty: App) -> None:
    said = empty.post("/api/begin", OWNED | {"first_sound": True}, 201)
    assert said["says"][0] == "A first patch of 8 cables:"
    project = load_project(empty.folder).require_project()
    assert [m.sheet for m in project.rig.modules] == OWNED["modules"]
    assert [o.id for o in project.rig.outside] == ["fader-box-8", "interface-2"]
    assert len(project.patch.cables) == 8
    findings = run_checks(Bench.of(project))
    assert not [f for f in findings if f.severity.value == "stops-the-show"]


def test_without_a_way_out_it_is_said(empty: App) -> None:
    said = empty.post("/api/begin", OWNED | {"interface": None, "first_sound": True}, 201)
    assert said["says"][0].startswith("Nothing here is heard by the room")
    assert load_project(empty.folder).require_project().patch.cables == ()


@pytest.mark.parametrize(
    "wrong",
    [{"start": "else"}, {"modules": ["nothing"]}, {"modules": "x"}, {"controller": "oscillator"},
     {"rows": []}, {"rows": [{"hp": 0, "depth_mm": 1}]}, {"rows": [{"hp": 84}]}, {"rails_ma": {"+9V": 1}},
     {"rails_ma": {"+12V": -1}}, {"tempo_bpm": "fast"}, {"name": ""}, {"name": 3}, {"colour": "red"},
     {"first_sound": "yes"}, {"start": "blank"}],
    ids=str,
)  # fmt: skip
def test_a_wish_is_read_strictly(empty: App, wrong: dict[str, Any]) -> None:
    empty.post("/api/begin", OWNED | wrong, 422)
    assert empty.read()["empty"] is True
    assert not (empty.folder / "rig.toml").exists()


def test_a_project_that_appears_is_taken_in(empty: App) -> None:
    write_rig(empty.folder)
    said = empty.read()
    assert (said["empty"], said["revision"]) == (False, 1)
    assert said["rig"]["name"] == "Test bench"


def test_a_file_in_the_way_is_left_and_nothing_of_the_start_stays(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    (folder / "samples").mkdir(parents=True)
    taken = next(name for name in demo_files() if name.startswith("samples/"))
    (folder / taken).write_text("mine", "utf-8")
    with TestClient(
        build_app(folder, port=PORT, keys=(keys := Keys())), base_url=HERE, client=("127.0.0.1", 5)
    ) as client:
        app = App(client, keys, folder)
        app.enter()
        error = app.post("/api/begin", {"client": "a", "start": "demo"}, 422)["error"]
    assert error["errors"][0]["problem"] == "there is a file of this name already"
    left = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert left == {taken}
    assert (folder / taken).read_text("utf-8") == "mine"


def test_a_start_that_is_broken_off_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write, count = write_new, 0

    def failing(*given: Any) -> None:
        nonlocal count
        count += 1
        if count > 3:
            raise KeyboardInterrupt
        write(*given)

    monkeypatch.setattr("rigproof.files.begin.write_new", failing)
    with pytest.raises(KeyboardInterrupt):
        write_project(tmp_path / "new" / "rig", demo_files())
    assert list(tmp_path.iterdir()) == []
