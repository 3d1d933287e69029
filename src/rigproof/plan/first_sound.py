"""First sound: a patch that is heard, made of what is there: something that sounds, what shapes it, and a way out.

What a module can do is read off its sheet: which inputs lead to which outputs, which sections make sound, which
envelopes and sequencers there are. Patches are tried from the richest to the plainest; the first that is heard and that
no check of ours would stop is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, product

from rigproof.checks import Bench, Severity, run_checks
from rigproof.errors import RigErrors
from rigproof.model.edits import SetControl, apply_edits
from rigproof.model.patch import Cable, Filling
from rigproof.model.project import Project
from rigproof.model.sheet import Housing, Signal, SlotTakes, Way
from rigproof.net.graph import Contact, Net, NetSection
from rigproof.readings.paths import Along
from rigproof.readings.reach import backward
from rigproof.readings.walk import input_names

STAGES = ("line-output", "balanced-output", "mixer", "stereo-mixer")
"""Kinds that bring a modular level down to what a desk takes, the best first; the later ones can be turned down."""
AMPLIFIERS = ("vca", "low-pass-gate")
ENVELOPES = ("adsr-envelope", "ad-envelope")
FILES = "files"
"""The option of kinds that play sound files: without any they are silent."""
STEPS = (0, 7, 3, 10, 0, 12, 7, 3)
"""The notes of a first sequence, in semitones. Our choice."""
GATES = "xxxxxxxx"
PULSES_PER_QUARTER = 4
"""Sixteenths: what a sequencer is clocked with where the clock gives them. Common practice, no source."""
SIDES = 2
"""Left and right: what has one output goes to both, by a stacked plug."""
SOURCES_LIMIT = 6
TRIES_LIMIT = 60
MENDS_LIMIT = 4
"""Level findings are mended at most so many times over: turning one knob can move another."""
LEVEL_CHECKS = ("interface-too-quiet", "interface-overloaded", "input-overdriven", "output-clips")
COLOURS = {"audio": "red", "cv": "blue", "pulses": "black"}


@dataclass(frozen=True, slots=True)
class FirstSound:
    """The project with its first patch, and what is to be said of it. `is_heard` is false where there is no patch."""

    project: Project
    says: tuple[str, ...]
    is_heard: bool


@dataclass(frozen=True, slots=True)
class _Voice:
    """A way from something that sounds: its output, where its pitch and its trigger go in."""

    out: str
    pitch: str | None
    trigger: str | None


@dataclass(frozen=True, slots=True)
class _Amplifier:
    source: str
    cv: str
    out: str


@dataclass(frozen=True, slots=True)
class _Envelope:
    gate: str
    out: str


@dataclass(frozen=True, slots=True)
class _Sequencer:
    clock: str
    gate: str
    pitch: str | None
    slots: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Stage:
    """An input of an output stage or mixer, and the outputs that it leads to."""

    source: str
    outs: tuple[str, ...]
    rank: int


@dataclass(slots=True)
class _Found:
    """What the modules of a rig offer, each in the order of the rig."""

    voices: list[_Voice] = field(default_factory=list)
    amplifiers: list[_Amplifier] = field(default_factory=list)
    envelopes: list[_Envelope] = field(default_factory=list)
    sequencers: list[_Sequencer] = field(default_factory=list)
    clocks: list[str] = field(default_factory=list)
    stages: list[_Stage] = field(default_factory=list)
    ears: list[str] = field(default_factory=list)
    """The inputs that the room hears."""


def first_sound(project: Project) -> FirstSound:
    """Return the project with a first patch that is heard.

    `project` has no cables. Where no patch can be made, it comes back as it is and `says` tells why.
    """
    found = _look(Bench.of(project))
    lacks = []
    if not found.voices:
        lacks.append(
            "Nothing here makes a sound by itself: add a sound source, such as an oscillator."
        )
    if not found.ears:
        lacks.append(
            "Nothing here is heard by the room: add an interface or a desk with a line input."
        )
    if lacks:
        return FirstSound(project, tuple(lacks), False)
    known = _stopping(Bench.of(project)).keys()
    why: list[str] = []
    for attempt in islice(_attempts(project, found), TRIES_LIMIT):
        done = _mended(attempt)
        if done is None:
            continue
        stopped = {at: words for at, words in _stopping(done).items() if at not in known}
        if not stopped:
            return FirstSound(done.project, tuple(_told(done.project)), True)
        why = why or list(stopped.values())
    return FirstSound(project, (NONE_FITS, *why, *_lacking(found)), False)


NONE_FITS = "None of the patches that were tried can be heard without a fault; wire it by hand."


def _lacking(found: _Found) -> Iterator[str]:
    """Yield what might help where no patch did."""
    if not found.clocks and all(voice.trigger is not None for voice in found.voices):
        yield f"{found.voices[0].out} sounds when it is triggered, and nothing here does: add a clock."
    elif not found.stages:
        yield "Nothing here brings the level down to what an interface takes: add an output."


def _told(project: Project) -> Iterator[str]:
    cables = project.patch.cables
    yield f"A first patch of {len(cables)} {'cable' if len(cables) == 1 else 'cables'}:"
    for cable in cables:
        yield f"{cable.source} to {cable.target}"
    for setting in project.patch.settings:
        yield f"set {setting.control} to {setting.value}"
    yield "Turn the monitors down before you switch on or listen: sudden level hurts ears."


def _stopping(bench: Bench) -> dict[tuple[str, str], str]:
    return {
        (f.check, f.at): f.message
        for f in run_checks(bench)
        if f.severity is Severity.STOPS_THE_SHOW
    }


def _mended(project: Project) -> Bench | None:
    """Return the bench of a patch that is heard, its levels put right as the checks say; None where it is silent."""
    try:
        bench = Bench.of(project)
    except RigErrors:
        return None
    for _ in range(MENDS_LIMIT):
        if all(ear.level.is_silent for ear in bench.readings.headroom):
            return None
        fixes = [
            f.fix.edits
            for f in run_checks(bench)
            if f.check in LEVEL_CHECKS
            and f.fix is not None
            and all(isinstance(edit, SetControl) for edit in f.fix.edits)
        ]
        if not fixes:
            break
        bench = Bench.of(apply_edits(bench.project, fixes[0]))
    return bench


# --- what could be plugged -------------------------------------------------------------------------------------------


def _attempts(project: Project, found: _Found) -> Iterator[Project]:
    """Yield patches, the richest first."""
    steps: list[_Sequencer | None] = [*_melodic_first(found.sequencers)[:2], None]
    amplifiers: list[_Amplifier | None] = [*found.amplifiers[:2], None]
    stages: list[_Stage | None] = [*found.stages[:2], None]
    for amplifier, sequencer, voice, stage in product(
        amplifiers, steps, found.voices[:SOURCES_LIMIT], stages
    ):
        attempt = _attempt(project, found, voice, amplifier, sequencer, stage)
        if attempt is not None:
            yield attempt


def _melodic_first(sequencers: Sequence[_Sequencer]) -> list[_Sequencer]:
    return sorted(sequencers, key=lambda s: s.pitch is None)


def _attempt(
    project: Project,
    found: _Found,
    voice: _Voice,
    amplifier: _Amplifier | None,
    sequencer: _Sequencer | None,
    stage: _Stage | None,
) -> Project | None:
    """Return the patch of these parts; None where one of them has nothing to do or stands in its own way."""
    cables: list[Cable] = []
    rhythms: list[Filling] = []
    pulses: str | None = None
    if sequencer is not None:
        if not found.clocks:
            return None
        cables.append(_cable(found.clocks[0], sequencer.clock, "pulses"))
        rhythms = [Filling(slot, _filling(sequencer)) for slot in sequencer.slots]
        if sequencer.pitch is not None and voice.pitch is not None:
            cables.append(_cable(sequencer.pitch, voice.pitch, "cv"))
        pulses = sequencer.gate
    elif found.clocks:
        pulses = found.clocks[0]
    here = voice.out
    if voice.trigger is not None:
        if pulses is None or amplifier is not None:
            return None
        cables.append(_cable(pulses, voice.trigger, "pulses"))
    elif amplifier is not None:
        if not found.envelopes or pulses is None:
            return None
        envelope = found.envelopes[0]
        cables.append(_cable(pulses, envelope.gate, "pulses"))
        cables.append(_cable(envelope.out, amplifier.cv, "cv"))
        cables.append(_cable(here, amplifier.source, "audio"))
        here = amplifier.out
    elif sequencer is not None and voice.pitch is None:
        return None  # its steps would be heard nowhere
    outs: tuple[str, ...] = (here,)
    if stage is not None:
        if stage.source.partition(".")[0] == here.partition(".")[0]:
            return None  # a module is no stage behind itself
        cables.append(_cable(here, stage.source, "audio"))
        outs = stage.outs
    outs = outs if len(outs) > 1 else outs * SIDES
    cables += [
        _cable(out, ear, "audio") for out, ear in zip(outs, found.ears[:SIDES], strict=False)
    ]
    plugged = [end for c in cables for end in (c.source, c.target)]
    if len({c.target for c in cables}) < len(cables) or len(set(plugged)) < len(plugged) - 1:
        return None  # no input twice, and at most one output is stacked
    patch = replace(project.patch, cables=tuple(cables), rhythms=tuple(rhythms))
    return replace(project, patch=patch)


def _cable(source: str, target: str, sort: str) -> Cable:
    return Cable(source, target, colour=COLOURS[sort])


def _filling(sequencer: _Sequencer) -> dict[str, str | tuple[int, ...]]:
    if sequencer.pitch is None:
        return {"steps": "x.......x......."}
    return {"notes": STEPS, "gates": GATES}


# --- what is there ---------------------------------------------------------------------------------------------------


def _look(bench: Bench) -> _Found:
    net, found = bench.net, _Found()
    for module, sheet_name in bench.sheet_names.items():
        sheet = bench.project.sheets[sheet_name]
        contacts = [c for c in net.contacts.values() if c.module == module and not c.jack.is_inside]
        if sheet.housing is Housing.INTERFACE:
            found.ears += dict.fromkeys(_name(c) for c in contacts if _is_ear(net, c))
            continue
        if sheet.housing is not Housing.MODULE:
            continue
        inside = _Inside(bench, module, contacts)
        found.voices += inside.voices()
        found.amplifiers += inside.amplifiers()
        found.envelopes += inside.envelopes()
        found.sequencers += inside.sequencers()
        found.stages += inside.stages()
        found.clocks += inside.clocks()
    found.stages.sort(key=lambda stage: stage.rank)
    found.clocks.sort(key=lambda jack: _clock_rank(bench, jack))
    found.voices.sort(key=lambda voice: (voice.pitch is None, voice.trigger is not None))
    return found


def _name(contact: Contact) -> str:
    return f"{contact.module}.{contact.jack.id}"


def _is_ear(net: Net, contact: Contact) -> bool:
    if contact.jack.way is not Way.IN or contact.jack.signal is not Signal.AUDIO:
        return False
    sections = {port.partition(".")[0] for port in contact.jack.lanes.get(contact.lane, ())}
    return any(net.section(f"{contact.module}.{section}").kind.is_ear for section in sections)


def _clock_rank(bench: Bench, jack: str) -> tuple[bool, float]:
    """Order clocks: those that beat first, the nearest to sixteenths before the others."""
    rate = bench.pulse(bench.net.contact(jack).row).per_quarter
    return not rate, abs(float(rate or 0) - PULSES_PER_QUARTER)


class _Inside:
    """What leads where inside one module."""

    def __init__(self, bench: Bench, module: str, contacts: Sequence[Contact]) -> None:
        self.bench = bench
        self.net = bench.net
        self.module = module
        self.contacts = contacts
        self.sections = [s for s in bench.net.sections if s.module == module]
        self.ins: dict[tuple[str, str], Contact] = {}
        """The input jack behind each section input, `section` and port."""
        for contact in contacts:
            if contact.jack.way is Way.IN:
                for port in contact.jack.lanes.get(contact.lane, ()):
                    section, _, name = port.partition(".")
                    self.ins[section, name] = contact

    def jack_into(self, section: NetSection, *ports: str, signals: Sequence[Signal]) -> str | None:
        """Return the jack of one of these signals that goes into the first of the ports that has one."""
        id_ = section.name.partition(".")[2]
        for port in ports:
            contact = self.ins.get((id_, port))
            if contact is not None and contact.jack.signal in signals:
                return _name(contact)
        return None

    def outs_of(self, rows: set[int], *signals: Signal) -> list[str]:
        """Return the output jacks of these signals that one of the rows drives."""
        return [
            _name(c) for c in self.contacts if c.source_row in rows and c.jack.signal in signals
        ]

    def onward(self, rows: Sequence[int]) -> set[int]:
        """Return the rows that a signal gets to inside the module."""
        paths = self.bench.readings.paths
        own = {s.index for s in self.sections}
        seen, todo = set(rows), list(rows)
        while todo:
            for hop in paths.onward(todo.pop(), along=Along.SIGNAL):
                if hop.section in own and hop.target_row not in seen:
                    seen.add(hop.target_row)
                    todo.append(hop.target_row)
        return seen

    def from_jack(self, contact: Contact) -> set[int]:
        """Return the rows that a signal at an input jack gets to."""
        paths = self.bench.readings.paths
        rows = []
        for (id_, port), other in self.ins.items():
            if _name(other) != _name(contact) and other.jack.normal != contact.jack.id:
                continue
            section = self.net.section(f"{self.module}.{id_}")
            place = input_names(section.kind, section.setting.ways).index(port)
            hops = paths.hops(section.index)
            rows += [hop.target_row for hop in hops if hop.input == place and hop.is_signal]
        return self.onward(rows)

    def voices(self) -> Iterator[_Voice]:
        """Yield each output of sound that needs none: by itself, or once it is triggered."""
        paths, level = self.bench.readings.paths, self.bench.level
        for section in self.sections:
            if section.kind.is_internal or any(h.is_signal for h in paths.hops(section.index)):
                continue
            if any(o.name == FILES for o in section.kind.options):
                continue
            for out in self.outs_of(self.onward(section.outs), Signal.AUDIO):
                trigger = self.jack_that_steers(out, Signal.TRIGGER, Signal.GATE)
                is_drone = not level(self.net.contact(out).row).is_silent
                if is_drone or trigger is not None:
                    pitch = self.jack_that_steers(out, Signal.PITCH)
                    yield _Voice(out, pitch, None if is_drone else trigger)
                    break

    def jack_that_steers(self, out: str, *signals: Signal) -> str | None:
        """Return the first input jack of these signals that an output depends on."""
        row = self.net.contact(out).source_row
        back = backward(self.bench.readings.paths, [row] if row is not None else [])
        for (id_, _), contact in self.ins.items():
            section = self.net.section(f"{self.module}.{id_}")
            if contact.jack.signal in signals and section.index in back.sections:
                return _name(contact)
        return None

    def amplifiers(self) -> Iterator[_Amplifier]:
        for section in self.sections:
            if section.kind.name not in AMPLIFIERS:
                continue
            source = self.jack_into(section, "in", signals=(Signal.AUDIO,))
            cv = self.jack_into(section, "cv", signals=(Signal.CV,))
            outs = self.outs_of(set(section.outs), Signal.AUDIO)
            if source is not None and cv is not None and outs:
                yield _Amplifier(source, cv, outs[0])

    def envelopes(self) -> Iterator[_Envelope]:
        for section in self.sections:
            if section.kind.name not in ENVELOPES:
                continue
            gate = self.jack_into(section, "gate", "trigger", signals=(Signal.GATE, Signal.TRIGGER))
            outs = self.outs_of(self.onward(section.outs), Signal.CV)
            if gate is not None and outs:
                yield _Envelope(gate, outs[0])

    def sequencers(self) -> Iterator[_Sequencer]:
        slots = self.bench.sheet(self.module).slots.values()
        for section in self.sections:
            if section.kind.name not in ("step-sequencer", "gate-sequencer"):
                continue
            clock = self.jack_into(section, "clock", signals=(Signal.CLOCK,))
            gates = self.outs_of(set(section.outs), Signal.GATE, Signal.TRIGGER)
            pitches = self.outs_of(set(section.outs), Signal.PITCH)
            id_ = section.name.partition(".")[2]
            own = tuple(
                f"{self.module}.{s.id}"
                for s in slots
                if s.takes is SlotTakes.RHYTHM and id_ in s.sections
            )
            if clock is not None and gates and own:
                yield _Sequencer(clock, gates[0], pitches[0] if pitches else None, own)

    def clocks(self) -> Iterator[str]:
        rows = {row for s in self.sections if s.kind.name == "clock" for row in s.outs}
        yield from self.outs_of(rows, Signal.CLOCK)

    def stages(self) -> Iterator[_Stage]:
        kinds = {s.kind.name for s in self.sections}
        rank = next((i for i, kind in enumerate(STAGES) if kind in kinds), None)
        if rank is None:
            return
        for contact in self.contacts:
            if contact.jack.way is Way.IN and contact.jack.signal is Signal.AUDIO:
                outs = self.outs_of(self.from_jack(contact), Signal.AUDIO)
                if outs:
                    yield _Stage(_name(contact), tuple(outs), rank)
