"""`render`: what is in the file, against closed forms; and that no half of a file is ever left."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import soundfile

from rigproof.cli import rendering
from rigproof.cli.app import run
from rigproof.cli.loading import open_project
from rigproof.cli.screen import BAD_INPUT, FINE, STOPPED
from rigproof.engine.render import Player
from rigproof.files import audio_out
from tests.cli.conftest import Call
from tests.cli.rigs import PATCH, write_rig

NODE = 100_000 / 101_000
FULL_V = math.sqrt(2 * 0.6) * 10 ** (12 / 20)
"""Peak of a sine at +12 dBu, the desk's full scale."""
SUBTYPES = {"16": "PCM_16", "24": "PCM_24", "float": "FLOAT"}


def test_the_whole_set_by_default(call: Call, bench: Path, tmp_path: Path) -> None:
    """Eight seconds; the sine stands at 1 V in the first half and ends at 3 V."""
    out = tmp_path / "set.wav"
    answer = call("render", bench, "--out", out, "--json")
    assert answer.code == FINE
    data, rate = soundfile.read(out)
    assert (data.shape, rate) == ((8 * 48_000, 2), 48_000)
    left = data[:, 0]
    assert np.abs(left[: 4 * 48_000]).max() == pytest.approx(1.0 * NODE / FULL_V, rel=2e-3)
    assert np.abs(left[-48_000:]).max() == pytest.approx(3.0 * NODE / FULL_V, rel=2e-3)
    said = answer.data
    assert (said["seconds"], said["channels"], said["rate_hz"]) == (8.0, 2, 48_000.0)
    assert said["peak_dbfs"] == pytest.approx(20 * math.log10(np.abs(data).max()), abs=1e-3)
    assert said["rms_dbfs"] == pytest.approx(20 * math.log10(np.sqrt(np.mean(data**2))), abs=1e-3)
    assert said["clipped_samples"] == 0


def test_loudness_of_a_tone_is_that_of_the_standard(call: Call, tmp_path: Path) -> None:
    """A full-scale 1 kHz sine in one channel reads -3.0036, in two 3.0103 dB more. Source: BS.1770-5, Annex 1."""
    folder = write_rig(tmp_path / "bench", patch=PATCH.replace('"voice.saw"', '"voice.sine"'))
    said = call("render", folder, "--seconds", 3, "--out", tmp_path / "tone.wav", "--json").data
    peak_dbfs = 20 * math.log10(1.0 / (1 + 2 * 1_000 / 100_000) / FULL_V)  # two inputs load it
    assert said["integrated_lufs"] == pytest.approx(peak_dbfs - 3.0036 + 3.0103, abs=0.02)


@pytest.mark.parametrize(
    ("suffix", "bits", "rate"),
    [(".wav", "16", "44100"), (".wav", "float", "96000"), (".flac", "24", "48000")],
)
def test_formats_depths_and_rates(
    call: Call, bench: Path, tmp_path: Path, suffix: str, bits: str, rate: str
) -> None:
    out = tmp_path / f"short{suffix}"
    words = ("--seconds", 0.25, "--bits", bits, "--rate", rate, "--out", out)
    assert call("render", bench, *words).code == FINE
    info = soundfile.info(out)
    assert (info.subtype, info.samplerate) == (SUBTYPES[bits], int(rate))
    assert info.frames == round(0.25 * int(rate))
    left = soundfile.read(out)[0][:, 0]
    crossings = np.count_nonzero((left[:-1] < 0) & (left[1:] >= 0))
    assert abs(crossings - 250) <= 1  # 1 kHz at every rate


def test_stems_are_volts(call: Call, bench: Path, tmp_path: Path) -> None:
    out = tmp_path / "mix.wav"
    words = ("--seconds", 0.5, "--stem", "voice.sine", "--stem", "time.beat", "--stem-volts", 8)
    answer = call("render", bench, *words, "--out", out, "--bits", "float", "--json")
    assert [s["jack"] for s in answer.data["stems"]] == ["voice.sine", "time.beat"]
    sine, _ = soundfile.read(tmp_path / "mix.voice.sine.wav")
    assert np.abs(sine).max() * 8 == pytest.approx(1.0 * NODE, rel=2e-3)
    beat, _ = soundfile.read(tmp_path / "mix.time.beat.wav")
    assert beat.max() * 8 == pytest.approx(5.0)
    assert np.count_nonzero(np.diff(beat, prepend=0.0) > 0.1) == 4  # 4 a quarter: 8 a second
    mix, _ = soundfile.read(out)
    assert mix[:, 0] * FULL_V == pytest.approx(sine * 8, abs=1e-5)


def test_a_section_and_a_bar(call: Call, bench: Path, tmp_path: Path) -> None:
    """The second half begins at 1 V and glides to 3 V in its first bar; its second bar stands at 3 V."""
    out = tmp_path / "part.wav"
    answer = call("render", bench, "--section", "loud", "--out", out, "--json")
    assert answer.data["seconds"] == 4.0
    assert answer.data["title"] == "Two halves, The loud half"
    left = np.abs(soundfile.read(out)[0][:, 0]) * FULL_V / NODE
    assert left[:480].max() == pytest.approx(1.0, abs=0.02)
    assert left[48_000 - 48 : 48_000 + 48].max() == pytest.approx(2.0, abs=0.02)
    call("render", bench, "--section", "loud", "--from-bar", 2, "--out", out)
    left = np.abs(soundfile.read(out)[0][:, 0]) * FULL_V / NODE
    assert len(left) == 2 * 48_000
    assert left[:480].max() == pytest.approx(3.0, rel=2e-3)
    assert call("render", bench, "--from-bar", 4, "--out", out, "--json").data["seconds"] == 2.0


def test_without_a_set_a_minute_unless_told(call: Call, bench: Path, tmp_path: Path) -> None:
    (bench / "bench.set.toml").unlink()
    assert rendering.stretch_of(open_project(bench)).seconds == 60.0
    out = tmp_path / "x.wav"
    assert call("render", bench, "--seconds", 0.5, "--out", out, "--json").data["seconds"] == 0.5
    for words in (["--section", "loud"], ["--from-bar", "2"]):
        answer = call("render", bench, *words, "--out", out)
        assert answer.code == BAD_INPUT
        assert "no set" in answer.err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--out", "sound.mp3"], ".flac"),
        (["--out", "sound"], ".wav"),
        (["--out", "s.flac", "--bits", "float"], "FLAC"),
        (["--from-bar", "9"], "1 to 4"),
        (["--seconds", "-3"], "--seconds"),
        (["--seconds", "nan"], "--seconds"),
        (["--stem-volts", "0"], "--stem-volts"),
        (["--stem", "desk.none"], "desk"),
        (["--out", "missing/folder/x.wav"], "missing"),
        (["--out", "folder.wav"], "no file"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_rendered(
    call: Call,
    bench: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
    told: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder.wav").mkdir()
    monkeypatch.setattr(rendering, "player_for", None)  # nothing gets that far
    before = sorted(tmp_path.rglob("*"))
    answer = call("render", bench, "--seconds", "0.1", *words)
    assert answer.code == BAD_INPUT
    assert told in answer.err
    assert sorted(tmp_path.rglob("*")) == before


def test_what_no_wav_file_holds_is_refused_before_anything_is_rendered(
    call: Call, bench: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half an hour rendered and thrown away would be a poor way to say so."""
    monkeypatch.setattr(audio_out, "WAV_LIMIT_BYTES", 1000)
    monkeypatch.setattr(Player, "chunks", None)  # nothing gets that far
    answer = call("render", bench, "--seconds", "0.1", "--out", tmp_path / "x.wav")
    assert answer.code == BAD_INPUT
    assert "too long for a WAV file" in answer.err
    assert ".flac" in answer.err
    assert not list(tmp_path.glob("*x.wav*"))


def test_nothing_to_hear_is_said(call: Call, tmp_path: Path) -> None:
    folder = write_rig(tmp_path, patch=PATCH.partition("cables")[0])
    answer = call("render", folder, "--out", tmp_path / "x.wav")
    assert answer.code == BAD_INPUT
    assert "way out" in answer.err


def test_stopped_half_way_nothing_is_left(
    bench: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Ctrl-C in the middle: exit code 130, no new file, no half of one, the old one untouched."""
    out = tmp_path / "old.wav"
    out.write_bytes(b"the old file")
    before = sorted(tmp_path.rglob("*"))
    played = 0
    play = Player.play

    def stop(self: Player, blocks: int) -> object:
        nonlocal played
        played += blocks > 0
        if played == 3:
            raise KeyboardInterrupt
        return play(self, blocks)

    monkeypatch.setattr(Player, "play", stop)
    words = ["render", str(bench), "--out", str(out), "--stem", "voice.sine"]
    assert run(words) == STOPPED
    assert played == 3
    assert capsys.readouterr().err.startswith("stopped")
    assert out.read_bytes() == b"the old file"
    assert sorted(tmp_path.rglob("*")) == before


def test_on_paper(call: Call, bench: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    answer = call("render", bench, "--section", "quiet", "--stem", "voice.sine")
    lines = answer.out.splitlines()
    assert lines[0].startswith("bench-quiet.wav ")
    assert lines[0].endswith(" 4.0 s")
    assert Path("bench-quiet.wav").is_file()
    assert [line.split()[0] for line in lines[2:8]] == [
        "loudness", "range", "true", "peak", "rms", "rendered",
    ]  # fmt: skip
    assert lines[-2] == "stem voice.sine: bench-quiet.voice.sine.wav, full scale 10 V"
    assert lines[-1] == "Two halves, The quiet half · stereo, 48000 Hz, 24 bit"


def test_the_same_patch_renders_the_same_bytes(call: Call, bench: Path, tmp_path: Path) -> None:
    for name in ("a.wav", "b.wav"):
        call("render", bench, "--seconds", 1, "--out", tmp_path / name)
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


def test_json_is_one_document(call: Call, bench: Path, tmp_path: Path) -> None:
    answer = call("render", bench, "--seconds", 0.1, "--out", tmp_path / "x.wav", "--json")
    data = json.loads(answer.out)
    assert data["integrated_lufs"] is None  # shorter than one block of 400 ms
