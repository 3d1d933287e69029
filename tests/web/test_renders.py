"""Renders: progress, cancel, ranges, probes; and sound files brought in."""

import io
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import soundfile

from rigproof.measure.probe import outline, spectrum, strength
from rigproof.web.api import jobs
from rigproof.web.api.rendering import render_tracks
from rigproof.web.api.uploads import LIMIT_BYTES
from tests.web.conftest import OWN, SOCKET, App

Tell = Callable[[float], None]
NODE = 100_000 / 101_000
"""1 kilohm into 100 kilohm: what Ohm's law leaves of the voice's volts at the desk."""

LOUD_S = 4.0
"""The second section begins after two bars of four beats at 120 beats a minute: 2 x 4 x 60/120 s."""


def finished(app: App, wish: dict[str, Any], stage: str = "done") -> Any:
    """Start a render and wait until it is over."""
    job = app.post("/api/renders", wish, 202)
    for _ in range(600):
        said = app.get(f"/api/renders/{job['id']}")
        if said["stage"] in ("done", "failed", "cancelled"):
            assert said["stage"] == stage, said
            return said
        time.sleep(0.05)
    pytest.fail("the render did not end")


def test_getting_the_sound_library_ready_is_told_before_rendering(
    app: App, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[tuple[str, float]] = []

    def overhear(*args: Any, tell: Tell, tell_ready: Tell, **more: Any) -> dict[str, Any]:
        def hear(done_s: float) -> None:
            told.append(("rendered", done_s))
            tell(done_s)

        def hear_ready(ratio: float) -> None:
            told.append(("ready", ratio))
            tell_ready(ratio)

        return render_tracks(*args, tell=hear, tell_ready=hear_ready, **more)

    monkeypatch.setattr(jobs, "render_tracks", overhear)
    assert finished(app, {"seconds": 0.5})["ready_ratio"] == 1.0
    ready = [value for word, value in told if word == "ready"]
    assert told[: len(ready)] == [("ready", value) for value in ready]
    assert ready == sorted(ready)
    assert 0 < ready[0] <= ready[-1] < 1
    assert told[-1] == ("rendered", 0.5)


def test_a_stretch_with_stem_and_probe(app: App) -> None:
    """The sine stands at 1 V and 1 kHz in the first half: so says the patch, less what Ohm's law takes."""
    with app.client.websocket_connect(SOCKET, headers=OWN) as socket:
        socket.receive_json()
        said = finished(
            app,
            {"section": "quiet", "seconds": 0.5, "stems": ["voice.saw"], "stem_volts": 5,
             "probes": ["desk.left"]},
        )  # fmt: skip
        assert said["done_s"] == said["seconds"] == 0.5
        while (told := socket.receive_json())["stage"] != "done":
            assert told["event"] == "job"
    assert [f["file"] for f in said["files"]] == [
        "mix.wav", "stem.voice.saw.wav", "probe.desk.left.wav",
    ]  # fmt: skip
    assert said["loudness"]["peak_dbfs"] < 0
    base = f"/api/renders/{said['id']}"
    whole = app.client.get(f"{base}/files/mix.wav")
    assert whole.headers["content-type"] == "audio/wav"
    data, rate_hz = soundfile.read(io.BytesIO(whole.content))
    assert (data.shape, rate_hz) == ((24_000, 2), 48_000)
    part = app.client.get(f"{base}/files/mix.wav", headers={"range": "bytes=100-299"})
    assert part.status_code == 206
    assert part.content == whole.content[100:300]
    assert part.headers["content-range"] == f"bytes 100-299/{len(whole.content)}"
    past = app.client.get(f"{base}/files/mix.wav", headers={"range": "bytes=99999999-"})
    assert past.status_code == 416
    seen = app.get(f"{base}/probe", jack="desk.left", at_s=0.1, length_s=0.25, columns=300)
    (lane,) = seen["lanes"]
    assert len(lane["low_v"]) == 300
    assert max(lane["high_v"]) == pytest.approx(NODE, rel=2e-3)
    assert lane["level"]["rms_v"] == pytest.approx(NODE / np.sqrt(2), rel=2e-3)
    assert np.argmax(lane["spectrum"]["db"]) * lane["spectrum"]["step_hz"] == pytest.approx(1000)
    assert max(lane["spectrum"]["db"]) == pytest.approx(20 * np.log10(NODE), abs=0.02)
    app.get(f"{base}/probe", 422, jack="desk.left", at_s=5)
    app.get(f"{base}/probe", 404, jack="desk.right")
    for name in ("..%2f..%2fbench%2frig.toml", "other.wav", "%2e%2e"):
        assert app.client.get(f"{base}/files/{name}").status_code == 404
    app.client.delete(base, headers=OWN)
    app.get(base, 404)


def test_the_mix_has_an_outline_too(app: App) -> None:
    """What the file itself holds, full scale at 1; and the render says where in the set it begins."""
    said = finished(app, {"section": "loud", "from_bar": 1, "seconds": 0.25})
    base = f"/api/renders/{said['id']}"
    data, _ = soundfile.read(io.BytesIO(app.client.get(f"{base}/files/mix.wav").content))
    seen = app.get(f"{base}/probe", jack="mix", length_s=0.25, columns=10)
    assert len(seen["lanes"]) == data.shape[1]
    for lane, channel in zip(seen["lanes"], data.T, strict=True):
        low, high = outline(channel, 10)
        np.testing.assert_array_equal(lane["low_v"], low)
        np.testing.assert_array_equal(lane["high_v"], high)
    assert said["start_s"] == LOUD_S


def test_a_render_can_be_stopped(app: App) -> None:
    running = app.post("/api/renders", {"seconds": 3600}, 202)
    waiting = app.post("/api/renders", {"seconds": 1}, 202)
    assert app.client.delete(f"/api/renders/{waiting['id']}", headers=OWN).status_code == 200
    said = app.client.delete(f"/api/renders/{running['id']}", headers=OWN).json()
    assert said["stopping"] is (said["stage"] == "running")
    for _ in range(400):
        said = app.get(f"/api/renders/{running['id']}")
        if said["stage"] == "cancelled":
            break
        time.sleep(0.05)
    assert said["stage"] == "cancelled"
    assert said["stopping"] is False
    assert said["done_s"] < 3600
    app.get(f"/api/renders/{running['id']}/files/mix.wav", 404)


@pytest.mark.parametrize(
    "wish",
    [{"seconds": 0}, {"seconds": 1e9}, {"seconds": True}, {"section": "none"}, {"from_bar": 99},
     {"rate_hz": 8000}, {"bits": "12"}, {"stems": ["voice.none"]}, {"probes": "voice.sine"},
     {"probes": ["voice.sine"] * 17}, {"loud": True}, {"stem_volts": 0}],
    ids=str,
)  # fmt: skip
def test_a_wish_that_makes_no_sense_is_refused(app: App, wish: dict[str, Any]) -> None:
    assert app.post("/api/renders", wish, 422)["error"]["errors"]
    assert app.get("/api/renders")["jobs"] == []


def test_renders_that_wait_are_bounded(app: App) -> None:
    ids = [app.post("/api/renders", {"seconds": 3600}, 202)["id"] for _ in range(5)]
    assert app.post("/api/renders", {"seconds": 1}, 429)["error"]["name"] == "too-many-jobs"
    for id_ in reversed(ids):
        app.client.delete(f"/api/renders/{id_}", headers=OWN)


# --- what a probe shows ----------------------------------------------------------------------------------------------


def test_a_sine_on_a_bin_reads_its_amplitude() -> None:
    """Source: Harris (1978), coherent gain of the Hann window 0.5: 2 V at 1 kHz read 6.02 dB."""
    t = np.arange(4800) / 48_000
    hz, db = spectrum(3.0 + 2.0 * np.sin(2 * np.pi * 1000 * t), 48_000.0)
    at = int(np.argmax(db))
    assert hz[at] == 1000.0
    assert db[at] == pytest.approx(20 * np.log10(2.0), abs=1e-6)
    assert db[at + 10 :].max() < -100


def test_an_outline_leaves_no_pulse_out() -> None:
    volts = np.zeros(100_000)
    volts[77_777] = 5.0
    low, high = outline(volts, 500)
    assert (float(low.min()), float(high.max())) == (0.0, 5.0)
    assert np.count_nonzero(high) == 1
    assert len(outline(volts[:3], 500)[0]) == 3


def test_strength_of_a_sine_on_an_offset() -> None:
    """RMS of a sine is its amplitude over the square root of two (definition)."""
    volts = 1.0 + 2.0 * np.sin(2 * np.pi * np.arange(4800) / 48)
    found = strength(volts)
    assert (found.dc_v, found.rms_v) == pytest.approx((1.0, np.sqrt(2.0)))
    assert (found.lo_v, found.hi_v) == pytest.approx((-1.0, 3.0))


# --- sound files -----------------------------------------------------------------------------------------------------


def wav(seconds: float = 0.1) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, np.zeros(round(seconds * 48_000)), 48_000, format="WAV")
    return out.getvalue()


def put(app: App, name: str, data: Any) -> Any:
    return app.client.put(f"/api/samples/{name}", content=data, headers=OWN)


def test_a_sound_file_is_brought_in_once(app: App) -> None:
    done = put(app, "Kick 1.wav", wav())
    assert done.status_code == 201
    assert done.json()["seconds"] == pytest.approx(0.1)
    assert (app.folder / "samples" / "Kick 1.wav").read_bytes() == wav()
    assert app.get("/api/samples") == {"files": ["samples/Kick 1.wav"]}
    assert put(app, "Kick 1.wav", wav(0.2)).status_code == 422
    assert (app.folder / "samples" / "Kick 1.wav").read_bytes() == wav()


@pytest.mark.parametrize(
    "name",
    ["..%2fkick.wav", "..wav", ".kick.wav", "kick.toml", "kick.wav.exe", "a%00.wav", "a%0a.wav",
     "con.wav", "x" * 200 + ".wav", "a%5cb.wav", "%2e%2e%2f%2e%2e%2fkick.wav"],
)  # fmt: skip
def test_a_name_that_is_none_is_refused(app: App, name: str) -> None:
    assert put(app, name, wav()).status_code in (404, 422)
    assert not list(app.folder.parent.glob("**/*kick*"))
    assert not (app.folder / "samples").exists()


@pytest.mark.parametrize("data", [b"", b"no sound", b"RIFF....WAVE", wav()[:40]], ids=repr)
def test_what_is_no_sound_leaves_nothing(app: App, data: bytes) -> None:
    error = put(app, "kick.wav", data).json()["error"]
    assert error["errors"][0]["where"]["file"] == "samples/kick.wav"
    assert ".part" not in str(error)
    assert list((app.folder / "samples").iterdir()) == []


def test_a_sound_file_that_is_too_large_is_refused(
    app: App, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rigproof.web.api.uploads.LIMIT_BYTES", 1000)
    done = put(app, "kick.wav", wav())
    assert (done.status_code, done.json()["error"]["name"]) == (413, "too-large")
    assert list((app.folder / "samples").iterdir()) == []
    assert LIMIT_BYTES > 86_400_000  # five minutes, stereo, 24 bit, 48 kHz


def test_a_samples_folder_that_leads_out_is_refused(app: App) -> None:
    away = app.folder.parent / "away"
    away.mkdir()
    (app.folder / "samples").symlink_to(away)
    assert put(app, "kick.wav", wav()).status_code == 422
    assert list(away.iterdir()) == []


# --- what if -------------------------------------------------------------------------------------------------------


def mix_of(app: App, wish: dict[str, Any]) -> tuple[Any, np.ndarray]:
    """A render and its mix."""
    said = finished(app, wish)
    content = app.client.get(f"/api/renders/{said['id']}/files/mix.wav").content
    return said, soundfile.read(io.BytesIO(content), always_2d=True)[0]


def test_cables_can_be_left_out_to_hear_what_they_do(app: App) -> None:
    """The left cable out: the left side falls silent, the right one stays the same to the bit."""
    wish = {"section": "loud", "seconds": 0.25}
    whole_said, whole = mix_of(app, wish)
    said, part = mix_of(app, wish | {"without": [0]})
    assert (whole_said["without"], said["without"], said["fix"]) == ([], [0], None)
    assert (said["title"], said["start_s"]) == (whole_said["title"], whole_said["start_s"])
    assert np.abs(whole[:, 0]).max() > 0.1
    assert np.abs(part[:, 0]).max() == 0.0
    np.testing.assert_array_equal(part[:, 1], whole[:, 1])
    _, nothing = mix_of(app, wish | {"without": [0, 1]})
    assert nothing.shape == whole.shape
    assert np.abs(nothing).max() == 0.0
    assert len(app.read()["patch"]["cables"]) == 2  # the files say what they said


def test_a_fix_can_be_heard_before_it_is_made(app: App) -> None:
    """What is rendered with a fix is, to the bit, what is rendered once it has been made."""
    app.edit({"do": "set-control", "control": "voice.level", "value": 5.0})
    for name in ("bench.set.toml",):
        (app.folder / name).unlink()  # nothing else moves the level
    app.read()
    found = next(
        f
        for f in app.get("/api/proof")["findings"]
        if f["fix"] is not None and "voice.level" in f["fix"]["words"]
    )
    which = {"finding": found["finding"], "at": found["at"]}
    before = app.text()
    said, tried = mix_of(app, {"seconds": 0.25, "fix": which})
    assert said["fix"] == which
    assert app.text() == before
    _, as_it_is = mix_of(app, {"seconds": 0.25})
    assert np.abs(tried).max() < np.abs(as_it_is).max()
    app.post("/api/fixes", {"client": app.name, "revision": app.revision, **which})
    _, made = mix_of(app, {"seconds": 0.25})
    np.testing.assert_array_equal(tried, made)


@pytest.mark.parametrize(
    ("wrong", "status"),
    [({"without": [2]}, 422), ({"without": [-1]}, 422), ({"without": ["0"]}, 422), ({"without": 0}, 422),
     ({"without": [True]}, 422), ({"fix": {"finding": "x"}}, 422),
     ({"fix": {"finding": "x", "at": "y"}}, 404), ({"fix": {"finding": "x", "at": "y"}, "without": [0]}, 422)],
    ids=str,
)  # fmt: skip
def test_what_cannot_be_left_out_or_mended(app: App, wrong: dict[str, Any], status: int) -> None:
    app.post("/api/renders", {"seconds": 0.1} | wrong, status)
    assert app.get("/api/renders")["jobs"] == []
