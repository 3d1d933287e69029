"""The one compiled loop that runs every patch: blocks of 64 samples, loops of cables sample by sample."""

from __future__ import annotations

from typing import Any

import numba
from llvmlite import ir
from numba import types as nt
from numba.extending import intrinsic

from rigproof.engine.compile import BUS, INDEX, PARAMS, STATE
from rigproof.kinds.base import BLOCK, COLUMNS, LEAD


def _call(
    typing_context: Any,
    address: Any,
    bus: Any,
    ins: Any,
    outs: Any,
    params: Any,
    state: Any,
    start: Any,
    stop: Any,
) -> Any:
    """Call a kernel by its address, with its arrays as they are."""
    signature = nt.void(nt.intp, BUS, INDEX, INDEX, PARAMS, STATE, nt.int64, nt.int64)

    def codegen(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        kinds = [context.get_value_type(t) for t in signature.args[1:]]
        function = ir.FunctionType(ir.IntType(8).as_pointer(), kinds)
        builder.call(builder.inttoptr(args[0], function.as_pointer()), args[1:])
        return context.get_dummy_value()

    return signature, codegen


call_kernel: Any = intrinsic(_call)


@numba.njit(cache=True, error_model="numpy")
def run_blocks(
    blocks: int,
    first_block: int,
    bus_v: Any,
    addresses: Any,
    part_ends: Any,
    part_loops: Any,
    ins: Any,
    ins_from: Any,
    outs: Any,
    outs_from: Any,
    params: Any,
    params_from: Any,
    state: Any,
    state_from: Any,
    event_block: Any,
    event_row: Any,
    event_value: Any,
    event_step: Any,
    next_event: int,
    gliding: Any,
    probe_rows: Any,
    probed_v: Any,
    lows_v: Any,
    highs_v: Any,
) -> int:
    """Run so many blocks; return the number of the next event.

    Sections stand in running order; `part_ends` ends each component and `part_loops` says which are loops. Events set
    a parameter (value at column 0 of the block, change a sample) and stand in order of block. `gliding` holds the
    parameters that move: their rows. `probed_v` float64[probes, blocks * 64] takes what the probed rows hold; `lows_v`
    and `highs_v`, when as long as the bus has rows, take the lowest and highest voltage of every row.
    """
    parts = part_ends.shape[0]
    for block in range(blocks):
        now = first_block + block
        for i in range(gliding.shape[0]):
            row = gliding[i]
            params[row, 0] += BLOCK * params[row, 1]
        while next_event < event_block.shape[0] and event_block[next_event] <= now:
            row = event_row[next_event]
            params[row, 0] = event_value[next_event]
            params[row, 1] = event_step[next_event]
            next_event += 1
        for row in range(bus_v.shape[0]):
            bus_v[row, LEAD - 1] = bus_v[row, COLUMNS - 1]
        first = 0
        for part in range(parts):
            last = part_ends[part]
            if part_loops[part]:
                for n in range(LEAD, COLUMNS):
                    for s in range(first, last):
                        call_kernel(
                            addresses[s],
                            bus_v,
                            ins[ins_from[s] : ins_from[s + 1]],
                            outs[outs_from[s] : outs_from[s + 1]],
                            params[params_from[s] : params_from[s + 1]],
                            state[state_from[s] : state_from[s + 1]],
                            n,
                            n + 1,
                        )
            else:
                for s in range(first, last):
                    call_kernel(
                        addresses[s],
                        bus_v,
                        ins[ins_from[s] : ins_from[s + 1]],
                        outs[outs_from[s] : outs_from[s + 1]],
                        params[params_from[s] : params_from[s + 1]],
                        state[state_from[s] : state_from[s + 1]],
                        LEAD,
                        COLUMNS,
                    )
            first = last
        at = block * BLOCK
        for p in range(probe_rows.shape[0]):
            for n in range(BLOCK):
                probed_v[p, at + n] = bus_v[probe_rows[p], LEAD + n]
        if lows_v.shape[0] == bus_v.shape[0]:
            for row in range(bus_v.shape[0]):
                low = lows_v[row]
                high = highs_v[row]
                for n in range(LEAD, COLUMNS):
                    value = bus_v[row, n]
                    low = min(low, value)
                    high = max(high, value)
                lows_v[row] = low
                highs_v[row] = high
    return next_event
