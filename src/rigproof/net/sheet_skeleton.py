"""A first sheet made of nothing but section kinds: every open input and output a jack, every parameter a control."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rigproof.kinds import KINDS
from rigproof.kinds.base import Kind, Param, Port
from rigproof.model.sheet import Housing, RawValue, Signal, Taper

Table = dict[str, RawValue | tuple[RawValue, ...]]

LOG_RATIO = 50.0
"""A parameter that spans more than this is turned on a log taper. Common practice, no source."""
SIGNALS: tuple[tuple[Signal, tuple[str, ...]], ...] = (
    # what a port carries -> what its name begins with
    (Signal.PITCH, ("pitch", "transpose")),
    (Signal.CLOCK, ("clock",)),
    (Signal.TRIGGER, ("trigger", "reset", "restart", "sync", "advance", "end", "cycle", "change")),
    (Signal.GATE, ("gate", "run", "inverse", "inside", "above", "below")),
    (Signal.CV, ("cv", "stepped", "smooth", "accent")),
)
"""What a port's name says of its signal. Common practice, no source."""
CV_KINDS = ("lfo", "attenuverter", "slew", "sample-and-hold", "cc-to-cv", "sequential-switch")
"""Kinds whose inputs and outputs are control voltages unless a name says otherwise."""
RANGES_V: Mapping[Signal, tuple[float, float]] = {
    Signal.AUDIO: (-5.0, 5.0),
    Signal.CV: (-5.0, 5.0),
    Signal.PITCH: (-5.0, 5.0),
    Signal.GATE: (0.0, 5.0),
    Signal.TRIGGER: (0.0, 5.0),
    Signal.CLOCK: (0.0, 5.0),
}
"""What a jack of a signal spans where nobody says. Common practice, no source. [V]"""
THRESHOLD_V, MIN_PULSE_MS = 1.5, 1.0
"""Where a pulse input fires, and the shortest pulse it sees, where nobody says. Common practice, no source."""
OUTPUT_OHM = 1000.0
"""Common practice, no source. [ohm]"""


def guess_signal(port: Port, kind: Kind) -> Signal:
    """Return what a port most likely carries."""
    if port.is_midi:
        return Signal.MIDI
    for signal, beginnings in SIGNALS:
        if any(port.name == b or port.name.startswith(f"{b}-") for b in beginnings):
            return signal
    return Signal.CV if port.is_control or kind.name in CV_KINDS else Signal.AUDIO


def jack_table(
    target: str,
    signal: Signal,
    *,
    is_input: bool,
    range_v: tuple[float, float] | None = None,
    is_program: bool = False,
) -> Table:
    """Return a jack as a sheet writes it, with usual figures for its signal."""
    table: Table = {"way": "in" if is_input else "out", "signal": signal.value}
    if signal is Signal.MIDI and not is_program:
        table["plug"] = "midi-trs-a"
    table["to" if is_input else "from"] = target
    if signal.is_volts:
        table["range_v"] = range_v if range_v is not None else RANGES_V[signal]
        if signal.is_pulses and is_input:
            table["threshold_v"] = THRESHOLD_V
            table["min_pulse_ms"] = MIN_PULSE_MS
        if not is_input and not is_program:
            table["resistance_ohm"] = OUTPUT_OHM
    return table


def control_table(
    target: str, param: Param, *, ends: tuple[RawValue, RawValue] | None = None
) -> Table:
    """Return a control that sets a parameter over its whole range, or between two ends."""
    if param.choices:
        return {
            "shape": "switch",
            "unit": param.unit,
            "choices": param.choices,
            "default": param.choices[round(param.default)],
            "sets": target,
        }
    lo, hi = ends if ends is not None else (param.lo, param.hi)
    table: Table = {"shape": "knob", "unit": param.unit, "range": (lo, hi)}
    if ends is None:
        table["default"] = param.default
        if lo > 0.0 and hi / lo >= LOG_RATIO:  # type: ignore[operator]
            table["taper"] = Taper.LOG.value
    table["sets"] = target
    return table


def section_names(kinds: Sequence[str]) -> dict[str, str]:
    """Return a section name for every kind: `vca`, or `vca-1` and `vca-2` where there are several.

    >>> section_names(["vca", "lfo", "vca"])
    {'vca-1': 'vca', 'lfo': 'lfo', 'vca-2': 'vca'}
    """
    seen: dict[str, int] = {}
    names: dict[str, str] = {}
    for kind in kinds:
        seen[kind] = seen.get(kind, 0) + 1
        names[f"{kind}-{seen[kind]}" if kinds.count(kind) > 1 else kind] = kind
    return names


def skeleton(
    kinds: Sequence[str],
    *,
    wires: Sequence[tuple[str, str]] = (),
    housing: Housing = Housing.MODULE,
) -> dict[str, dict[str, Table]]:
    """Return the `jacks`, `controls` and `sections` of a sheet of these kinds, joined by these wires.

    The kinds are usable ones of `KINDS`.
    """
    sections = section_names(kinds)
    joined = {end for wire in wires for end in wire}
    ports = [
        (name, port, KINDS[kind], is_input)
        for name, kind in sections.items()
        for is_input in (True, False)
        for port in _ports(KINDS[kind], is_input=is_input)
        if f"{name}.{port.name}" not in joined
    ]
    names = [port.name for _, port, _, _ in ports]
    jacks = {
        port.name if names.count(port.name) == 1 else _jack_name(name, port, ports, is_input): (
            jack_table(
                f"{name}.{port.name}",
                guess_signal(port, kind),
                is_input=is_input,
                is_program=housing is Housing.PROGRAM,
            )
        )
        for name, port, kind, is_input in ports
    }
    params = [
        (name, param)
        for name, kind in sections.items()
        for param in KINDS[kind].expand_params(_ways(KINDS[kind]))
        if not param.from_tempo
    ]
    param_names = [param.name for _, param in params]
    controls = {
        param.name if param_names.count(param.name) == 1 else f"{name}-{param.name}": control_table(
            f"{name}.{param.name}", param
        )
        for name, param in params
    }
    return {
        "jacks": jacks,
        "controls": controls,
        "sections": {name: {"kind": kind} for name, kind in sections.items()},
    }


def _ways(kind: Kind) -> int:
    return kind.ways[2] if kind.ways else 1


def _ports(kind: Kind, *, is_input: bool) -> tuple[Port, ...]:
    ways = _ways(kind)
    return kind.expand_inputs(ways) if is_input else kind.expand_outputs(ways)


def _jack_name(
    section: str, port: Port, ports: Sequence[tuple[str, Port, Kind, bool]], is_input: bool
) -> str:
    """Return a name for a port whose own is taken: by its section, and by its way where that is taken too."""
    both = [i for name, other, _, i in ports if (name, other.name) == (section, port.name)]
    name = f"{section}-{port.name}"
    return f"{name}-{'in' if is_input else 'out'}" if len(both) > 1 else name
