"""One open folder: edits are on the disk before they are answered, changes outside are taken in, nothing is lost."""

import threading
from pathlib import Path
from typing import Any

import pytest

from rigproof.checks import CHECKS, Bench, Finding, run_checks
from rigproof.errors import RigError
from rigproof.files.load import load_project
from rigproof.web.api.commands import COMMANDS, fields_of, read_command
from rigproof.web.api.history import BYTES_LIMIT, STEPS_LIMIT, History, Step
from rigproof.web.api.problems import Refusal
from rigproof.web.api.session import Session
from rigproof.web.api.views import project_view
from tests.cli.rigs import PATCH, RIG, write_rig
from tests.web.conftest import App

TUNE = {"do": "set-control", "control": "voice.tune", "value": "500 Hz"}
LEVEL = {"do": "set-control", "control": "voice.level", "value": 1.5}


def rewrite(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def test_the_snapshot_says_what_the_files_say(app: App) -> None:
    said = app.read()
    assert said["revision"] == 0
    assert said["errors"] == []
    assert said["rig"]["name"] == "Test bench"
    assert [m["id"] for m in said["rig"]["modules"]] == ["time", "voice"]
    assert [(c["source"], c["target"]) for c in said["patch"]["cables"]] == [
        ("voice.sine", "desk.left"),
        ("voice.saw", "desk.right"),
    ]
    assert [s["id"] for s in said["set"]["sections"]] == ["quiet", "loud"]
    assert set(said["sheets"]) == {"time", "voice", "desk"}
    tune = said["controls"]["voice.tune"]
    assert (tune["unit"], tune["lo"], tune["hi"]) == ("Hz", 16.0, 4000.0)
    assert (tune["said"], tune["value"], tune["default"]) == ("1 kHz", 1000.0, 440.0)
    assert said["controls"]["voice.level"]["said"] is None


def test_the_snapshot_leaves_out_the_sheets_where_they_are_known(app: App) -> None:
    whole = app.read()
    brief = app.get("/api/project", sheets="no")
    assert whole["sheets"]
    assert brief["sheets"] == {}
    assert {**brief, "sheets": whole["sheets"]} == whole


def test_the_proof_is_that_of_the_checks(app: App) -> None:
    project = load_project(app.folder).require_project()
    wanted = [(f.check, f.at, f.message) for f in run_checks(Bench.of(project))]
    found = app.get("/api/proof")["findings"]
    assert [(f["finding"], f["at"], f["message"]) for f in found] == wanted
    assert [f["family"] for f in found] == [CHECKS[name].family for name, _, _ in wanted]


def test_readings_and_trace(app: App) -> None:
    jacks = app.get("/api/readings")["jacks"]
    low, high = jacks["voice.sine"]["volts"]
    assert -11.0 <= low < -1.9
    assert 1.9 < high <= 11.0
    assert jacks["time.beat"]["pulse"]["per_quarter"] == "4"
    said = app.get("/api/trace", start="voice.level", at=1.0)
    assert any(hop["place"] == "ear" for hop in said["hops"])
    assert said["told"].startswith("voice.level at 1: ")
    assert said["told"].endswith(" later.")
    assert jacks["voice.sine"]["heard"]["lo_s"] <= jacks["voice.sine"]["heard"]["hi_s"]
    assert (jacks["voice.pitch"]["plugged"], jacks["voice.pitch"]["heard"]) == (False, None)
    assert app.get("/api/trace", 404, start="voice.levle")["error"]["errors"][0]["nearest"]
    app.get("/api/trace", 422, start="voice.level", at=99)


def test_an_edit_is_on_the_disk_when_it_is_answered(app: App) -> None:
    said = app.edit(TUNE)
    assert said["revision"] == 1
    assert said["files"] == ["bench.patch.toml"]
    assert '"voice.tune" = "500 Hz"' in app.text()
    again = Session(app.folder)  # as after a crash
    assert again.text("bench.patch.toml") == app.text()
    assert app.read()["controls"]["voice.tune"]["value"] == 500.0


def test_an_edit_keeps_the_line_ends_of_the_file(app: App) -> None:
    path = app.folder / "bench.patch.toml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    app.read()
    before = path.read_bytes()
    app.edit(TUNE)
    after = path.read_bytes()
    assert b'"voice.tune" = "500 Hz"' in after
    assert after.count(b"\n") == after.count(b"\r\n") == before.count(b"\n")
    app.go("undo")
    assert path.read_bytes() == before


def test_edits_stand_or_fall_together(app: App) -> None:
    before = app.text()
    said = app.edit(LEVEL, {"do": "remove-cable", "source": "a.b", "target": "c.d"}, status=422)
    assert said["error"]["name"] == "cannot-be-done"
    assert app.text() == before
    assert app.read()["revision"] == 0


@pytest.mark.parametrize(
    "command",
    [
        {"do": "set-control", "control": "voice.tune", "value": "9 kHz"},
        {"do": "set-control", "control": "voice.tnue", "value": 1},
        {"do": "set-control", "control": "voice.tune", "value": [1]},
        {"do": "add-cable", "source": "voice.sine", "target": "desk.middle"},
        {"do": "add-module", "id": "x", "sheet": "no-such", "row": 1, "hp": 30},
        {"do": "add-module", "id": "X!", "sheet": "voice", "row": 1, "hp": 30},
        {"do": "set-samples", "slot": "voice.bank", "files": ["samples/none.wav"]},
        {"do": "remove-module", "module": "voice"},
    ],
    ids=lambda command: str(command)[7:70],
)
def test_an_edit_that_would_break_the_project_is_refused(app: App, command: Any) -> None:
    before = {p: p.read_bytes() for p in app.folder.rglob("*.toml")}
    error = app.edit(command, status=422)["error"]
    assert error["errors"]
    assert {p: p.read_bytes() for p in app.folder.rglob("*.toml")} == before
    assert app.read()["revision"] == 0


def test_a_broken_project_can_be_mended_piece_by_piece(tmp_path: Path) -> None:
    """Edits are taken as long as they bring no error that was not there."""
    patch = PATCH.replace("voice.saw", "voice.sow").replace('"voice.tune" =', '"voice.tnue" =')
    session = Session(write_rig(tmp_path / "bench", patch=patch))
    counts = [len(session.state.errors)]
    with pytest.raises(Refusal) as refused:
        session.proved()
    assert len(refused.value.errors) == 2
    session.edit(
        [read_command({"do": "forget-control", "control": "voice.tnue"})], by="a", revision=0
    )
    counts.append(len(session.state.errors))
    replug = {
        "do": "replug",
        "source": "voice.sow",
        "target": "desk.right",
        "new_source": "voice.saw",
        "new_target": "desk.right",
    }
    session.edit([read_command(replug)], by="a", revision=1)
    counts.append(len(session.state.errors))
    assert counts == [2, 1, 0]
    assert session.proved().revision == 2


@pytest.mark.parametrize(
    "raw",
    [
        None, {}, {"do": 3}, {"do": "set-contorl"}, {"do": "set-control", "control": "a.b"},
        {"do": "set-control", "control": "a.b", "value": None},
        {"do": "set-control", "control": "a.b", "value": {}},
        {"do": "set-control", "control": "a.b", "value": 1e999},
        {"do": "set-control", "control": "a.b", "value": 10**30},
        {"do": "set-control", "control": "a.b", "value": "\ud800"},
        {"do": "set-control", "control": "a.b", "value": "x" * 3000},
        {"do": "set-control", "control": "a.b", "value": 1, "where": {}},
        {"do": "move-module", "module": "a", "row": True, "hp": 1},
        {"do": "move-module", "module": "a", "row": 1.5, "hp": 1},
        {"do": "remove-cable", "source": "a.b", "target": "c.d", "nth": -1},
    ],
    ids=lambda raw: str(raw)[:50],
)  # fmt: skip
def test_a_command_is_read_strictly(raw: Any) -> None:
    with pytest.raises(RigError):
        read_command(raw)


def test_every_edit_can_be_asked_for() -> None:
    """Each command is read from a table that has all its fields, and becomes the edit of its name."""
    samples = {"str": "a.b", "int": 1, "float": 1.5, "bool": True}
    for name, edit in COMMANDS.items():
        raw: dict[str, Any] = {"do": name}
        for key, (wanted, _) in fields_of(edit).items():
            said = getattr(wanted, "__name__", str(wanted))
            if str(wanted).startswith("tuple"):
                raw[key] = ["a.b"]
            else:
                is_number = "int" in str(wanted) or "float" in str(wanted)
                raw[key] = samples.get(said, 3 if is_number else "x")
        assert type(read_command(raw)) is edit
        for key, (wanted, _) in fields_of(edit).items():
            if "None" in str(wanted):  # what may be none may be said to be none
                assert type(read_command(raw | {key: None})) is edit


def test_the_rig_the_patch_and_the_set_can_be_changed_from_the_app(app: App) -> None:
    """One of each room, in one step and back by one undo."""
    start = {p.name: p.read_bytes() for p in app.folder.glob("*.toml")}
    app.edit(
        {"do": "rename-module", "id": "voice", "new_id": "low"},
        {"do": "add-row", "hp": 60, "depth_mm": 40},
        {"do": "set-stock", "lead": "mono-3.5", "cm": 90, "count": 4},
        {"do": "add-outside", "sort": "controller", "id": "faders", "sheet": "fader-box-8"},
        {"do": "set-tempo", "tempo_bpm": 93},
        {"do": "set-cable-colour", "source": "low.sine", "target": "desk.left", "colour": "blue"},
        {"do": "add-passage", "passage": "end", "bars": 4, "index": 1},
        {"do": "add-move", "passage": "end", "control": "low.level", "to": 0, "beats": 8},
        {"do": "move-passage", "passage": "end", "index": 2},
        {"do": "set-passage-control", "passage": "end", "control": "low.tune", "value": "220 Hz"},
    )
    said = app.read()
    assert said["errors"] == []
    assert [m["id"] for m in said["rig"]["modules"]] == ["time", "low"]
    assert said["patch"]["settings"][0]["control"] == "low.tune"
    assert [s["id"] for s in said["set"]["sections"]] == ["quiet", "loud", "end"]
    assert said["set"]["sections"][2]["moves"][0]["control"] == "low.level"
    app.get("/api/proof")
    app.go("undo")
    assert {p.name: p.read_bytes() for p in app.folder.glob("*.toml")} == start


# --- undo and redo ---------------------------------------------------------------------------------------------------


def test_undo_and_redo_give_back_every_byte(app: App) -> None:
    start = {p.name: p.read_bytes() for p in app.folder.glob("*.toml")}
    app.edit(TUNE)
    app.edit({"do": "move-module", "module": "voice", "row": 1, "hp": 20})
    app.edit({"do": "set-move-hand", "passage": "loud", "index": 0, "hand": "right"})
    end = {p.name: p.read_bytes() for p in app.folder.glob("*.toml")}
    assert {name for name in start if start[name] != end[name]} == set(start)
    for _ in range(3):
        app.go("undo")
    assert {p.name: p.read_bytes() for p in app.folder.glob("*.toml")} == start
    assert app.go("undo", 409)["error"]["name"] == "nothing-to-undo"
    for _ in range(3):
        app.go("redo")
    assert {p.name: p.read_bytes() for p in app.folder.glob("*.toml")} == end
    assert app.go("redo", 409)["error"]["name"] == "nothing-to-redo"
    app.go("undo")
    app.edit(LEVEL)
    assert app.go("redo", 409)["error"]["name"] == "nothing-to-redo"


def test_a_change_on_the_disk_can_be_undone_too(app: App) -> None:
    app.edit(TUNE)
    mine = app.text()
    rewrite(app.folder / "bench.patch.toml", "tempo_bpm = 120", "tempo_bpm = 96")
    said = app.read()
    assert said["undo"] == "changed on the disk: bench.patch.toml"
    app.go("undo")
    assert app.text() == mine
    app.go("redo")
    assert "tempo_bpm = 96" in app.text()


def test_undo_waits_for_a_client_that_has_not_seen_the_last_change(app: App) -> None:
    app.edit(TUNE)
    rewrite(app.folder / "bench.patch.toml", "tempo_bpm = 120", "tempo_bpm = 96")
    assert app.go("undo", 409)["error"]["name"] == "out-of-date"
    assert "tempo_bpm = 96" in app.text()


def test_history_is_bounded() -> None:
    history = History()
    for i in range(STEPS_LIMIT + 20):
        history.add(Step(str(i), "a", {"f": b"x"}, {"f": b"y"}))
    assert len(history.done) == STEPS_LIMIT
    assert history.done[-1].words == str(STEPS_LIMIT + 19)
    for _ in range(3):
        history.add(Step("large", "a", {"f": bytes(BYTES_LIMIT // 2)}, {"f": b""}))
    assert sum(step.size_bytes for step in history.done) <= BYTES_LIMIT


# --- changes from outside, and other windows -------------------------------------------------------------------------


def test_a_change_elsewhere_in_the_file_is_merged(app: App) -> None:
    app.read()
    rewrite(app.folder / "bench.patch.toml", "tempo_bpm = 120", "tempo_bpm = 96  # slower")
    said = app.edit(TUNE)
    assert said["revision"] == 2
    assert "tempo_bpm = 96  # slower" in app.text()
    assert '"voice.tune" = "500 Hz"' in app.text()


def test_readings_do_not_wait_for_findings(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    sought, may_go_on = threading.Event(), threading.Event()

    def slow_checks(bench: Bench) -> list[Finding]:
        sought.set()
        assert may_go_on.wait(30)
        return run_checks(bench)

    monkeypatch.setattr("rigproof.web.api.session.run_checks", slow_checks)
    proof = threading.Thread(target=app.get, args=("/api/proof",))
    proof.start()
    try:
        assert sought.wait(30)
        assert "voice.sine" in app.get("/api/readings")["jacks"]
        assert proof.is_alive()
    finally:
        may_go_on.set()
        proof.join()


def test_a_prepared_edit_comes_out_as_any_other(bench: Path) -> None:
    """The patch is taken apart ahead after an undo and after a change outside, and not where nothing has changed."""
    session, patch = Session(bench), bench / "bench.patch.toml"
    tune, level = read_command(TUNE), read_command(LEVEL)
    session.edit([tune], by="a", revision=0)
    wanted = patch.read_bytes()
    session.undo(by="a", revision=1)
    session.prepare()
    session.edit([tune], by="a", revision=2)
    assert patch.read_bytes() == wanted
    rewrite(patch, "500 Hz", "600 Hz")
    session.refresh()
    session.prepare()
    rewrite(patch, "600 Hz", "700 Hz")  # what was prepared is out of date
    session.edit([level], by="a", revision=4)
    assert "700 Hz" in patch.read_text("utf-8")
    assert "1.5" in patch.read_text("utf-8")


def test_a_patch_that_cannot_be_taken_apart_is_left_for_the_edit_to_tell(bench: Path) -> None:
    session = Session(bench)
    (bench / "bench.patch.toml").write_text("this is no TOML", "utf-8")
    session.refresh()
    session.prepare()
    with pytest.raises(Refusal):
        session.edit([read_command(TUNE)], by="a", revision=session.revision)


def test_a_change_of_the_same_key_is_asked_about_and_not_lost(app: App) -> None:
    app.read()
    rewrite(app.folder / "bench.patch.toml", '"1 kHz"', '"2 kHz"')
    error = app.edit(TUNE, status=409)["error"]
    assert error["name"] == "changed-meanwhile"
    assert error["keys"] == ["bench.patch.toml settings.voice.tune"]
    assert error["theirs"][0]["by"] == "disk"
    assert '"2 kHz"' in app.text()
    app.edit(TUNE, keep_mine=True)
    assert '"500 Hz"' in app.text()
    app.go("undo")
    assert '"2 kHz"' in app.text()  # theirs can still be had


def test_lines_that_are_put_in_above_are_no_conflict(app: App) -> None:
    """A cable goes by its ends and not by its number."""
    app.read()
    rewrite(
        app.folder / "bench.patch.toml",
        "cables = [",
        'cables = [\n  { from = "voice.sine", to = "desk.right" },',
    )
    app.edit({"do": "set-cable-length", "source": "voice.saw", "target": "desk.right", "cm": 30})
    assert '{ from = "voice.saw", to = "desk.right", colour = "red", cm = 30 }' in app.text()


def test_two_windows_stay_in_step(app: App) -> None:
    other = app.window("window-b")
    app.edit(TUNE)
    other.edit(LEVEL)  # stood at 0, other key
    assert other.revision == 2
    error = other.window("window-c").edit(TUNE | {"value": "600 Hz"}, status=200)
    assert error["revision"] == 3
    app.edit(TUNE | {"value": "700 Hz"}, status=409)
    assert app.read()["controls"]["voice.tune"]["value"] == 600.0


def test_a_window_is_not_in_its_own_way(app: App) -> None:
    """Edits sent one after the other without waiting all say the same revision."""
    for hz in (500, 600, 700):
        data = {"client": app.name, "revision": 0, "edits": [TUNE | {"value": f"{hz} Hz"}]}
        app.post("/api/edits", data)
    assert '"700 Hz"' in app.text()


def test_a_revision_that_never_was_is_refused(app: App) -> None:
    app.revision = 7
    assert app.edit(TUNE, status=409)["error"]["name"] == "out-of-date"


def test_a_file_broken_outside_is_told_and_not_written_over(app: App) -> None:
    path = app.folder / "bench.patch.toml"
    path.write_text("cables = [", "utf-8")
    said = app.read()
    assert said["errors"][0]["where"]["file"] == "bench.patch.toml"
    app.get("/api/proof", 409)
    app.edit(TUNE, status=422)
    assert path.read_text("utf-8") == "cables = ["
    app.go("undo")
    assert '"1 kHz"' in app.text()
    assert app.read()["errors"] == []


def test_a_change_of_same_size_in_the_same_instant_is_seen(app: App) -> None:
    path = app.folder / "bench.patch.toml"
    for i in range(5):
        path.write_text(PATCH.replace('"1 kHz"', f'"{i + 2} kHz"') if i < 3 else PATCH, "utf-8")
        wanted = f"{i + 2} kHz" if i < 3 else "1 kHz"
        assert app.read()["controls"]["voice.tune"]["said"] == wanted


def test_a_file_that_cannot_be_written_refuses_the_edit(
    app: App, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two files neither is changed when the second fails."""

    def full(path: Path, data: bytes, folder: Path) -> None:
        if path.name == "rig.toml":
            from rigproof.errors import FileError, Where

            raise FileError(Where("rig.toml"), "the file cannot be written", found="disk full")
        path.write_bytes(data)

    monkeypatch.setattr("rigproof.web.api.session.write_whole", full)
    before = app.text(), app.text("rig.toml")
    rail = {"do": "set-rail", "rail": "+12V", "ma": 900}
    error = app.edit(TUNE, rail, status=422)["error"]
    assert error["errors"][0]["found"] == "disk full"
    assert (app.text(), app.text("rig.toml")) == before
    assert app.read()["revision"] == 0


def test_many_hands_at_once_lose_nothing(bench: Path) -> None:
    """Every accepted edit of several threads is in the file, each revision is given once."""
    session = Session(bench)
    revisions: list[int] = []

    def work(hand: int) -> None:
        for i in range(4):
            link = {"do": "decline", "finding": "loud", "at": f"{hand}-{i}", "reason": "so"}
            revisions.append(session.edit([read_command(link)], by=str(hand), revision=0).revision)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(revisions) == list(range(1, 13))
    declined = load_project(bench).require_project().patch.declined
    assert {d.at for d in declined} == {f"{h}-{i}" for h in range(3) for i in range(4)}


# --- findings --------------------------------------------------------------------------------------------------------


def test_a_fix_is_applied_and_a_finding_declined(tmp_path: Path) -> None:
    from rigproof.files.load import load_project

    rig = (write_rig(tmp_path / "bench") / "rig.toml").read_text("utf-8")
    folder = write_rig(tmp_path / "bench", rig=rig.replace('"+12V" = 500', '"+12V" = 80'))
    session = Session(folder)
    fixable = [f for f in session.proved().findings if f.fix is not None]
    assert fixable, [f.check for f in session.proved().findings]
    chosen = fixable[0]
    session.apply_fix(chosen.check, chosen.at, by="a", revision=0)
    left = session.proved().findings
    assert (chosen.check, chosen.at) not in [(f.check, f.at) for f in left]
    session.undo(by="a", revision=1)
    decline = {"do": "decline", "finding": chosen.check, "at": chosen.at, "reason": "on purpose"}
    session.edit([read_command(decline)], by="a", revision=2)
    told = {(f.check, f.at): f.declined for f in session.proved().findings}
    assert told[chosen.check, chosen.at] == "on purpose"
    assert load_project(folder).require_project().patch.declined[0].reason == "on purpose"


def test_a_fix_that_is_not_there(app: App) -> None:
    data = {"client": "a", "revision": 0, "finding": "no-such", "at": "x"}
    assert app.post("/api/fixes", data, 404)["error"]["name"] == "no-such-fix"


WEAK = RIG.replace('"+12V" = 500', '"+12V" = 80')
OVERLOADED = {"finding": "rail-overloaded", "at": "+12V"}
TIME_AT = 'row = 1\nhp = {}\n[[module]]\nid = "voice"'


def fix_of(app: App, finding: dict[str, str]) -> dict[str, Any]:
    """Return what a window sends to apply a finding's fix as it stands now."""
    found = app.get("/api/proof")["findings"]
    words = next(f["fix"]["words"] for f in found if finding.items() <= f.items())
    return {"client": app.name, "revision": app.read()["revision"], "seen": words, **finding}


def test_a_fix_that_meets_another_change_is_asked_about_and_neither_is_lost(
    app: App, bench: Path
) -> None:
    """The fix takes a module out which somebody else moves."""
    rig = write_rig(bench, rig=WEAK) / "rig.toml"
    wanted = fix_of(app, OVERLOADED)
    rewrite(rig, TIME_AT.format(0), TIME_AT.format(20))
    met = app.post("/api/fixes", wanted, 409)["error"]
    assert (met["name"], met["fix"]) == ("changed-meanwhile", wanted["seen"])
    assert met["theirs"] == [{"by": "disk", "words": "changed on the disk: rig.toml"}]
    assert TIME_AT.format(20) in app.text("rig.toml")

    rewrite(rig, TIME_AT.format(20), TIME_AT.format(24))  # once more, while it is asked
    again = wanted | {"revision": met["revision"], "seen": met["fix"]}
    met = app.post("/api/fixes", again, 409)["error"]
    app.post("/api/fixes", wanted | {"revision": met["revision"], "seen": met["fix"]})
    assert 'id = "time"' not in app.text("rig.toml")
    app.read()
    app.go("undo")
    assert TIME_AT.format(24) in app.text("rig.toml")


def test_a_fix_that_would_do_something_else_by_now_is_asked_about(app: App, bench: Path) -> None:
    """Another window has changed no key of the fix, but what the fix would write."""
    write_rig(bench, rig=WEAK)
    wanted = fix_of(app, OVERLOADED)
    app.window("window-b").edit({"do": "set-rail", "rail": "+12V", "ma": 50})
    met = app.post("/api/fixes", wanted, 409)["error"]
    assert met["name"] == "changed-meanwhile"
    assert wanted["seen"] == "take time out of the case"
    assert met["fix"] == "fit a supply that gives 200 mA on +12V"
    assert [one["by"] for one in met["theirs"]] == ["window-b"]
    assert '"+12V" = 50' in app.text("rig.toml")
    app.post("/api/fixes", wanted | {"revision": met["revision"], "seen": met["fix"]})
    assert '"+12V" = 200' in app.text("rig.toml")


def test_a_fix_beside_another_change_is_done_unasked(app: App, bench: Path) -> None:
    write_rig(bench, rig=WEAK)
    wanted = fix_of(app, OVERLOADED)
    app.window("window-b").edit(TUNE)
    app.post("/api/fixes", wanted)
    assert '"500 Hz"' in app.text()


# --- sheets ----------------------------------------------------------------------------------------------------------


def test_a_sheet_from_a_form_can_be_mounted_and_undone(app: App) -> None:
    form = {
        "client": app.name,
        "name": "my-mixer",
        "like": "mixer-4",
        "title": "My mixer",
        "hp": 10,
        "draw_ma": {"+12V": 35},
        "typical": False,
    }
    said = app.post("/api/sheets", form, 201)
    assert (said["sheet"]["title"], said["sheet"]["hp"]) == ("My mixer", 10)
    assert said["sheet"]["draw_ma"] == {"+12V": 35.0}
    app.revision = said["revision"]
    app.edit({"do": "add-module", "id": "mix", "sheet": "my-mixer", "row": 1, "hp": 20})
    assert app.read()["sheets"]["my-mixer"]["title"] == "My mixer"
    app.post("/api/sheets", form, 422)  # none is written over
    app.go("undo")
    app.go("undo")
    assert not (app.folder / "modules" / "my-mixer.toml").exists()
    app.go("redo")
    assert (app.folder / "modules" / "my-mixer.toml").exists()


OWN = """\
# Measured on the bench in March.
format = 1
title = "My voice"
hp = 10   # with the rails off: 9
depth_mm = 30
screen_mm = [5, 5, 20, 10]

[draw_ma]
"+12V" = 60  # at full load
"-12V" = 40

[jacks]
# the top row
pitch = { way = "in", signal = "pitch", to = "osc.pitch", needed = true  }
sine = { way = "out", signal = "audio", from = "osc.sine" }
[controls]
tune = { unit = "Hz", range = [16, 4000], default = "440 Hz", sets = "osc.tune", taper = "log" }
[sections]
osc = { kind = "oscillator" }
"""


def change_of(app: App, **said: Any) -> dict[str, Any]:
    """Return what a window sends to change its own sheet."""
    return {"client": app.name, "revision": app.revision, "name": "my-voice", **said}


@pytest.fixture
def own(app: App) -> App:
    """A project with a sheet that was written by hand."""
    (app.folder / "modules" / "my-voice.toml").write_text(OWN, "utf-8")
    app.read()
    return app


def test_a_sheet_of_ones_own_is_changed_where_the_form_says_so_and_nowhere_else(own: App) -> None:
    draft = own.post("/api/sheets/draft", {"name": "my-voice", "change": True})
    assert draft["text"] == OWN
    assert draft["beyond"] == [
        "comments",
        "screen_mm",
        "sections",
        "of jacks: way, signal, to, needed, from",
        "of controls: unit, sets, taper",
    ]
    said = change_of(
        own,
        title="Voice two",
        hp=12,
        draw_ma={"+12V": 65, "-12V": 0},
        jacks={"sine": {"label": "SIN"}},
        controls={"tune": {"range": [20, 4000]}},
    )
    own.revision = own.post("/api/sheets/change", said)["revision"]
    wanted = OWN
    for old, new in (
        ('"My voice"', '"Voice two"'),
        ("hp = 10", "hp = 12"),
        ('"+12V" = 60', '"+12V" = 65'),
        ('"-12V" = 40\n', ""),
        ('from = "osc.sine" }', 'from = "osc.sine", label = "SIN" }'),
        ("[16, 4000]", "[20, 4000]"),
    ):
        assert old in wanted
        wanted = wanted.replace(old, new)
    assert own.text("modules/my-voice.toml") == wanted
    own.go("undo")
    assert own.text("modules/my-voice.toml") == OWN


def test_a_sheet_that_an_editor_saved_meanwhile_is_asked_about_at_the_same_figure_only(
    own: App,
) -> None:
    path = own.folder / "modules" / "my-voice.toml"
    rewrite(path, "depth_mm = 30", "depth_mm = 33")
    own.post("/api/sheets/change", change_of(own, title="Mine"))  # another figure
    assert "depth_mm = 33" in path.read_text("utf-8")
    own.read()
    rewrite(path, "hp = 10", "hp = 11")
    met = own.post("/api/sheets/change", change_of(own, hp=14), 409)["error"]
    assert met["name"] == "changed-meanwhile"
    assert "hp = 11" in path.read_text("utf-8")
    again = change_of(own, hp=14) | {"revision": met["revision"], "keep_mine": True}
    own.post("/api/sheets/change", again)
    assert "hp = 14 " in path.read_text("utf-8")


@pytest.mark.parametrize(
    "wrong",
    [{"name": "mixer-4"}, {"name": "no-such"}, {"like": "mixer-4"}, {"kinds": ["vca"]}, {"hp": -1},
     {"jacks": {"nope": {}}}, {"change": 1}],
    ids=str,
)  # fmt: skip
def test_a_change_of_a_sheet_is_read_strictly(own: App, wrong: dict[str, Any]) -> None:
    """A sheet of the library is nobody's own."""
    own.post("/api/sheets/draft", {"name": "my-voice", "change": True, **wrong}, 422)
    if "change" not in wrong:
        own.post("/api/sheets/change", change_of(own, **wrong), 422)
    assert own.text("modules/my-voice.toml") == OWN


@pytest.mark.parametrize(
    "wrong",
    [{"name": "../x"}, {"name": 3}, {"like": "no-such"}, {"hp": "8"}, {"hp": -1}, {"hp": True},
     {"draw_ma": {"+9V": 1}}, {"jacks": {"nope": {}}}, {"controls": 3}, {"colour": "red"}],
    ids=str,
)  # fmt: skip
def test_a_form_is_read_strictly(app: App, wrong: dict[str, Any]) -> None:
    form = {"client": "a", "name": "my-mixer", "like": "mixer-4", **wrong}
    app.post("/api/sheets", form, 422)
    assert {p.name for p in (app.folder / "modules").iterdir()} == {
        "voice.toml", "time.toml", "desk.toml",
    }  # fmt: skip


# --- races and spellings ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("file", ["bench.patch.toml", "rig.toml"])
def test_what_is_written_while_we_think_is_not_written_over(
    bench: Path, monkeypatch: pytest.MonkeyPatch, file: str
) -> None:
    """Between the look at the disk and our own writing somebody saves: their text stays, ours is asked again."""
    session = Session(bench)
    think = Session._try

    def slow(self: Session, texts: Any) -> Any:
        found = think(self, texts)
        path = bench / file
        path.write_text(path.read_text("utf-8") + "# theirs\n", "utf-8")
        return found

    monkeypatch.setattr(Session, "_try", slow)
    with pytest.raises(Refusal) as refused:
        session.edit([read_command(TUNE)], by="a", revision=0)
    assert refused.value.name == "out-of-date"
    assert (bench / file).read_text("utf-8").endswith("# theirs\n")
    assert "500 Hz" not in (bench / "bench.patch.toml").read_text("utf-8")
    monkeypatch.undo()
    session.edit([read_command(TUNE)], by="a", revision=session.revision)
    assert (bench / file).read_text("utf-8").endswith("# theirs\n")


def test_line_ends_and_marks_of_another_editor_come_back_by_undo(bench: Path) -> None:
    path = bench / "bench.patch.toml"
    start = b"\xef\xbb\xbf" + PATCH.replace("\n", "\r\n").encode()
    path.write_bytes(start)
    session = Session(bench)
    session.edit([read_command(TUNE)], by="a", revision=0)
    assert b"500 Hz" in path.read_bytes()
    session.undo(by="a", revision=1)
    assert path.read_bytes() == start


def test_a_project_that_goes_away_is_told(bench: Path) -> None:
    session = Session(bench)
    for path in sorted(bench.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    assert session.state.errors
    with pytest.raises(Refusal):
        session.edit([read_command(TUNE)], by="a", revision=session.revision)


@pytest.mark.parametrize("data", [None, b"\xff\xfe rubbish"], ids=["gone", "rubbish"])
def test_a_patch_that_cannot_be_read_is_not_told_as_an_empty_one(
    bench: Path, data: bytes | None
) -> None:
    session = Session(bench)
    path = bench / "bench.patch.toml"
    path.unlink() if data is None else path.write_bytes(data)
    view = project_view(session)
    assert view["patch"] is None
    assert view["rig"]["name"] == "Test bench"
    assert [error["where"]["file"] for error in view["errors"]] == ["bench.patch.toml"]
    session.undo(by="a", revision=session.revision)
    assert project_view(session)["patch"]["cables"]


def test_a_sample_that_comes_mends_its_error(bench: Path) -> None:
    """Sound files are no texts, but the project's errors depend on them."""
    session = Session(bench)
    path = bench / "bench.patch.toml"
    path.write_text(PATCH + '[samples]\n"voice.bank" = ["kick.wav"]\n', "utf-8")
    said = [error.problem for error in session.state.errors]
    assert "there is no such sample" in said
    (bench / "kick.wav").write_bytes(b"RIFF")
    assert "there is no such sample" not in [error.problem for error in session.state.errors]
