"""Sound is written as asked, whole or not at all. Read back with the standard library where that can."""

import contextlib
import errno
import os
import resource
import signal
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from rigproof.errors import FileError
from rigproof.files import audio_out
from rigproof.files.audio_out import Depth, SoundWriter

CHUNKS = [np.array([[0.0, 0.5], [-1.0, 1.0]]), np.array([[0.25, -0.125]])]


def write(path: Path, depth: Depth, folder: Path | None = None) -> SoundWriter:
    with SoundWriter(path, rate_hz=44_100, channels=2, depth=depth, folder=folder) as out:
        for chunk in CHUNKS:
            out.write(chunk)
    return out


@pytest.mark.parametrize(("depth", "width"), [(Depth.INT_16, 2), (Depth.INT_24, 3)])
def test_a_wav_holds_the_codes_that_the_depth_asks_for(
    tmp_path: Path, depth: Depth, width: int
) -> None:
    """Full scale is 1.0 = the most positive code and one; -1.0 is the most negative code."""
    write(tmp_path / "a.wav", depth)
    with wave.open(str(tmp_path / "a.wav"), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, width, 44_100)
        data = file.readframes(10)
    codes = [
        int.from_bytes(data[i : i + width], "little", signed=True)
        for i in range(0, len(data), width)
    ]
    full = 2 ** (8 * width - 1)
    assert codes == [0, full // 2, -full, full - 1, full // 4, -full // 8]


@pytest.mark.parametrize(
    ("name", "depth", "subtype"),
    [
        ("a.wav", Depth.FLOAT_32, "FLOAT"),
        ("a.flac", Depth.INT_16, "PCM_16"),
        ("a.FLAC", Depth.INT_24, "PCM_24"),
    ],
)
def test_other_files_are_read_back_as_written(
    tmp_path: Path, name: str, depth: Depth, subtype: str
) -> None:
    write(tmp_path / name, depth)
    assert soundfile.info(tmp_path / name).subtype == subtype
    data, rate_hz = soundfile.read(tmp_path / name, always_2d=True)
    assert rate_hz == 44_100
    assert np.abs(data - np.concatenate(CHUNKS)).max() <= 2**-15


def test_what_is_cut_at_full_scale_is_counted(tmp_path: Path) -> None:
    loud = np.array([[1.5], [-2.0], [1.0], [0.5]])
    with SoundWriter(tmp_path / "a.wav", rate_hz=48_000, channels=1, depth=Depth.INT_24) as out:
        out.write(loud)
    assert (out.clipped, out.peak, out.frames) == (2, 2.0, 4)
    data, _ = soundfile.read(tmp_path / "a.wav")
    assert data.max() == pytest.approx(1.0, abs=2**-22)
    assert data.min() == -1.0


def test_a_float_file_is_not_cut(tmp_path: Path) -> None:
    with SoundWriter(tmp_path / "a.wav", rate_hz=48_000, channels=1, depth=Depth.FLOAT_32) as out:
        out.write(np.array([[1.5]]))
    assert out.clipped == 0
    assert soundfile.read(tmp_path / "a.wav")[0].tolist() == [1.5]


@pytest.mark.parametrize("error", [KeyboardInterrupt, ValueError])
def test_left_by_an_error_the_old_file_stays_and_no_other(
    tmp_path: Path, error: type[BaseException]
) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"old")
    out = SoundWriter(path, rate_hz=48_000, channels=2)

    def fail_half_way() -> None:
        with out:
            out.write(CHUNKS[0])
            assert path.read_bytes() == b"old"
            raise error

    with pytest.raises(error):
        fail_half_way()
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]


def test_a_part_that_is_in_the_way_is_not_written_through(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "rig"
    folder.mkdir()
    (tmp_path / "outside").write_bytes(b"old")
    (folder / "x.part").symlink_to(tmp_path / "outside")
    monkeypatch.setattr(audio_out, "part_of", lambda path: path.with_name("x.part"))
    with pytest.raises(FileError):
        write(folder / "a.wav", Depth.INT_16, folder)
    assert (tmp_path / "outside").read_bytes() == b"old"
    assert not (folder / "a.wav").exists()


def test_two_at_once_into_one_file_each_write_all_of_it(tmp_path: Path) -> None:
    """The one that ends last has the name; neither meets the other's half."""
    path = tmp_path / "a.wav"
    with SoundWriter(path, rate_hz=48_000, channels=2) as slow:
        slow.write(CHUNKS[0])
        with SoundWriter(path, rate_hz=48_000, channels=2) as quick:
            quick.write(CHUNKS[1])
        assert soundfile.info(path).frames == 1
        slow.write(CHUNKS[1])
    assert soundfile.info(path).frames == 3
    assert [p.name for p in tmp_path.iterdir()] == ["a.wav"]


@contextlib.contextmanager
def no_file_beyond(size_bytes: int) -> Iterator[None]:
    """The system refuses to let a file grow further, as it does on a full disk."""
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)


@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
def test_a_disk_that_fills_up_is_told_and_leaves_the_old_file(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str
) -> None:
    """With its reason, whenever it happens, and without a word of the sound library. 75 kB are to be written."""
    path = tmp_path / name
    noise = np.random.default_rng(1).uniform(-1.0, 1.0, (25_000, 1))
    outcomes = []

    def write_noise(limit_bytes: int) -> None:
        with no_file_beyond(limit_bytes), SoundWriter(path, rate_hz=48_000, channels=1) as out:
            out.write(noise)

    for limit_bytes in (20, 4_096, 40_000, *range(70_000, 80_000, 500)):
        path.write_bytes(b"old")
        try:
            write_noise(limit_bytes)
        except FileError as error:
            outcomes.append(error.found)
            left = path.read_bytes()
        else:
            outcomes.append("written")
            left = b"old"
            data, _ = soundfile.read(path, always_2d=True)
            assert np.abs(data - noise).max() < 2**-22
        assert left == b"old"
        assert [p.name for p in tmp_path.iterdir()] == [name]
    assert set(outcomes) == {os.strerror(errno.EFBIG), "written"}
    assert capfd.readouterr().err == ""


def test_control_c_is_never_lost_in_the_sound_library(tmp_path: Path) -> None:
    """It may strike anywhere in a write; it always comes out, and nothing is left."""
    noise = np.random.default_rng(1).uniform(-1.0, 1.0, (50_000, 2))

    def strike(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    def write_on(after_s: float) -> None:
        with SoundWriter(tmp_path / "a.wav", rate_hz=48_000, channels=2) as out:
            signal.setitimer(signal.ITIMER_REAL, after_s)
            for _ in range(500):
                out.write(noise)

    old = signal.signal(signal.SIGALRM, strike)
    try:
        for after_s in np.linspace(0.001, 0.02, 25):
            with pytest.raises(KeyboardInterrupt):
                write_on(after_s)
            assert list(tmp_path.iterdir()) == []
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, old)


def test_an_out_of_folder_path_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "rig"
    folder.mkdir()
    (folder / "link.wav").symlink_to(tmp_path / "outside.wav")
    for name in ("../outside.wav", "link.wav"):
        with pytest.raises(FileError):
            write(folder / name, Depth.INT_16, folder)
    assert not (tmp_path / "outside.wav").exists()


@pytest.mark.parametrize(
    ("name", "depth"),
    [
        ("a.mp3", Depth.INT_16),
        ("a", Depth.INT_16),
        ("a.flac", Depth.FLOAT_32),
        ("missing/a.wav", Depth.INT_16),
        ("folder.wav", Depth.INT_16),
    ],
)
def test_what_cannot_be_written_is_told_before_anything_is(
    tmp_path: Path, name: str, depth: Depth
) -> None:
    (tmp_path / "folder.wav").mkdir()
    with pytest.raises(FileError):
        write(tmp_path / name, depth)
    assert [p.name for p in tmp_path.iterdir()] == ["folder.wav"]


def test_values_that_are_no_numbers_are_refused(tmp_path: Path) -> None:
    with (
        pytest.raises(FileError),
        SoundWriter(tmp_path / "a.wav", rate_hz=48_000, channels=1) as out,
    ):
        out.write(np.array([[np.nan]]))
    assert not list(tmp_path.iterdir())


def test_a_wav_that_would_grow_too_long_is_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(audio_out, "WAV_LIMIT_BYTES", 1000)
    with (
        pytest.raises(FileError) as caught,
        SoundWriter(tmp_path / "a.wav", rate_hz=48_000, channels=1) as out,
    ):
        out.write(np.zeros((400, 1)))
    assert ".flac" in str(caught.value.expected)


def test_a_full_disk_is_told_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError) as caught:
        write(tmp_path / "a.wav", Depth.INT_16)
    assert "No space" in str(caught.value.found)
    assert not list(tmp_path.iterdir())
