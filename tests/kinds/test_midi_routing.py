"""Thru, channel filter and router: each message where it belongs, at its own sample."""

import numpy as np
import pytest

from rigproof.kinds import channel_filter, midi_router, midi_thru
from rigproof.kinds.midi_messages import channel_of, message_of
from tests.kinds.running import Floats, play, setting_of

RNG = np.random.default_rng(4)
CLOCK = 248.0


def traffic(samples: int = 1280) -> Floats:
    """Notes and controllers on all 16 channels, clocks and a song position among them."""
    wave = np.zeros(samples)
    for place in range(0, samples, 8):
        sort = int(RNG.choice([0x80, 0x90, 0xB0, 0xC0, 0xE0]))
        data = RNG.integers(0, 128, 2)
        wave[place] = message_of(sort + int(RNG.integers(16)), int(data[0]), int(data[1]))
    wave[4::80] = CLOCK
    wave[44] = message_of(0xF2, 5, 6)
    return wave


def channels(wave: Floats) -> Floats:
    """The channel of each message from its status byte, 0 for system messages; -1 where there is none."""
    status = wave.astype(np.int64) & 0xFF
    return np.where(wave == 0, -1, np.where(status >= 0xF0, 0, (status & 15) + 1))


def test_thru_copies_everything() -> None:
    wave = traffic()
    out = play(midi_thru.KIND, setting_of(midi_thru.KIND, ways=3), wave.size, {"in": wave})
    assert len(out) == 3
    for copy in out.values():
        np.testing.assert_array_equal(copy, wave)


@pytest.mark.parametrize("channel", [1, 7, 16])
@pytest.mark.parametrize("mode", [0.0, 1.0])
@pytest.mark.parametrize("system", [0.0, 1.0])
def test_a_filter_passes_its_channel_or_all_others(
    channel: int, mode: float, system: float
) -> None:
    wave = traffic()
    values = {"channel": float(channel), "mode": mode, "system": system}
    setting = setting_of(channel_filter.KIND, values=values)
    out = play(channel_filter.KIND, setting, wave.size, {"in": wave})["out"]
    found = channels(wave)
    own = (found == channel) if mode == 0 else (found > 0) & (found != channel)
    passes = own | ((found == 0) & (system == 1))
    np.testing.assert_array_equal(out, np.where(passes, wave, 0.0))
    assert passes.any()


def test_a_router_sends_each_channel_its_way() -> None:
    wave = traffic()
    values = {"channel-1": 3.0, "channel-2": 0.0, "channel-3": 16.0}
    found = channels(wave)
    for system in (0.0, 1.0):
        setting = setting_of(midi_router.KIND, ways=3, values={**values, "system": system})
        out = play(midi_router.KIND, setting, wave.size, {"in": wave})
        for name, own in zip(out, (found == 3, found > 0, found == 16), strict=True):
            passes = own | ((found == 0) & (system == 1))
            np.testing.assert_array_equal(out[name], np.where(passes, wave, 0.0))


def test_what_is_no_message_stops() -> None:
    junk = np.zeros(64)
    junk[:6] = [np.nan, np.inf, -5.0, 100.0, 144.5, 1e300]
    for kind in (midi_thru.KIND, channel_filter.KIND, midi_router.KIND):
        out = play(kind, setting_of(kind), 64, {"in": junk})
        assert not any(wave.any() for wave in out.values())


def test_channels_of_messages() -> None:
    """Source: channel is the low half of the status byte; F0 and above have none."""
    assert [channel_of(message_of(s, 0, 0)) for s in (0x90, 0xBF, 0xF8, 0xF2)] == [1, 16, 0, 0]
    assert channel_of(3.5) == 0
