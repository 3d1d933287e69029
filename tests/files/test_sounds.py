"""Samples of every sort are read to the value; what is no audio is told in words."""

import io
import os
import shutil
import signal
import struct
import threading
import time
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from rigproof.errors import FileError, Where
from rigproof.files import sounds
from rigproof.files.load import load_project
from rigproof.files.sounds import read_sound

HERE = Where("a.patch.toml", 3, "samples.x")


def wav_bytes(frames: bytes, *, channels: int, width: int, rate_hz: int) -> bytes:
    """A WAV file as the standard library writes it: a second hand, beside libsndfile."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(width)
        file.setframerate(rate_hz)
        file.writeframes(frames)
    return out.getvalue()


@pytest.mark.parametrize(
    ("width", "codes", "full_scale"),
    [
        (2, [0, 1, -1, 16384, 32767, -32768], 2**15),
        (3, [0, 1, -1, 4194304, 8388607, -8388608], 2**23),
        (4, [0, 1, -1, 2**30, 2**31 - 1, -(2**31)], 2**31),
    ],
)
@pytest.mark.parametrize("channels", [1, 2, 3])
def test_whole_numbers_become_n_over_full_scale(
    tmp_path: Path, width: int, codes: list[int], full_scale: int, channels: int
) -> None:
    """Source: two's complement PCM, most negative code = -1.0 (libsndfile's documented normalisation)."""
    frames = b"".join(code.to_bytes(width, "little", signed=True) for code in codes)
    data = wav_bytes(frames, channels=channels, width=width, rate_hz=22_050)
    (tmp_path / "a.wav").write_bytes(data)
    sound = read_sound(tmp_path, "a.wav")
    assert (sound.name, sound.rate_hz) == ("a.wav", 22_050.0)
    assert sound.data.dtype == np.float64
    assert sound.data.shape == (len(codes) // channels, channels)
    assert sound.data.ravel().tolist() == [code / full_scale for code in codes]


@pytest.mark.parametrize(
    ("suffix", "subtype", "tolerance"),
    [
        ("wav", "PCM_U8", 2**-7),
        ("wav", "FLOAT", 2**-24),
        ("wav", "DOUBLE", 0.0),
        ("flac", "PCM_16", 2**-15),
        ("flac", "PCM_24", 2**-23),
        ("aiff", "PCM_16", 2**-15),
        ("aiff", "PCM_24", 2**-23),
        ("ogg", "VORBIS", 0.05),
    ],
)
@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 96_000])
def test_a_sine_is_read_back_from_every_format(
    tmp_path: Path, suffix: str, subtype: str, tolerance: float, rate_hz: int
) -> None:
    """Tolerance: one step of the depth; of the lossy codec what a clean sine may lose."""
    time_s = np.arange(4000) / rate_hz
    sine = 0.5 * np.sin(2 * np.pi * 440 * time_s)[:, None] * [1.0, -0.5]
    (tmp_path / "samples").mkdir()
    name = f"samples/sine.{suffix}"
    soundfile.write(tmp_path / name, sine, rate_hz, subtype=subtype)
    sound = read_sound(tmp_path, name)
    assert sound.rate_hz == rate_hz
    assert sound.data.shape == sine.shape
    assert np.abs(sound.data - sine).max() <= tolerance


def test_a_loud_float_file_keeps_what_lies_above_full_scale(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.array([[2.5], [-3.0]]), 48_000, subtype="DOUBLE")
    assert read_sound(tmp_path, "a.wav").data.tolist() == [[2.5], [-3.0]]


GOOD = wav_bytes(b"\0\0" * 100, channels=1, width=2, rate_hz=48_000)
LYING = GOOD[:40] + struct.pack("<I", 2_000_000_000) + GOOD[44:]
FOUL = {
    "text": b"format = 1\n" * 100,
    "nothing": b"",
    "a header only": GOOD[:44],
    "half a header": GOOD[:20],
    "noise": bytes(range(256)) * 20,
    "no channels": GOOD[:22] + b"\0\0" + GOOD[24:],
    "an impossible rate": GOOD[:24] + struct.pack("<I", 2**31 - 1) + GOOD[28:],
    "a rate of nought": GOOD[:24] + struct.pack("<I", 0) + GOOD[28:],
    "a broken FLAC": b"fLaC" + b"\xff" * 500,
    "a broken OGG": b"OggS" + b"\0" * 500,
    "a RIFF in a RIFF": b"RIFF\xff\xff\xff\xffWAVERIFF" + b"\xff" * 200,
}


@pytest.mark.parametrize("case", FOUL)
def test_what_is_no_audio_is_one_clear_error(tmp_path: Path, case: str) -> None:
    (tmp_path / "a.wav").write_bytes(FOUL[case])
    with pytest.raises(FileError) as caught:
        read_sound(tmp_path, "a.wav", HERE)
    assert caught.value.where == HERE
    assert caught.value.found is not None
    assert caught.value.found.startswith("'a.wav'")


def test_a_header_that_promises_too_much_takes_no_memory(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(LYING)
    start = time.process_time()
    try:
        frames = len(read_sound(tmp_path, "a.wav").data)
    except FileError:
        frames = 0
    assert frames <= 100
    assert time.process_time() - start < 1.0


def test_other_containers_are_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.au", np.zeros((10, 1)), 48_000, format="AU")
    with pytest.raises(FileError) as caught:
        read_sound(tmp_path, "a.au")
    assert caught.value.expected == "WAV, FLAC, AIFF or OGG"


def test_values_that_are_no_numbers_are_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.array([[0.0], [np.nan]]), 48_000, subtype="FLOAT")
    with pytest.raises(FileError):
        read_sound(tmp_path, "a.wav")


@pytest.mark.parametrize(
    ("limit", "value"), [("SAMPLES_LIMIT", 99), ("CHANNELS_LIMIT", 0), ("FILE_LIMIT_BYTES", 200)]
)
def test_limits_are_kept_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, value: int
) -> None:
    (tmp_path / "a.wav").write_bytes(GOOD)
    assert len(read_sound(tmp_path, "a.wav").data) == 100
    monkeypatch.setattr(sounds, limit, value)
    with pytest.raises(FileError) as caught:
        read_sound(tmp_path, "a.wav")
    assert str(value) in str(caught.value.expected)


def make_folder(path: Path) -> None:
    path.mkdir()


def make_link_out(path: Path) -> None:
    outside = path.parent.parent / "outside.wav"
    outside.write_bytes(GOOD)
    path.symlink_to(outside)


@pytest.mark.parametrize("make", [make_folder, make_link_out, os.mkfifo, lambda path: None])
def test_what_is_no_file_of_the_folder_is_refused(tmp_path: Path, make: Any) -> None:
    folder = tmp_path / "rig"
    folder.mkdir()
    make(folder / "a.wav")
    with pytest.raises(FileError):
        read_sound(folder, "a.wav")


def test_a_path_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "rig").mkdir()
    (tmp_path / "a.wav").write_bytes(GOOD)
    for name in ("../a.wav", str(tmp_path / "a.wav"), "x\0"):
        with pytest.raises(FileError):
            read_sound(tmp_path / "rig", name)


def test_a_project_with_a_sample_that_is_text_does_not_load(tmp_path: Path) -> None:
    """Told with the rest, before anybody asks for sound; the place in the list is named."""
    folder = tmp_path / "tidepool"
    shutil.copytree(Path(__file__).parent / "data" / "tidepool", folder)
    patch = next(folder.glob("*.patch.toml"))
    patch.write_text(patch.read_text() + '\n[samples]\n"x.y" = ["samples/a.wav"]\n')
    (folder / "samples").mkdir(exist_ok=True)
    (folder / "samples" / "a.wav").write_text("this is text")
    told = [e for e in load_project(folder).errors if "no audio file" in e.problem]
    assert [(e.where.key, e.found) for e in told] == [('samples."x.y"[0]', "'a.wav'")]


def test_control_c_is_never_lost_in_the_sound_library(tmp_path: Path) -> None:
    """It may strike anywhere in a read, and always comes out as itself."""
    noise = np.random.default_rng(1).uniform(-1.0, 1.0, (5_000, 2))
    soundfile.write(tmp_path / "a.flac", noise, 48_000, subtype="PCM_24")

    def read_on(after_s: float) -> None:
        main = threading.main_thread().ident
        assert main is not None
        struck = threading.Timer(after_s, signal.pthread_kill, (main, signal.SIGINT))
        struck.start()
        try:
            while struck.is_alive():
                read_sound(tmp_path, "a.flac")
            read_sound(tmp_path, "a.flac")
        finally:
            struck.join()

    for after_s in np.linspace(0.001, 0.02, 50):
        with pytest.raises(KeyboardInterrupt):
            read_on(after_s)
