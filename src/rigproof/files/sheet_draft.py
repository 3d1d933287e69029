"""A module sheet being described: a library sheet's text, or one made of kinds, changed piece by piece.

Comments and order of the text stay. What a change makes meaningless goes with it: a normal to a jack that is gone, a
place on a panel that is another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from rigproof.files.edit import Edits
from rigproof.files.values import Wrong, read_id, read_text

GROUPS = ("jacks", "controls", "sections")

Shape: TypeAlias = Counter[tuple[str, str] | str]
"""How many jacks of each way and signal there are, and how many `controls`."""


def toml_value(value: Any) -> str:
    """Return a value as TOML writes it on one line.

    >>> toml_value({"to": "a.in", "range_v": (0.0, 5.0), "needed": True})
    '{ to = "a.in", range_v = [0, 5], needed = true }'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(int(value)) if float(value).is_integer() else repr(float(value))
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, Mapping):
        pairs = ", ".join(f"{key} = {toml_value(v)}" for key, v in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    return "[" + ", ".join(toml_value(v) for v in value) + "]"


def text_of_parts(
    title: str,
    parts: Mapping[str, Mapping[str, Any]],
    *,
    housing: str,
    wires: Sequence[tuple[str, str]] = (),
) -> str:
    """Return the text of a sheet made of its jacks, controls and sections, with comments that say what goes where."""
    lines = [
        "# Described from the maker's manual. A figure that is not from there is typical and no maker's.",
        "format = 1",
        f"title = {toml_value(title)}",
        f"housing = {toml_value(housing)}",
    ]
    if wires:
        lines += ["# From section outputs to section inputs, inside.", "wires = ["]
        lines += [f"  {toml_value(wire)}," for wire in wires] + ["]"]
    heads = {
        "jacks": "# at_mm = [x, y] says where each sits, from the panel's left and top edge.",
        "controls": "# What each knob sets, and how far it goes.",
        "sections": "# What is inside; `rigproof kinds NAME` tells of a kind.",
    }
    for group in GROUPS:
        lines += ["", heads[group], f"[{group}]"]
        lines += [f"{name} = {toml_value(table)}" for name, table in parts[group].items()]
    return "\n".join(lines) + "\n"


class SheetDraft:
    """One sheet being described. `text` is what comes out."""

    def __init__(self, text: str) -> None:
        self.edits = Edits(text)

    @property
    def text(self) -> str:
        """The text as it stands now."""
        return self.edits.text

    @property
    def plain(self) -> Mapping[str, Any]:
        """The tables as they stand now."""
        plain: Mapping[str, Any] = self.edits.plain
        return plain

    def group(self, name: str) -> dict[str, dict[str, Any]]:
        """Return the jacks, controls or sections as they stand now."""
        return dict(self.plain.get(name, {}))

    @property
    def shape(self) -> Shape:
        """What there is on the panel, by sort and not by name."""
        found: Shape = Counter(
            (way_of(jack), str(jack.get("signal", ""))) for jack in self.group("jacks").values()
        )
        found["controls"] = len(self.group("controls"))
        return found

    def set_top(self, key: str, value: Any) -> None:
        """Write a key of the top of the file."""
        self.edits.set_value((key,), value)

    def set_draw(self, draw_ma: Mapping[str, float]) -> None:
        """Write the current of each rail; a rail of 0 is left out. What is said beside one that stays, stays."""
        for rail in list(self.plain.get("draw_ma", {})):
            if not draw_ma.get(rail):
                self.edits.remove(("draw_ma", rail))
        for rail, value in draw_ma.items():
            path = ("draw_ma", rail)
            if value and self.edits.get(path) != value:
                self.edits.set_value(path, _whole_if_it_is(value))

    def change(self, group: str, name: str, values: Mapping[str, Any]) -> None:
        """Write keys of a jack or control; None takes a key out."""
        for key, value in values.items():
            if value is not None:
                self.edits.set_value((group, name, key), value)
            elif key in self.plain[group][name]:
                self.edits.remove((group, name, key))

    def add(self, group: str, name: str, table: Mapping[str, Any]) -> None:
        """Put a jack or control at the end of its table.

        Raises `ValueError` when the name is no id or is taken.
        """
        require_id(name)
        if name in self.group(group):
            raise ValueError(f"a name that is not taken: there is a '{name}' already")
        self.edits.set_value((group, name), _plain(table))

    def rename(self, group: str, old: str, new: str) -> None:
        """Call a jack or control something else; what refers to it follows.

        Raises `ValueError` when the name is no id or is taken.
        """
        self.add(group, new, self.group(group)[old])
        self.edits.remove((group, old))
        if group == "jacks":
            self._refer(old, new)

    def drop_jack(self, name: str) -> None:
        """Take out a jack, and every normal to it and joint with it."""
        self.edits.remove(("jacks", name))
        self._refer(name, None)

    def drop_control(self, name: str) -> None:
        """Take out a control; where it stood by default is written into the sections it set, so that nothing moves."""
        control = self.group("controls")[name]
        self.edits.remove(("controls", name))
        sets = control.get("sets", [])
        for target in [sets] if isinstance(sets, str) else sets:
            section, _, param = target.partition(".")
            held = self.group("sections").get(section, {})
            if "default" in control and param not in held:
                self.edits.set_value(("sections", section, param), control["default"])

    def drop_places(self) -> None:
        """Take out where everything sits: the panel is another."""
        for group in ("jacks", "controls"):
            for name, table in self.group(group).items():
                if "at_mm" in table:
                    self.edits.remove((group, name, "at_mm"))

    def _refer(self, old: str, new: str | None) -> None:
        for name, jack in self.group("jacks").items():
            if jack.get("normal") == old:
                self.change("jacks", name, {"normal": new})
            joins = jack.get("joins", [])
            joins = [joins] if isinstance(joins, str) else joins
            if old in joins:
                left = [new if j == old else j for j in joins if new is not None or j != old]
                self.change("jacks", name, {"joins": left})


def way_of(jack: Mapping[str, Any]) -> str:
    """Return which way a jack goes: `in`, `out`, or `bare` where the jacks it is joined to say it."""
    return str(jack.get("way") or ("in" if "to" in jack else "out" if "from" in jack else "bare"))


def _whole_if_it_is(value: float) -> float | int:
    return int(value) if float(value).is_integer() else value


def _plain(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table of what TOML knows: lists for tuples, whole numbers where they are whole."""
    out: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, tuple | list):
            out[key] = [_whole_if_it_is(v) if isinstance(v, float) else v for v in value]
        else:
            out[key] = _whole_if_it_is(value) if isinstance(value, float) else value
    return out


def with_head(text: str, words: str) -> str:
    r"""Return a sheet's text with its first comment, which says whose figures it holds, said anew.

    >>> with_head("# Figures are typical.\nformat = 1", "Mine.")
    '# Mine.\nformat = 1'
    """
    first, newline, rest = text.partition("\n")
    return f"# {words}\n{rest}" if first.startswith("#") else f"# {words}\n{first}{newline}{rest}"


def require_id(raw: str) -> str:
    """Return an id. Raises `ValueError` with what was expected when it is none."""
    try:
        return read_id(raw)
    except Wrong as wrong:
        raise ValueError(wrong.expected) from None


def require_text(raw: str) -> str:
    """Return a text that may stand in a file. Raises `ValueError` with what was expected when it may not."""
    try:
        return read_text(raw)
    except Wrong as wrong:
        raise ValueError(wrong.expected) from None
