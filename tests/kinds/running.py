"""Run one kind on its own: arrays in by port name, arrays out by port name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rigproof.engine.compile import compiled
from rigproof.kinds.base import BLOCK, COLUMNS, LEAD, RATE_HZ, Kind, Setting, Span
from rigproof.model.sheet import RawValue

Floats = NDArray[np.float64]


def setting_of(
    kind: Kind,
    *,
    values: Mapping[str, float] | None = None,
    options: Mapping[str, RawValue] | None = None,
    spans: Mapping[str, Span] | None = None,
    ways: int | None = None,
    rate_hz: float = 48_000.0,
    tempo_bpm: float = 120.0,
    sounds: Sequence[Any] = (),
    name: str = "bench",
    seed: int = 1,
) -> Setting:
    """A setting with every parameter and option at its default except those named."""
    ways = ways if ways is not None else kind.ways[2] if kind.ways else 1
    full = {p.name: p.default for p in kind.expand_params(ways)}
    chosen: dict[str, RawValue] = {o.name: o.default for o in kind.options}
    for key, value in (values or {}).items():
        assert key in full, key
        full[key] = value
    for key, raw in (options or {}).items():
        assert key in chosen, key
        chosen[key] = raw
    return Setting(
        name, full, dict(spans or {}), chosen, ways, tempo_bpm, seed, rate_hz, tuple(sounds)
    )


def play(
    kind: Kind,
    setting: Setting,
    samples: int,
    ins: Mapping[str, Any] | None = None,
    *,
    glides: Mapping[str, Sequence[float]] | None = None,
    state: Floats | None = None,
) -> dict[str, Floats]:
    """Run `samples` and return every output. `glides` gives a parameter's value at the edge of each block."""
    ports = kind.expand_inputs(setting.ways)
    assert set(ins or {}) <= {p.name for p in ports}, set(ins or {}) - {p.name for p in ports}
    blocks = -(-samples // BLOCK)
    fed = np.zeros((len(ports), blocks * BLOCK))
    for i, port in enumerate(ports):
        wave = np.asarray((ins or {}).get(port.name, port.rest_v), dtype=np.float64)
        if wave.ndim == 0:
            fed[i] = wave
        else:
            fed[i, : min(len(wave), blocks * BLOCK)] = wave[: blocks * BLOCK]
    outs = kind.expand_outputs(setting.ways)
    bus = np.zeros((len(ports) + len(outs), COLUMNS))
    names = [p.name for p in kind.expand_params(setting.ways)]
    params = np.zeros((1 + len(names), 2))
    params[RATE_HZ, 0] = setting.rate_hz
    params[1:, 0] = [setting.values[name] for name in names]
    if state is None:
        state = np.asarray(kind.prepare(setting), dtype=np.float64).reshape(-1)
    kernel = compiled(kind.kernel)
    rows_in = np.arange(len(ports), dtype=np.int64)
    rows_out = np.arange(len(ports), len(ports) + len(outs), dtype=np.int64)
    got = np.zeros((len(outs), blocks * BLOCK))
    for block in range(blocks):
        for name, points in (glides or {}).items():
            row = 1 + names.index(name)
            step = (points[block + 1] - points[block]) / BLOCK
            params[row] = points[block] - LEAD * step, step
        bus[:, LEAD - 1] = bus[:, COLUMNS - 1]
        bus[: len(ports), LEAD:] = fed[:, block * BLOCK : (block + 1) * BLOCK]
        kernel(bus, rows_in, rows_out, params, state, LEAD, COLUMNS)
        got[:, block * BLOCK : (block + 1) * BLOCK] = bus[len(ports) :, LEAD:]
    return {port.name: got[i, :samples] for i, port in enumerate(outs)}


def rises(wave: Floats) -> list[int]:
    """The samples at which a wave goes through 1 V upwards, a high first sample among them."""
    high = wave >= 1.0
    return [int(i) for i in np.flatnonzero(high & ~np.concatenate([[False], high[:-1]]))]


def pulses(
    places: Sequence[int], samples: int, *, length: int = 48, level_v: float = 5.0
) -> Floats:
    """A wave with a pulse at each place."""
    wave = np.zeros(samples)
    for place in places:
        wave[place : place + length] = level_v
    return wave
