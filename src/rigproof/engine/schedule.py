"""A net made ready to run: flat arrays of rows, parameters and state in running order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rigproof.engine.compile import address, prepare_kernels
from rigproof.kinds.base import COLUMNS, RATE_HZ
from rigproof.net.graph import Net

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(slots=True)
class Schedule:
    """Everything the compiled loop works on. The arrays are the running patch: they change as it plays."""

    net: Net
    rate_hz: float
    bus_v: Floats
    addresses: Ints
    part_ends: Ints
    part_loops: NDArray[np.bool_]
    ins: Ints
    ins_from: Ints
    outs: Ints
    outs_from: Ints
    params: Floats
    params_from: Ints
    state: Floats
    state_from: Ints
    place: Mapping[int, int]
    """Place in running order of each section of the net."""

    def param_row(self, section: int, row: int) -> int | None:
        """Return the row in `params` of a parameter of a section of the net, or None when the section does not run."""
        place = self.place.get(section)
        return None if place is None else int(self.params_from[place]) + row


def aligned(shape: tuple[int, ...]) -> Floats:
    """Return zeros whose first element lies on a cache line."""
    count = int(np.prod(shape))
    raw = np.zeros(count + 8, dtype=np.float64)
    skip = (-raw.ctypes.data // 8) % 8
    return raw[skip : skip + count].reshape(shape)


def schedule(
    net: Net,
    *,
    sounds: Mapping[str, Sequence[Any]] | None = None,
    wanted: Sequence[int] | None = None,
    on_progress: Callable[[int, int], None] | None = None,
) -> Schedule:
    """Return a net ready to run, every kernel compiled or loaded.

    `sounds` gives, by section name, that section's samples as float64[frames, channels] at the net's rate. When
    `wanted` names rows, only the sections that those rows depend on are run: what nobody hears costs nothing.
    """
    components = net.components
    if wanted is not None:
        needed = feeding(net, wanted)
        components = tuple(part for part in components if not needed.isdisjoint(part.sections))
    order = [s for part in components for s in part.sections]
    sections = [net.sections[i] for i in order]
    prepare_kernels((s.kind.kernel for s in sections), on_progress)
    rate_hz = sections[0].setting.rate_hz if sections else 48_000.0
    params: list[Floats] = []
    states: list[Floats] = []
    for section in sections:
        setting = section.setting
        if sounds and section.name in sounds:
            setting = replace(setting, sounds=tuple(sounds[section.name]))
        names = section.kind.expand_params(setting.ways)
        block = np.zeros((1 + len(names), 2))
        block[RATE_HZ, 0] = setting.rate_hz
        block[1:, 0] = [setting.values[p.name] for p in names]
        params.append(block)
        states.append(np.asarray(section.kind.prepare(setting), dtype=np.float64).reshape(-1))
    bus_v = aligned((len(net.rows), COLUMNS))
    for row in net.rows:
        if row.steady_v is not None:
            bus_v[row.index, :] = row.steady_v
    ends = np.cumsum([len(part.sections) for part in components], dtype=np.int64)
    return Schedule(
        net,
        rate_hz,
        bus_v,
        np.array([address(s.kind.kernel) for s in sections], dtype=np.int64),
        ends,
        np.array([part.is_loop for part in components], dtype=np.bool_),
        _flat([s.ins for s in sections]),
        _starts([len(s.ins) for s in sections]),
        _flat([s.outs for s in sections]),
        _starts([len(s.outs) for s in sections]),
        np.concatenate(params) if params else np.zeros((0, 2)),
        _starts([len(p) for p in params]),
        np.concatenate(states) if states else np.zeros(0),
        _starts([len(s) for s in states]),
        {section: i for i, section in enumerate(order)},
    )


def feeding(net: Net, rows: Iterable[int]) -> set[int]:
    """Return the sections that the rows depend on, directly or through others."""
    found: set[int] = set()
    ahead = list(rows)
    while ahead:
        writer = net.rows[ahead.pop()].writer
        if writer is not None and writer not in found:
            found.add(writer)
            ahead.extend(net.sections[writer].ins)
    return found


def _flat(parts: Sequence[Sequence[int]]) -> Ints:
    return np.array([i for part in parts for i in part], dtype=np.int64)


def _starts(lengths: Sequence[int]) -> Ints:
    return np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
