"""From the files that a patch names to what is heard: a sample at another rate, played by a trigger."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from rigproof.cli.screen import BAD_INPUT, FINE
from tests.cli.conftest import Call
from tests.cli.rigs import PATCH, RIG, write_rig

SAMPLER = """
format = 1
title = "Sampler"
hp = 8
depth_mm = 30
[jacks]
trigger = { way = "in", signal = "trigger", to = "player.trigger" }
out = { way = "out", signal = "audio", from = "player.left" }
[sections]
player = { kind = "sample-voice" }
[slots]
bank = { takes = "samples", sections = "player" }
"""
WITH_SAMPLER = RIG + '[[module]]\nid = "sampler"\nsheet = "sampler"\nrow = 1\nhp = 16\n'
CABLES = """
cables = [
  { from = "time.bar", to = "sampler.trigger", cm = 90 },
  { from = "sampler.out", to = "desk.left", cm = 90 },
]
[samples]
"sampler.bank" = ["samples/tone.wav"]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    patch = PATCH.partition("cables")[0] + CABLES
    made = write_rig(tmp_path / "bench", rig=WITH_SAMPLER, patch=patch)
    (made / "bench.set.toml").unlink()
    (made / "modules" / "sampler.toml").write_text(SAMPLER)
    (made / "samples").mkdir()
    tone = 0.5 * np.sin(2 * np.pi * 1_000 * np.arange(44_100) / 44_100)
    soundfile.write(made / "samples" / "tone.wav", tone, 44_100, subtype="FLOAT")
    return made


def test_a_sample_is_heard_at_its_own_pitch(call: Call, folder: Path, tmp_path: Path) -> None:
    """A second of 1 kHz recorded at 44.1 kHz, triggered at 0 s: still 1 kHz at 48 kHz, and over after a second."""
    out = tmp_path / "out.wav"
    assert call("render", folder, "--seconds", 1.5, "--out", out).code == FINE
    heard, rate = soundfile.read(out)
    assert rate == 48_000
    spectrum = np.abs(np.fft.rfft(heard[4_800:43_200] * np.hanning(38_400)))
    assert np.argmax(spectrum) * rate / 38_400 == pytest.approx(1_000.0, abs=1.25)
    assert np.abs(heard[4_800:43_200]).max() > 0.1
    assert np.abs(heard[52_800:]).max() < 1e-4


def test_the_clock_that_plays_it_is_told(call: Call, folder: Path) -> None:
    assert "\nclocks   time.bar  1 in 4 quarters\n" in call("check", folder).out


def test_samples_that_are_none_are_told_all_at_once(call: Call, folder: Path) -> None:
    (folder / "samples" / "tone.wav").write_bytes(b"no audio at all")
    answer = call("render", folder, "--seconds", 1)
    assert answer.code == BAD_INPUT
    assert "tone.wav" in answer.err
    assert "bench.patch.toml line 10" in answer.err
    assert "Traceback" not in answer.err


def test_a_missing_sample_has_its_line(call: Call, folder: Path) -> None:
    (folder / "samples" / "tone.wav").rename(folder / "samples" / "tune.wav")
    answer = call("check", folder)
    assert answer.code == BAD_INPUT
    assert "bench.patch.toml line 10" in answer.err
    assert "tune.wav" in answer.err
