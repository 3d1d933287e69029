"""The same patch run by plain Python, one sample at a time: slow, simple, and independent of the compiled loop."""

import numpy as np
from numpy.typing import NDArray

from rigproof.kinds.base import COLUMNS, LEAD
from rigproof.net.graph import Net


def run_plain(net: Net, samples: int, rows: list[int]) -> NDArray[np.float64]:
    """Run every section sample by sample in the net's order and return what the rows hold: [rows, samples]."""
    bus_v = np.zeros((len(net.rows), COLUMNS))
    for row in net.rows:
        if row.steady_v is not None:
            bus_v[row.index, :] = row.steady_v
    order = [net.sections[i] for part in net.components for i in part.sections]
    params, states = [], []
    for section in order:
        setting = section.setting
        names = section.kind.expand_params(setting.ways)
        block = np.zeros((1 + len(names), 2))
        block[0, 0] = setting.rate_hz
        block[1:, 0] = [setting.values[p.name] for p in names]
        params.append(block)
        states.append(
            np.asarray(section.kind.prepare(setting), dtype=np.float64).reshape(-1).copy()
        )
    seen = np.zeros((len(rows), samples))
    for t in range(samples):
        bus_v[:, LEAD - 1] = bus_v[:, LEAD]
        for section, block, state in zip(order, params, states, strict=True):
            ins, outs = (
                np.array(section.ins, dtype=np.int64),
                np.array(section.outs, dtype=np.int64),
            )
            section.kind.kernel(bus_v, ins, outs, block, state, LEAD, LEAD + 1)
        seen[:, t] = bus_v[rows, LEAD]
    return seen
