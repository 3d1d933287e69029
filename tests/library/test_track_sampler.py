"""The eight-track sample player and its breakout: the modulation table moves what it names, the ribbon carries it."""

from collections.abc import Mapping

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.model.patch import Cable, Filling, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.sheet import RawValue, Sheet
from rigproof.net.flatten import flatten
from tests.library.all_sheets import folder_of_all
from tests.small_rigs import STEADY

RATE_HZ = 48_000
SECONDS = 0.3
TONE_HZ = 480.0
FULL_V = 5.0


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Sheet]:
    """All sheets of the library."""
    return folder_of_all(tmp_path_factory.mktemp("all"))


def breakout_v(
    sheets: Mapping[str, Sheet], jack: str, settings: Mapping[str, RawValue] | None = None
) -> np.ndarray:
    """What an output of the breakout gives: track 1 plays a long tone once, -2 V stand at CV 1."""
    names = {
        "drums": "track-sampler-8",
        "outs": "track-sampler-8-outs",
        "clock": "clock-6",
        "five": "steady",
    }
    said = {"five.level": -0.4, **(settings or {})}
    net = flatten(
        Project(
            Rig("test", modules=tuple(Mounted(m, s, 1, 0) for m, s in names.items())),
            Patch(
                "test",
                cables=(
                    Cable("clock.sixteenth", "drums.clock"),
                    Cable("five.stiff", "drums.cv-1"),
                    Cable("drums.ribbon", "outs.ribbon"),
                ),
                settings=tuple(Settings(k, v) for k, v in said.items()),
                rhythms=(Filling("drums.rhythm-1", {"steps": "x..............."}),),
            ),
            {**sheets, "steady": STEADY},
        )
    )
    n = np.arange(2 * RATE_HZ)
    tone = 0.5 * np.sin(2 * np.pi * TONE_HZ * n / RATE_HZ)[:, None]
    row = net.contacts[f"outs.{jack}"].row
    return np.asarray(render(net, SECONDS, probes=[row], sounds={"drums.voice-1": [tone]})[0])


def row(source: RawValue, target: RawValue, depth: float) -> dict[str, RawValue]:
    """The first row of the table."""
    return {"drums.source-1": source, "drums.target-1": target, "drums.depth-1": depth}


def test_a_track_gives_its_sound_its_envelope_or_its_pitch(sheets: Mapping[str, Sheet]) -> None:
    """Oracle: the settings themselves. Half of full scale, 5 V, is 2.5 V; an envelope peaks at 5 V; -2 V of CV 1."""
    sound = breakout_v(sheets, "out-1")
    assert sound.max() == pytest.approx(0.5 * FULL_V, rel=0.05)
    assert sound.min() == pytest.approx(-0.5 * FULL_V, rel=0.05)
    envelope = breakout_v(sheets, "out-2", {"outs.gives-2": "envelope 1"})
    assert envelope.max() == pytest.approx(FULL_V, rel=0.03)
    assert envelope.min() >= 0.0
    pitch = breakout_v(sheets, "out-3", {"outs.gives-3": "pitch 1", **row("CV 1", "pitch 1", 0.5)})
    assert pitch[-1] == pytest.approx(0.5 * -2.0, rel=0.01)


def test_the_table_moves_pitch_by_octaves_a_volt(sheets: Mapping[str, Sheet]) -> None:
    """1 V/octave: -1 V at the pitch of the track halves the frequency of its sound."""
    sound = breakout_v(sheets, "out-1", row("CV 1", "pitch 1", 0.5))
    window = sound[-RATE_HZ // 20 :]  # a twentieth of a second: bins of 20 Hz
    spectrum = np.abs(np.fft.rfft(window * np.hanning(window.size)))
    assert int(np.argmax(spectrum)) * RATE_HZ / window.size == pytest.approx(TONE_HZ / 2)


def test_the_table_moves_level(sheets: Mapping[str, Sheet]) -> None:
    """Level is 5 V of the CC that has not come, less 2 V: three fifths of it."""
    sound = breakout_v(sheets, "out-1", row("CV 1", "level 1", 1.0))
    assert sound.max() == pytest.approx(0.6 * 0.5 * FULL_V, rel=0.05)


def test_a_row_without_a_target_moves_nothing(sheets: Mapping[str, Sheet]) -> None:
    still = breakout_v(sheets, "out-1")
    np.testing.assert_array_equal(still, breakout_v(sheets, "out-1", row("CV 1", "off", 1.0)))
    assert (still != breakout_v(sheets, "out-1", row("CV 1", "cutoff 1", -1.0))).any()
