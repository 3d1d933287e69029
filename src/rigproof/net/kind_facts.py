"""Section kinds as a sheet names them: which there are, what they are made of, and whether a section has a port."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rigproof.kinds import KINDS
from rigproof.kinds.base import Kind, Port


def usable_kinds() -> list[str]:
    """Return the kinds a sheet can name."""
    return sorted(name for name, kind in KINDS.items() if not kind.is_internal)


def kind_data(kind: Kind) -> dict[str, object]:
    """Return a section kind for programs."""
    return {
        "kind": kind.name,
        "doc": kind.doc.strip(),
        "inputs": [_port(p) for p in kind.inputs],
        "outputs": [_port(p) for p in kind.outputs],
        "params": [
            {
                "name": p.name,
                "unit": p.unit,
                "lo": p.lo,
                "hi": p.hi,
                "default": p.default,
                "choices": p.choices,
                "is_many": p.many,
                "doc": p.doc,
            }
            for p in kind.params
        ],
        "options": [{"name": o.name, "default": o.default, "doc": o.doc} for o in kind.options],
        "ways": None
        if kind.ways is None
        else dict(zip(("least", "most", "usual"), kind.ways, strict=True)),
    }


def _port(port: Port) -> dict[str, object]:
    return {
        "name": port.name,
        "doc": port.doc,
        "is_midi": port.is_midi,
        "is_many": port.many,
        "rest_v": port.rest_v,
    }


def first_sentence(doc: str) -> str:
    """Return what a kind's docstring says first, without its title.

    >>> first_sentence("Slew: rounds off steps. And more.")
    'rounds off steps.'
    """
    line = doc.strip().split("\n\n")[0].replace("\n", " ")
    line = line.partition(": ")[2] or line
    return line.partition(". ")[0].rstrip(".") + "."


Sections = Mapping[str, Mapping[str, Any]]
"""The sections of a draft, as its file writes them."""


def kind_and_ways(section: Mapping[str, Any]) -> tuple[Kind, int]:
    """Return the kind of a section and how many ways it has."""
    kind = KINDS[section["kind"]]
    return kind, section.get("ways", kind.ways[2] if kind.ways else 1)


def require_port(port: str, sections: Sections, *, is_input: bool) -> str:
    """Return `section.port` when a section of the draft has it; raises `ValueError` with those it has."""
    section, _, name = port.partition(".")
    if section not in sections:
        raise ValueError(f"section.port; the sections are {', '.join(sections)}")
    kind, ways = kind_and_ways(sections[section])
    ports = [p.name for p in (kind.expand_inputs if is_input else kind.expand_outputs)(ways)]
    if name not in ports:
        what = "inputs" if is_input else "outputs"
        raise ValueError(f"one of the {what} of '{section}': {', '.join(ports[:12]) or 'none'}")
    return port
