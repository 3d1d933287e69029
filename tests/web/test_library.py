"""What can be added to a rig, and what a sheet can be built from."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from rigproof.files.load_sheet import library_sheets, load_sheet_text
from rigproof.files.sheet_files import library_folder
from rigproof.kinds import KINDS
from tests.web.conftest import App


def by_name(app: App) -> dict[str, Any]:
    return {one["name"]: one for one in app.get("/api/library")["sheets"]}


def test_every_sheet_that_can_be_added_is_told(app: App) -> None:
    told = by_name(app)
    assert set(told) == set(library_sheets()) | {"voice", "time", "desk"}
    assert {name for name, one in told.items() if one["is_own"]} == {"voice", "time", "desk"}
    for name, sheet in library_sheets().items():
        raw = tomllib.loads((library_folder() / f"{name}.toml").read_text("utf-8"))
        one = told[name]
        assert (one["title"], one["hp"], one["errors"]) == (raw["title"], raw.get("hp", 0), 0)
        assert (one["jacks"], one["controls"]) == (len(sheet.jacks), len(raw.get("controls", {})))
        assert set(one["kinds"]) == {part["kind"] for part in raw.get("sections", {}).values()}


def test_a_sheet_of_the_project_hides_one_of_the_library(app: App) -> None:
    text = (library_folder() / "mixer-4.toml").read_text("utf-8")
    own = app.folder / "modules" / "mixer-4.toml"
    own.write_text(text.replace("title = ", 'title = "Mine" # '), "utf-8")
    one = by_name(app)["mixer-4"]
    assert (one["is_own"], one["title"]) == (True, "Mine")
    own.write_text("title = 3", "utf-8")
    broken = by_name(app)["mixer-4"]
    assert broken["errors"] > 0
    assert broken["jacks"] == 0
    full = app.get("/api/library/mixer-4")
    assert full["sheet"] is None
    assert full["errors"][0]["where"]["file"] == "modules/mixer-4.toml"
    assert full["text"] == "title = 3"


def test_one_sheet_in_full(app: App) -> None:
    said = app.get("/api/library/mixer-4")
    assert said["text"] == (library_folder() / "mixer-4.toml").read_text("utf-8")
    assert (said["file"], said["is_own"], said["errors"]) == ("library/mixer-4.toml", False, [])
    assert set(said["sheet"]["jacks"]) == set(library_sheets()["mixer-4"].jacks)
    wrong = app.get("/api/library/mixer-5", 404)["error"]
    assert wrong["errors"][0]["nearest"] == "mixer-4"


def test_the_kinds_are_those_that_a_sheet_may_name(app: App) -> None:
    told = app.get("/api/kinds")["kinds"]
    assert {one["kind"] for one in told} == {k.name for k in KINDS.values() if not k.is_internal}
    vca = next(one for one in told if one["kind"] == "vca")
    assert [p["name"] for p in vca["params"]] == [p.name for p in KINDS["vca"].params]


FORM: dict[str, Any] = {
    "name": "my-voice",
    "kinds": ["oscillator", "vca", "vca"],
    "wires": [["oscillator.saw", "vca-1.in"], ["vca-1.out", "vca-2.in"]],
    "hp": 12,
    "depth_mm": 30,
    "draw_ma": {"+12V": 50},
}


def test_the_places_of_a_panel_go_when_the_module_is_of_another_width(app: App) -> None:
    form = {"name": "narrow", "like": "chord-oscillator"}
    same = app.post("/api/sheets/draft", form | {"hp": 10})
    other = app.post("/api/sheets/draft", form | {"hp": 4})
    assert "at_mm" in same["text"]
    assert "at_mm" not in other["text"]
    assert "off-the-panel" not in {flaw["lint"] for flaw in other["flaws"]}


def test_a_form_may_begin_from_kinds(app: App, tmp_path: Path) -> None:
    drafted = app.post("/api/sheets/draft", FORM)
    assert not (app.folder / "modules" / "my-voice.toml").exists()
    made = app.post("/api/sheets", FORM | {"client": "a"}, 201)
    text = (app.folder / "modules" / "my-voice.toml").read_text("utf-8")
    assert text == drafted["text"]
    assert made["sheet"] == drafted["sheet"]
    assert made["flaws"] == drafted["flaws"]
    (loose,) = (f for f in made["flaws"] if f["at"] == "jacks.vca-1-cv")
    assert loose["fault"] == "Nobody says where a jack or a control sits."
    assert "at_mm" in loose["do"]
    sheet = load_sheet_text(text, file="x", name="my-voice").require_sheet()
    assert [s.kind for s in sheet.sections.values()] == FORM["kinds"]
    assert {(w.source, w.target) for w in sheet.wires} == {(a, b) for a, b in FORM["wires"]}
    fed = {port for jack in sheet.jacks.values() for ports in jack.lanes.values() for port in ports}
    assert "vca-1.in" not in fed  # a wire feeds it
    assert "vca-1.cv" in fed
    changed = app.post("/api/sheets/draft", FORM | {"jacks": {"pitch": {"range_v": [-2, 6]}}})
    assert changed["sheet"]["jacks"]["pitch"]["range_v"] == [-2.0, 6.0]


@pytest.mark.parametrize(
    "wrong",
    [{"like": "mixer-4"}, {"kinds": []}, {"kinds": ["junction"]}, {"kinds": "vca"},
     {"kinds": ["vca"] * 33}, {"housing": "shed"}, {"wires": [["oscillator.saw"]]},
     {"wires": [["oscillator.nothing", "vca-1.in"]]}, {"wires": [["vca-1.out", "oscillator.saw"]]},
     {"kinds": None, "like": "mixer-4", "housing": "module"}],
    ids=str,
)  # fmt: skip
def test_a_form_from_kinds_is_read_strictly(app: App, wrong: dict[str, Any]) -> None:
    app.post("/api/sheets/draft", {k: v for k, v in (FORM | wrong).items() if v is not None}, 422)
