"""Tour: a walk through the patch in plain language, voice by voice, for a talk or a handout.

Every sentence is read off the net: what fires a voice, where its notes come from, what it runs through, what opens it,
and which hand moves what. What is beyond the net, such as what it means, is the performer's to add.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from rigproof.kinds.base import Beat, Pulse
from rigproof.model.sheet import Way
from rigproof.net.graph import Contact, Net, NetSection
from rigproof.readings.messages import Message, listeners_reached, message_of, senders
from rigproof.readings.paths import Along
from rigproof.readings.proof import Readings
from rigproof.readings.reach import backward, forward
from rigproof.readings.walk import input_names

FILES = "files"
"""The option that holds a bank of samples."""
FIRING = ("gate", "trigger", "trig", "clock")
"""Input ports at which something begins."""
MOVED = {
    # beginning of a port's or parameter's name -> what a listener notices
    "cutoff": "brightness",
    "feedback": "how long the echo rings",
    "time": "time",
    "pitch": "pitch",
    "probability": "how often it plays",
    "fill": "how many hits",
    "level": "loudness",
    "gain": "loudness",
    "cv": "loudness",
    "width": "colour",
    "resonance": "resonance",
    "select": "which sample",
    "mix": "how much of the effect",
}
LOUDNESS = "loudness"
GAINS = ("attenuverter", "mixer", "slew", "buffer")
"""Kinds that pass a control voltage on, larger or smaller or later."""
DEEPEST = 64
"""A control voltage is followed through no more sections than this."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of the tour: a heading, and what is said there."""

    heading: str
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tour:
    """The whole walk."""

    title: str
    stops: tuple[Stop, ...]


@dataclass(frozen=True, slots=True)
class Voice:
    """Something that sounds by itself, and the sections that its sound runs through, in order."""

    name: str
    sources: tuple[NetSection, ...]
    way: tuple[NetSection, ...]


@dataclass(frozen=True, slots=True)
class Touch:
    """A control moves something on the way of one or several voices."""

    control: str
    section: NetSection
    port: str
    is_direct: bool = True
    """No sequencer or envelope stands between."""


def voices(readings: Readings) -> tuple[Voice, ...]:
    """Return what sounds and is heard, in the order of the net; sections of one module are one voice unless each
    plays samples of its own.
    """
    net, paths = readings.net, readings.paths
    to_ears = backward(paths, paths.ear_rows(), along=Along.SIGNAL)
    groups: dict[str, list[NetSection]] = {}
    for section in net.sections:
        if section.kind.is_internal or section.kind.is_ear or section.index not in to_ears.sections:
            continue
        if any(hop.is_signal for hop in paths.hops(section.index)):
            continue
        if any(not net.rows[row].is_midi and row in to_ears.rows for row in section.outs):
            key = section.name if section.setting.options.get(FILES) else section.module
            groups.setdefault(key, []).append(section)
    found = []
    for name, sources in groups.items():
        rows = [row for s in sources for row in s.outs]
        passed = forward(paths, rows, along=Along.SIGNAL).rows & to_ears.rows
        own = {s.index for s in sources}
        reached = {w for r in passed if (w := net.rows[r].writer) is not None} - own
        way = [
            net.sections[i]
            for i in sorted(reached, key=lambda i: paths.place[i])
            if not net.sections[i].kind.is_internal
        ]
        found.append(Voice(_name_of(name, sources[0]), tuple(sources), tuple(way)))
    return tuple(found)


def _name_of(name: str, section: NetSection) -> str:
    """Return what a voice is called: as its samples are, where all their names begin with one word."""
    words = {stem.partition("-")[0] for stem in _stems(section)}
    return words.pop() if len(words) == 1 else name


def _stems(section: NetSection) -> list[str]:
    """Return the names of a section's samples, without folder and ending."""
    files = section.setting.options.get(FILES)
    return [PurePosixPath(str(f)).stem for f in files] if isinstance(files, tuple) else []


def tour(readings: Readings) -> Tour:
    """Return the tour of a patch."""
    project = readings.net.project
    found = voices(readings)
    stops = [_opening(readings, found), *_time(readings)]
    touches = list(_touches(readings, found))
    stops += [_voice_stop(readings, voice, found, touches) for voice in found]
    stops += [*_shared(readings, found, touches), *_set(readings)]
    return Tour(
        project.setlist.name if project.setlist is not None else project.patch.name, tuple(stops)
    )


# --- where things come from ------------------------------------------------------------------------------------------


def title_of(net: Net, module: str) -> str:
    """Return a module with what it is, as in `ladder (Ladder filter)`."""
    title = net.project.sheets[net.project.rig.sheet_names[module]].title
    return f"{module} ({title})" if title else module


def _feeding(net: Net, row: int) -> Contact | None:
    """Return the output jack that feeds a row; None for wires inside and several outputs."""
    for contact in net.contacts.values():
        if contact.jack.way is Way.IN and contact.row == row and contact.node is not None:
            outputs = net.nodes[contact.node].outputs
            return net.contacts[outputs[0]] if len(outputs) == 1 else None
    return None


def _pulse_words(pulse: Pulse) -> str:
    rate = pulse.per_quarter
    if pulse.beat is Beat.NONE:
        return "silent as the patch starts"
    if pulse.beat not in (Beat.STEADY, Beat.PATTERN) or not rate:
        return "in its own time"
    if rate.denominator == 1:
        words = "once a beat" if rate == 1 else f"{rate} times a beat"
    elif rate.numerator == 1:
        words = f"once in {rate.denominator} beats"
    else:
        words = f"{rate.numerator} times in {rate.denominator} beats"
    return words + (f", {100 * pulse.chance:.0f} % of them" if pulse.chance < 1.0 else "")


def _opening(readings: Readings, found: Sequence[Voice]) -> Stop:
    net = readings.net
    rig, patch = net.project.rig, net.project.patch
    whole = readings.timeline
    size = f"{_count(len(rig.modules), 'module')} and {_count(len(patch.cables), 'cable')}"
    says = [
        f"{rig.name}: {size}, at {_tempo(readings):g} beats a minute.",
        (
            f"{_count(len(found), 'voice')} can be heard: {_listed([v.name for v in found])}."
            if found
            else "Nothing can be heard: no sound reaches the way out."
        ),
    ]
    if whole.passages:
        says.append(
            f"The set lasts {_minutes(whole.length_s)}, in {_count(len(whole.passages), 'section')}."
        )
    return Stop("What stands here", tuple(says))


def _time(readings: Readings) -> Iterator[Stop]:
    net = readings.net
    says = []
    for section in net.sections:
        if section.kind.name != "clock":
            continue
        outs = [
            f"{c.name} ({_pulse_words(readings.pulses[c.source_row])})"
            for c in net.contacts.values()
            if c.source_row is not None
            and c.source_row in section.outs
            and c.is_plugged
            and readings.pulses[c.source_row].beat is not Beat.NONE
        ]
        if outs:
            says.append(f"{title_of(net, section.module)} beats for all: {_listed(outs)}.")
    stepped: dict[tuple[str, str], list[str]] = {}
    for section in net.sections:
        if section.kind.is_internal or "clock" not in _port_names(section) or not section.outs:
            continue
        source = _feeding(net, section.input_row("clock"))
        if source is not None:
            stepped.setdefault((source.name, section.module), []).extend(
                f"{c.name} ({_pulse_words(readings.pulses[c.source_row])})"
                for c in net.contacts.values()
                if c.source_row is not None
                and c.source_row in section.outs
                and c.is_plugged
                and c.jack.signal.is_pulses
            )
    says += [
        f"{source_name} steps {title_of(net, module)}, which gives {_listed(outs)}."
        for (source_name, module), outs in stepped.items()
        if outs
    ]
    bars = readings.cycle.bars
    if bars is not None:
        says.append(f"All patterns together come round after {_count_of(float(bars), 'bar')}.")
    if says:
        yield Stop("Time", tuple(says))


# --- a voice ---------------------------------------------------------------------------------------------------------


def _voice_stop(
    readings: Readings, voice: Voice, all_voices: Sequence[Voice], touches: Sequence[Touch]
) -> Stop:
    net = readings.net
    says = [*_source_words(readings, voice), _way_words(net, voice)]
    shared = _shared_sections(all_voices)
    for section in voice.way:
        if section.index in shared:
            continue
        opener = _opener(readings, section)
        if opener is not None:
            says.append(opener)
    own = {s.index for s in (*voice.way, *voice.sources)} - shared
    says += _touched(readings, [voice], [t for t in touches if t.section.index in own])
    return Stop(f"Voice: {voice.name}", tuple(dict.fromkeys(says)))


def _source_words(readings: Readings, voice: Voice) -> Iterator[str]:
    net, first = readings.net, voice.sources[0]
    stems, what = _stems(first), title_of(net, first.module)
    if stems:
        bank = "one sample" if len(stems) == 1 else f"{len(stems)} samples to choose from"
        yield f"It is {first.name.partition('.')[2]} of {what}, with {bank}: {_listed(stems)}."
    elif len(voice.sources) > 1:
        yield f"It comes from {what}: {_count(len(voice.sources), first.kind.name)} together."
    else:
        yield f"It comes from {what}."
    said = set()
    for section in voice.sources:
        names = input_names(section.kind, section.setting.ways)
        for name, row in zip(names, section.ins, strict=True):
            source = _feeding(net, row)
            if source is None or (source.name, name) in said:
                continue
            said.add((source.name, name))
            if name.startswith(FIRING):
                yield f"{source.name} sets it off, {_pulse_words(readings.pulses[row])}."
            elif name.startswith("pitch"):
                yield f"Its notes come from {source.name}."
            elif name.startswith("select"):
                yield f"{source.name} chooses which sample."


def _way_words(net: Net, voice: Voice) -> str:
    modules = [
        m
        for m in dict.fromkeys(s.module for s in voice.way)
        if m != voice.sources[0].module or len(voice.way) == 1
    ]
    if not modules:
        return "Nothing takes it any further."
    return f"From there it runs through {_then([title_of(net, m) for m in modules])}."


def _opener(readings: Readings, section: NetSection) -> str | None:
    """Return what opens an amplifier or moves a filter, when an envelope or another voltage does."""
    net = readings.net
    if section.kind.name != "vca":
        return None
    source = _feeding(net, section.input_row("cv"))
    if source is None or source.source_row is None:
        return None
    writer = net.rows[source.source_row].writer
    maker = None if writer is None else net.sections[writer]
    if maker is None or message_of(maker) is not None:
        return None  # a hand does, which is told there
    fired = _feeding(net, maker.input_row("gate")) if "gate" in _port_names(maker) else None
    by = f", set off by {fired.name}" if fired is not None else ""
    return f"{source.name} opens {section.name}{by}."


def _port_names(section: NetSection) -> Sequence[str]:
    return input_names(section.kind, section.setting.ways)


# --- hands -----------------------------------------------------------------------------------------------------------


def _touches(readings: Readings, found: Sequence[Voice]) -> Iterator[Touch]:
    """Yield what the mapped controls, and those that the set moves, move first on the way of any voice."""
    net, setlist = readings.net, readings.net.project.setlist
    on_way = {s.index for v in found for s in (*v.way, *v.sources)}
    moved = [m.control for p in setlist.sections for m in p.moves] if setlist is not None else []
    mapped = {link.control: Message(link.cc, link.channel) for link in net.project.patch.maps}
    for control in dict.fromkeys((*mapped, *moved)):
        if control in mapped:
            message = mapped[control]
            sending = [s for s in senders(net, control) if message_of(s) == message]
            starts = [row for s in listeners_reached(net, sending, message) for row in s.outs]
            yield from _first_on(net, control, starts, "", on_way)
            continue
        for ref in net.controls.get(control, ()):
            section = net.sections[ref.section]
            if section.index in on_way:
                yield Touch(control, section, ref.name)
            else:
                yield from _first_on(net, control, section.outs, ref.name, on_way)


def _first_on(
    net: Net, control: str, rows: Iterable[int], name: str, on_way: set[int]
) -> list[Touch]:
    """Return the first sections of `on_way` that control rows lead to.

    What is moved there is the input that it takes; or what it takes first of all that is more than a gain: whoever
    moves a sequencer's chance moves how often something plays. `name` is what has been moved already, if anything.
    """
    todo, seen = [(row, name, 0) for row in rows], set(rows)
    found: dict[tuple[int, str], Touch] = {}
    while todo:
        row, moved, depth = todo.pop(0)
        for index, position in net.readers.get(row, ()):
            section = net.sections[index]
            port = input_names(section.kind, section.setting.ways)[position]
            if index in on_way:
                touch = Touch(control, section, moved or port, is_direct=not moved)
                found.setdefault((index, touch.port), touch)
            elif depth < DEEPEST:
                is_gain = section.kind.is_internal or section.kind.name in GAINS
                fresh = [out for out in section.outs if out not in seen]
                seen.update(fresh)
                todo += [(out, moved if is_gain else moved or port, depth + 1) for out in fresh]
    return list(found.values())


def _touched(
    readings: Readings, voices_: Sequence[Voice], touches: Iterable[Touch]
) -> Iterator[str]:
    """Yield what each control does, its places together."""
    places: dict[tuple[str, str], dict[int, NetSection]] = {}
    for touch in touches:
        what = next((w for start, w in MOVED.items() if touch.port.startswith(start)), touch.port)
        places.setdefault((touch.control, what), {})[touch.section.index] = touch.section
    for (control, what), sections in places.items():
        onward = _side_way(readings, voices_, sections) if what == LOUDNESS else None
        done = what if onward is None else f"how much goes on to {onward}"
        names = [section.name for section in sections.values()]
        yield f"{control} under the hand: {done}, at {_listed(names)}."


def _side_way(
    readings: Readings, voices_: Sequence[Voice], amplifiers: Mapping[int, NetSection]
) -> str | None:
    """Return the module that amplifiers lead to when their voice is heard without them too; None when it is not."""
    paths = readings.paths
    for voice in voices_:
        if not set(amplifiers) & {s.index for s in voice.way}:
            continue
        todo = [row for s in voice.sources for row in s.outs]
        seen = set(todo)
        while todo:
            for hop in paths.onward(todo.pop(), along=Along.SIGNAL):
                if hop.target_row not in seen and hop.section not in amplifiers:
                    seen.add(hop.target_row)
                    todo.append(hop.target_row)
        if not seen & set(paths.ear_rows()):
            return None
        rows = [row for s in amplifiers.values() for row in s.outs]
        modules = {s.module for s in amplifiers.values()}
        onward = forward(paths, rows, along=Along.SIGNAL).rows
        after = [s for s in voice.way if set(s.outs) & onward and s.module not in modules]
        return after[0].module if after else None
    return None


def _shared_sections(found: Sequence[Voice]) -> set[int]:
    """Return the sections that more than one voice runs through."""
    seen: set[int] = set()
    twice: set[int] = set()
    for voice in found:
        here = {s.index for s in voice.way}
        twice |= seen & here
        seen |= here
    return twice


def _shared(readings: Readings, found: Sequence[Voice], touches: Sequence[Touch]) -> Iterator[Stop]:
    net = readings.net
    shared = _shared_sections(found)
    order = [net.sections[i] for i in sorted(shared, key=lambda i: readings.paths.place[i])]
    says = []
    for module in dict.fromkeys(s.module for s in order):
        through = [v.name for v in found if any(s.module == module for s in v.way)]
        who = "everything" if len(through) == len(found) else _listed(through)
        says.append(f"Through {title_of(net, module)} runs {who}.")
        here = [t for t in touches if t.section.index in shared and t.section.module == module]
        says += _touched(readings, (), [t for t in here if t.is_direct])
        says += [w for s in order if s.module == module and (w := _pushed(readings, s)) is not None]
    if says:
        yield Stop("What they share", tuple(dict.fromkeys(says)))


def _pushed(readings: Readings, section: NetSection) -> str | None:
    """Return what moves a shared amplifier, through what stands between, when an envelope does."""
    net = readings.net
    if section.kind.name != "vca":
        return None
    back = backward(readings.paths, [section.input_row("cv")], along=Along.ANYTHING).sections
    envelopes = [
        net.sections[i] for i in sorted(back) if net.sections[i].kind.name.endswith("envelope")
    ]
    if len(envelopes) != 1:
        return None
    fired = _feeding(net, envelopes[0].input_row("gate"))
    by = f", set off by {fired.name}" if fired is not None else ""
    return f"{envelopes[0].name} moves the loudness of it all{by}."


# --- the set ---------------------------------------------------------------------------------------------------------


def _set(readings: Readings) -> Iterator[Stop]:
    setlist = readings.net.project.setlist
    if setlist is None:
        return
    for passage, span in zip(setlist.sections, readings.timeline.passages, strict=True):
        says = [
            f"{_count(passage.bars, 'bar')} at {span.tempo_bpm:g} beats a minute, {_minutes(span.length_s)}."
        ]
        for move in passage.moves:
            note = f"{move.note[:1].upper()}{move.note[1:]}: " if move.note else ""
            says.append(f"Bar {move.bar}, {move.hand} hand: {note}{move.control} to {move.to}.")
        yield Stop(f"Section: {passage.title or passage.id}", tuple(says))


def _tempo(readings: Readings) -> float:
    project = readings.net.project
    given = project.setlist.tempo_bpm if project.setlist is not None else None
    return given or project.patch.tempo_bpm


# --- words -----------------------------------------------------------------------------------------------------------


def _count(count: int, noun: str) -> str:
    return f"{count} {noun}" + ("" if count == 1 else "s")


def _count_of(count: float, noun: str) -> str:
    return f"{count:g} {noun}" + ("" if count == 1.0 else "s")


def _minutes(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 60} min {whole % 60:02} s" if whole >= 60 else f"{whole} s"


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def _then(names: Sequence[str]) -> str:
    return ", then ".join(names)


# --- on paper --------------------------------------------------------------------------------------------------------


def markdown(found: Tour) -> str:
    """Return a tour as Markdown: a heading a stop, a line a sentence."""
    lines = [f"# {_plain(found.title)}", ""]
    for stop in found.stops:
        lines += [
            f"## {_plain(stop.heading)}",
            "",
            *(f"- {_plain(says)}" for says in stop.says),
            "",
        ]
    return "\n".join(lines)


def _plain(text: str) -> str:
    r"""Return text with nothing in it that Markdown would take for more.

    >>> _plain("a_b *c*")
    'a\\_b \\*c\\*'
    """
    words = "".join(c for c in " ".join(text.split()) if c.isprintable())
    return "".join(f"\\{c}" if c in "\\`*_[]<>#" else c for c in words)
