"""The walk through a performer's own module: what is asked, in which order, and what each answer does to the sheet."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from rigproof.checks.base import listed
from rigproof.cli.interview import NOTHING, Interview
from rigproof.cli.problems import unknown
from rigproof.files.sheet_draft import (
    Shape,
    SheetDraft,
    require_id,
    require_text,
    text_of_parts,
    way_of,
)
from rigproof.model.rig import RAILS
from rigproof.model.sheet import Housing, Sheet, Signal
from rigproof.net.kind_facts import Sections, kind_and_ways, require_port, usable_kinds
from rigproof.net.nearest_sheets import nearest_sheets
from rigproof.net.sheet_skeleton import control_table, jack_table, section_names, skeleton
from rigproof.units import parse_quantity, plural

ONE_BY_ONE_UP_TO = 24
"""More jacks or controls than this are taken as they are unless the performer asks to go through them."""
DROP = "drop"
KEEP = "keep"
FIGURES = {"typical": True, "maker": False}
PLACE = re.compile(r"@(?P<x>\d+(?:\.\d+)?),(?P<y>\d+(?:\.\d+)?)")
THRESHOLD = re.compile(r">(?P<volts>[^\s]+)")
RESISTANCE = re.compile(r"\d+(?:\.\d+)?[kM]?ohm")
SPAN = re.compile(r"(?P<lo>[^\s]+?)\.\.(?P<hi>[^\s]+)")
MOST_MORE = 64
"""So many jacks or controls can be added in one walk."""


def start(
    walk: Interview, texts: Mapping[str, str], sheets: Mapping[str, Sheet], *, name: str
) -> SheetDraft:
    """Ask what the module is like and return the draft to go on from: a library sheet's, or one made of kinds."""
    walk.say(
        "Have the manual at hand. Enter takes what stands in brackets; Ctrl-C keeps what you have said so far."
    )
    near: list[str] = []
    if "like" not in walk.given or "purpose" in walk.given:
        walk.say("What does it do? Some words, such as: stereo filter. Or a library sheet's name.")
        purpose = walk.answer("purpose", "purpose", name.replace("-", " "), require_text)
        near = [purpose] if purpose in sheets else nearest_sheets(purpose, sheets)
        for sheet in near:
            walk.say(f"  {sheet}: {sheets[sheet].title}")
        walk.say(
            "Begin from one of these, from another library sheet, or from 'kinds' of sections."
        )

    def read_like(text: str) -> str:
        if text == "kinds" or text in sheets:
            return text
        nearest = unknown("sheet", text, sheets).nearest
        hint = f"; did you mean '{nearest}'?" if nearest else ""
        raise ValueError(f"the name of a library sheet, or 'kinds'{hint}")

    like = walk.answer("like", "like", near[0] if near else "kinds", read_like)
    if like != "kinds":
        return SheetDraft(texts[like])
    return from_kinds(walk, name=name)


def from_kinds(walk: Interview, *, name: str) -> SheetDraft:
    """Ask for the sections and the wires between them."""
    walk.say("Which sections are inside? Kinds with commas between, such as: mixer, vca.")
    kinds = walk.answer("kinds", "kinds", "mixer", read_kinds)
    sections = {section: {"kind": kind} for section, kind in section_names(kinds).items()}

    def read_wires(text: str) -> list[tuple[str, str]]:
        wires = []
        for pair in filter(None, (part.strip() for part in text.split(","))):
            ends = pair.split()
            if len(ends) != 2:
                raise ValueError("pairs such as: mixer.out vca.in, with commas between")
            wires.append((ends[0], ends[1]))
        for source, target in wires:
            require_port(source, sections, is_input=False)
            require_port(target, sections, is_input=True)
        return wires

    wires: list[tuple[str, str]] = []
    if len(sections) > 1:
        walk.say("Which outputs feed which inputs inside? Such as: mixer.out vca.in")
        wires = walk.answer("wires", "wires", NOTHING, read_wires)
    housing = walk.answer("housing", "housing", Housing.MODULE.value, read_housing)
    parts = skeleton(kinds, wires=wires, housing=Housing(housing))
    title = name.replace("-", " ").capitalize()
    return SheetDraft(text_of_parts(title, parts, housing=housing, wires=wires))


def read_kinds(text: str) -> list[str]:
    """Return the kinds that a text names."""
    names = [part.strip() for part in text.split(",") if part.strip()]
    known = usable_kinds()
    for kind in names:
        if kind not in known:
            nearest = unknown("kind", kind, known).nearest
            hint = f"; did you mean '{nearest}'?" if nearest else ""
            raise ValueError(f"section kinds with commas between; there is no '{kind}'{hint}")
    if not names:
        raise ValueError("at least one section kind")
    return names


def read_housing(text: str) -> str:
    """Return a housing."""
    if text not in [h.value for h in Housing]:
        raise ValueError(" or ".join(h.value for h in Housing))
    return text


# --- figures ---------------------------------------------------------------------------------------------------------


def ask_figures(walk: Interview, draft: SheetDraft, *, name: str, is_from_library: bool) -> None:
    """Ask for title, size and current, and whose figures they are."""
    plain = draft.plain
    own = name.replace("-", " ").capitalize()
    draft.set_top("title", walk.answer("title", "title", own, require_text))
    housing = plain.get("housing", Housing.MODULE.value)
    if housing == Housing.MODULE.value:
        hp = walk.answer("hp", "width in HP", str(plain.get("hp", 8)), read_whole(1, 1000))
        if is_from_library and hp != plain.get("hp"):
            walk.say("  Another width: where jacks and knobs sit is left out, to be measured.")
            draft.drop_places()
        draft.set_top("hp", hp)
        depth = walk.answer(
            "depth-mm", "depth in mm", f"{plain.get('depth_mm', 25):g}", read_number(0.0, 2000.0)
        )
        draft.set_top("depth_mm", int(depth) if depth.is_integer() else depth)
        drawn = dict(plain.get("draw_ma", {}))
        draft.set_draw(
            {
                rail: walk.answer(
                    f"draw.{rail}",
                    f"current from {rail} in mA",
                    f"{drawn.get(rail, 0):g}",
                    read_number(0.0, 100_000.0),
                )
                for rail in RAILS
            }
        )

    def read_figures(text: str) -> bool:
        if text not in FIGURES:
            raise ValueError("'maker' if all figures are from the manual, else 'typical'")
        return FIGURES[text]

    draft.set_top(
        "typical", walk.answer("figures", "figures: maker or typical", "typical", read_figures)
    )


def read_whole(lo: int, hi: int) -> Any:
    """Return a reader of whole numbers between two ends."""

    def read(text: str) -> int:
        try:
            value = int(text)
        except ValueError:
            raise ValueError(f"a whole number from {lo} to {hi}") from None
        if not lo <= value <= hi:
            raise ValueError(f"a whole number from {lo} to {hi}")
        return value

    return read


def read_number(lo: float, hi: float) -> Any:
    """Return a reader of numbers between two ends."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            raise ValueError(f"a number from {lo:g} to {hi:g}") from None
        if not lo <= value <= hi:
            raise ValueError(f"a number from {lo:g} to {hi:g}")
        return value

    return read


def ask_summary(walk: Interview, draft: SheetDraft, *, like: str, begun: Shape) -> None:
    """Ask what the module does, once its jacks and controls are known; `begun` is what the draft began with.

    The sentence of the library sheet is offered while it fits: with other jacks or controls it may not be true.
    """
    summary = draft.plain.get("summary", "")
    if summary and draft.shape != begun:
        summary = f"Like the library's {like}, with {shape_words(draft.shape)}."
    said = walk.answer("summary", "what it does, in a sentence", summary, require_text)
    if said:
        draft.set_top("summary", said)


def shape_words(shape: Shape) -> str:
    """Return how many jacks of each sort and controls there are, in words.

    >>> from collections import Counter
    >>> shape_words(Counter({("in", "cv"): 2, ("in", "audio"): 1, "controls": 1}))
    '3 inputs and 1 control'
    """
    counts = {"input": 0, "output": 0, "socket": 0, "control": shape["controls"]}
    sorts = {"in": "input", "out": "output"}
    for key, count in shape.items():
        if isinstance(key, tuple):
            counts[sorts.get(key[0], "socket")] += count
    said = [plural(count, one) for one, count in counts.items() if count]
    return listed(said) if said else "neither jacks nor controls"


# --- jacks and controls ----------------------------------------------------------------------------------------------


def ask_jacks(walk: Interview, draft: SheetDraft) -> None:
    """Go through the jacks: each kept, dropped, renamed, or given its own signal and range; then add more."""
    jacks = draft.group("jacks")
    walk.say(
        f"Jacks. Enter keeps one, '{DROP}' takes it out; or write what is different:"
        " a name, a signal, a range such as -5..5, a place in mm such as @10,114.5,"
        " a resistance such as 470ohm, a threshold such as >1.5V"
    )
    for name in _those_to_ask(walk, "jacks", jacks):
        jack = jacks[name]
        if jack.get("inside") or jack.get("signal") == Signal.LINK.value:
            continue
        text = walk.answer(
            f"jack.{name}", f"  {jack_words(name, jack)}", KEEP, _jack_reader(name, draft)
        )
        apply_jack(draft, name, text)
    _ask_more(walk, draft, "jack", "NAME in|out SIGNAL SECTION.PORT [LOW..HIGH]", new_jack)


def jack_words(name: str, jack: Mapping[str, Any]) -> str:
    """Return a jack in a few words.

    >>> jack_words("in", {"way": "in", "signal": "cv", "range_v": [-5, 5]})
    'in: in, cv, -5..5 V'
    """
    lo, hi = jack.get("range_v", [-5, 5])
    way = way_of(jack)
    volts = f", {lo:g}..{hi:g} V" if Signal(jack["signal"]).is_volts and way != "bare" else ""
    return f"{name}: {way}, {jack['signal']}{volts}"


def _those_to_ask(walk: Interview, what: str, group: Mapping[str, Any]) -> list[str]:
    """Return the names to go through: all, or none where the performer takes them as they are."""

    def read(text: str) -> str:
        if text not in ("each", "all"):
            raise ValueError("'each' to go through them, 'all' to take them as they are")
        return text

    usual = "each" if len(group) <= ONE_BY_ONE_UP_TO else "all"
    answer = walk.answer(what, f"{len(group)} {what}: each or all", usual, read)
    return list(group) if answer == "each" else []


def _ask_more(walk: Interview, draft: SheetDraft, what: str, form: str, read: Any) -> None:
    """Ask for more jacks or controls until there are none; `read` makes name and table of the words of an answer."""
    sections = draft.group("sections")

    def read_words(text: str) -> list[str]:
        words = text.split()
        if words:
            read(words, sections, draft)
        return words

    for number in range(1, MOST_MORE):
        words = walk.answer(f"{what}+{number}", f"  one more: {form}", NOTHING, read_words)
        if not words:
            break
        name, table = read(words, sections, draft)
        draft.add(f"{what}s", name, table)


def _jack_reader(name: str, draft: SheetDraft) -> Any:
    def read(text: str) -> str:
        split_jack(text, name, draft)
        return text

    return read


def split_jack(text: str, name: str, draft: SheetDraft) -> dict[str, Any]:
    """Return what an answer about a jack changes: `name` and keys of its table. Raises `ValueError`."""
    out: dict[str, Any] = {}
    if text in (KEEP, DROP, ""):
        return out
    signals = [s.value for s in Signal if s is not Signal.LINK]
    for word in text.split():
        span = SPAN.fullmatch(word)
        if span is not None:
            out["range_v"] = read_volts(span["lo"], span["hi"])
        elif (found := jack_figure(word)) is not None:
            out |= found
        elif word in signals and word != name:
            out["signal"] = word
        else:
            out["name"] = require_id(word)
            if word != name and word in draft.group("jacks"):
                raise ValueError(f"a name that is not taken: there is a '{word}' already")
    return out


def jack_figure(word: str) -> dict[str, Any] | None:
    """Return the key that a word such as `@10,114.5`, `470ohm` or `>1.5V` stands for; None if it stands for none."""
    threshold = THRESHOLD.fullmatch(word)
    if threshold is not None:
        return {"threshold_v": parse_quantity(threshold["volts"], "V")}
    if RESISTANCE.fullmatch(word) is not None:
        return {"resistance_ohm": parse_quantity(word, "ohm")}
    return place_of(word)


def place_of(word: str) -> dict[str, Any] | None:
    """Return the place that a word stands for; None if it stands for none.

    >>> place_of("@10,114.5"), place_of("10")
    ({'at_mm': [10, 114.5]}, None)
    """
    place = PLACE.fullmatch(word)
    if place is None:
        return None
    spot = [float(place["x"]), float(place["y"])]
    return {"at_mm": [int(mm) if mm.is_integer() else mm for mm in spot]}


def read_volts(lo: str, hi: str) -> list[float]:
    """Return a range of volts, lowest first."""
    ends = [parse_quantity(end, "V") for end in (lo, hi)]
    if ends[0] >= ends[1]:
        raise ValueError("a range from low to high, such as -5..5")
    return [int(end) if end.is_integer() else end for end in ends]


def apply_jack(draft: SheetDraft, name: str, text: str) -> None:
    """Do what an answer about a jack says."""
    if text == DROP:
        draft.drop_jack(name)
        return
    change = split_jack(text, name, draft)
    new = change.pop("name", name)
    if change:
        draft.change("jacks", name, change)
    if new != name:
        draft.change("jacks", name, {"label": new.replace("-", " ")})
        draft.rename("jacks", name, new)


def new_jack(
    words: Sequence[str], sections: Sections, draft: SheetDraft
) -> tuple[str, dict[str, Any]]:
    """Return name and table of a jack such as `cv-2 in cv mixer.in-2 -5..5`. Raises `ValueError`."""
    form = (
        "NAME in|out SIGNAL SECTION.PORT [LOW..HIGH @X,Y ...], such as: cv-2 in cv mix.in-2 -5..5"
    )
    if len(words) < 4 or words[1] not in ("in", "out"):
        raise ValueError(form)
    name = require_id(words[0])
    if name in draft.group("jacks"):
        raise ValueError(f"a name that is not taken: there is a '{name}' already")
    if words[2] not in [s.value for s in Signal if s is not Signal.LINK]:
        raise ValueError("a signal: audio, cv, pitch, gate, trigger, clock or midi")
    is_input = words[1] == "in"
    port = require_port(words[3], sections, is_input=is_input)
    table = dict(jack_table(port, Signal(words[2]), is_input=is_input))
    for word in words[4:]:
        span = SPAN.fullmatch(word)
        figure = jack_figure(word)
        if span is not None:
            table["range_v"] = tuple(read_volts(span["lo"], span["hi"]))
        elif figure is not None:
            table |= figure
        else:
            raise ValueError(form)
    return name, table


def ask_controls(walk: Interview, draft: SheetDraft) -> None:
    """Go through the controls: each kept, dropped, renamed, or given its own range; then add more."""
    controls = draft.group("controls")
    walk.say(
        f"Controls. Enter keeps one, '{DROP}' takes it out; or write what is different:"
        " a name, a range such as 20Hz..20kHz, a place in mm such as @10,20"
    )
    for name in _those_to_ask(walk, "controls", controls):
        control = controls[name]

        def read(text: str, name: str = name, control: Mapping[str, Any] = control) -> str:
            split_control(text, name, control, draft)
            return text

        text = walk.answer(f"control.{name}", f"  {control_words(name, control)}", KEEP, read)
        apply_control(draft, name, control, text)
    _ask_more(walk, draft, "control", "NAME SECTION.PARAMETER [LOW..HIGH]", new_control)


def control_words(name: str, control: Mapping[str, Any]) -> str:
    """Return a control in a few words.

    >>> control_words("rise", {"shape": "knob", "unit": "s", "range": [0.001, 2]})
    'rise: knob, 0.001..2 s'
    """
    shape = control.get("shape", "knob")
    if "choices" in control:
        shown = list(control["choices"])
        more = ", ..." if len(shown) > 4 else ""
        return f"{name}: {shape}, {', '.join(shown[:4])}{more}"
    lo, hi = control.get("range", [0, 1])
    unit = control.get("unit", "ratio")
    return f"{name}: {shape}, {lo}..{hi}{'' if unit == 'ratio' else ' ' + unit}"


def split_control(
    text: str, name: str, control: Mapping[str, Any], draft: SheetDraft
) -> dict[str, Any]:
    """Return what an answer about a control changes: `name` and keys of its table. Raises `ValueError`."""
    out: dict[str, Any] = {}
    if text in (KEEP, DROP, ""):
        return out
    unit = control.get("unit", "ratio")
    for word in text.split():
        span = SPAN.fullmatch(word)
        if span is not None:
            if "choices" in control:
                raise ValueError("a name; what it switches between has no range")
            ends = [parse_quantity(end, unit) for end in (span["lo"], span["hi"])]
            if ends[0] == ends[1]:
                raise ValueError("a range that goes somewhere")
            if control.get("taper") == "log" and min(ends) <= 0.0:
                out["taper"] = "linear"
            out["range"] = [int(end) if end.is_integer() else end for end in ends]
            default = default_within(control.get("default"), unit, ends)
            out["default"] = int(default) if default.is_integer() else default
        elif (found := place_of(word)) is not None:
            out |= found
        else:
            out["name"] = require_id(word)
            if word != name and word in draft.group("controls"):
                raise ValueError(f"a name that is not taken: there is a '{word}' already")
    return out


def default_within(default: Any, unit: str, ends: Sequence[float]) -> float:
    """Return a default held between two ends.

    >>> default_within("2 kHz", "Hz", [20.0, 1000.0])
    1000.0
    """
    value = default if isinstance(default, int | float) else None
    if isinstance(default, str):
        value = parse_quantity(default, unit)
    lo, hi = min(ends), max(ends)
    return float(min(max(value, lo), hi)) if value is not None else float(ends[0])


def apply_control(draft: SheetDraft, name: str, control: Mapping[str, Any], text: str) -> None:
    """Do what an answer about a control says."""
    if text == DROP:
        draft.drop_control(name)
        return
    change = split_control(text, name, control, draft)
    new = change.pop("name", name)
    if change:
        draft.change("controls", name, change)
    if new != name:
        draft.change("controls", name, {"label": new.replace("-", " ")})
        draft.rename("controls", name, new)


def new_control(
    words: Sequence[str], sections: Sections, draft: SheetDraft
) -> tuple[str, dict[str, Any]]:
    """Return name and table of a control such as `rise slew.rise 1ms..2s`. Raises `ValueError`."""
    form = "NAME SECTION.PARAMETER [LOW..HIGH], such as: rise slew.rise 1ms..2s"
    if not 2 <= len(words) <= 3:
        raise ValueError(form)
    name = require_id(words[0])
    if name in draft.group("controls"):
        raise ValueError(f"a name that is not taken: there is a '{name}' already")
    section, _, param = words[1].partition(".")
    if section not in sections:
        raise ValueError(f"section.parameter; the sections are {', '.join(sections)}")
    kind, ways = kind_and_ways(sections[section])
    params = {p.name: p for p in kind.expand_params(ways)}
    if param not in params:
        raise ValueError(f"one of the parameters of '{section}': {', '.join(list(params)[:12])}")
    ends = None
    if len(words) == 3:
        span = SPAN.fullmatch(words[2])
        if span is None or params[param].choices:
            raise ValueError(form)
        unit = params[param].unit
        ends = (parse_quantity(span["lo"], unit), parse_quantity(span["hi"], unit))
    return name, dict(control_table(words[1], params[param], ends=ends))
