"""For every check a rig that trips it and one that nearly does. `test_catalogue` refuses a check without both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rigproof.model.patch import Cable, Map, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Board, CableStock, Row, Supply, mm2_from_awg
from rigproof.model.setlist import Move, Passage, Setlist
from rigproof.model.sheet import Control, Housing, Jack, Plug, Sheet, Signal, Way
from tests.checks import play_cases as play
from tests.checks import rigs
from tests.checks import start_cases as starts


@dataclass(frozen=True)
class Case:
    """Two rigs for one check, built when they are asked for."""

    bad: Callable[[], Project]
    near: Callable[[], Project]
    mendable: Callable[[], Project] | None = None
    """One that trips it and can be mended, where nothing can be done about the bad one."""


# --- power -----------------------------------------------------------------------------------------------------------


def drawing(*draws_ma: float, rail_ma: float = 1000.0, rail: str = "+12V") -> Project:
    """Modules that draw so much from one rail."""
    sheets = {
        f"eater-{i}": rigs.sheet(f"eater-{i}", draw_ma={rail: draw})
        for i, draw in enumerate(draws_ma, start=1)
    }
    return rigs.project(sheets, supply=Supply({"+12V": rail_ma}))


def without_supply(draw_ma: float) -> Project:
    """A rig that names no supply."""
    return rigs.project({"eater": rigs.sheet("eater", draw_ma={"+12V": draw_ma})}, supply=None)


POWER = {
    "rail-overloaded": Case(lambda: drawing(600.0, 401.0), lambda: drawing(600.0, 400.0)),
    "rail-headroom-short": Case(lambda: drawing(500.0, 301.0), lambda: drawing(500.0, 300.0)),
    "rail-missing": Case(lambda: drawing(40.0, rail="+5V"), lambda: drawing(40.0)),
    "supply-unstated": Case(lambda: without_supply(10.0), lambda: without_supply(0.0)),
}

# --- distribution ----------------------------------------------------------------------------------------------------


def surging(surge_ma: float, borne_ma: float = 2000.0) -> Project:
    """A module whose surge the sheet states, one that draws 100 mA and says no more, and a supply that says what it
    bears."""
    sheets = {
        "eater": rigs.sheet("eater", draw_ma={"+12V": 100.0}, surge_ma={"+12V": surge_ma}),
        "other": rigs.sheet("other", draw_ma={"+12V": 100.0}),
    }
    return rigs.project(sheets, supply=Supply({"+12V": 1000.0}, surge_ma={"+12V": borne_ma}))


def boarded(
    *boards: Board, draws: tuple[dict[str, float], ...], ribbon: str | None = None
) -> Project:
    """Modules `eater-1` and so on with such draws, and bus boards."""
    sheets = {
        f"eater-{i}": rigs.sheet(f"eater-{i}", draw_ma=d) for i, d in enumerate(draws, start=1)
    }
    rails = {"+12V": 9000.0, "-12V": 9000.0, "+5V": 9000.0}
    made = rigs.project(sheets, supply=Supply(rails, boards=boards))
    modules = tuple(replace(m, ribbon=ribbon) for m in made.rig.modules)
    return replace(made, rig=replace(made.rig, modules=modules))


def limited(draw_ma: float) -> Project:
    """Two modules on a board for 500 mA, and an empty board for 300."""
    boards = (
        Board("upper", ("eater-1", "eater-2"), limit_ma={"+12V": 500.0}),
        Board("lower", limit_ma={"+12V": 300.0}),
    )
    return boarded(*boards, draws=({"+12V": 300.0}, {"+12V": draw_ma}))


def led(lead_cm: float) -> Project:
    """A board at the end of a lead of 28 AWG, with a module that draws 1 A."""
    board = Board("far", ("eater-1",), lead_cm, mm2_from_awg(28))
    return boarded(board, draws=({"+12V": 1000.0},))


def hung(*modules: str) -> Project:
    """One board, and on it these of two modules."""
    return boarded(Board("only", modules), draws=({"+12V": 10.0}, {"-12V": 10.0}))


DISTRIBUTION = {
    "surge-too-high": Case(lambda: surging(1701.0), lambda: surging(1700.0)),
    "board-overloaded": Case(lambda: limited(201.0), lambda: limited(200.0)),
    "module-on-no-board": Case(lambda: hung("eater-1"), lambda: hung("eater-1", "eater-2")),
    "board-lead-sags": Case(lambda: led(85.0), lambda: led(84.0)),
    "ribbon-lacks-five-volts": Case(
        lambda: boarded(draws=({"+5V": 20.0},), ribbon="10-way"),
        lambda: boarded(draws=({"+5V": 20.0},), ribbon="16-way"),
    ),
    "bus-ribbon-overloaded": Case(
        lambda: boarded(draws=({"+12V": 2001.0},)), lambda: boarded(draws=({"+12V": 2000.0},))
    ),
}

# --- fit -------------------------------------------------------------------------------------------------------------


def placed(
    *places: tuple[int, int],
    depth_mm: float = 25.0,
    rows: tuple[Row, ...] = (Row(20, 30.0), Row(20, 50.0)),
) -> Project:
    """Modules of 8 HP at (row, HP)."""
    names = [f"box-{i}" for i in range(1, len(places) + 1)]
    return rigs.project(
        {name: rigs.sheet(name, depth_mm=depth_mm) for name in names},
        places=dict(zip(names, places, strict=True)),
        rows=rows,
    )


def hanging(turned: bool) -> Project:
    """One module, the right way up or not."""
    return rigs.project({"box": rigs.sheet("box")}, turned=["box"] if turned else [])


def screened(turned: bool) -> Project:
    """A module of 8 HP with a screen."""
    box = rigs.sheet("box", screen_mm=(5.0, 10.0, 30.0, 15.0))
    return rigs.project({"box": box}, turned=["box"] if turned else [])


def curtained(cables: int, cm: int = 30, stock: Sequence[CableStock] = ()) -> Project:
    """A knob that the set moves, 105 mm below the middle of so many cables 160 mm wide."""
    ways = range(1, cables + 1)
    left = rigs.sheet(
        "left",
        [rigs.jack_out(f"out-{i}", "mix.out", at_mm=(10.0, 10.0)) for i in ways],
        {"mix": ("mixer", {"ways": 1})},
    )
    right = rigs.sheet(
        "right",
        [
            rigs.jack_in(f"in-{i}", f"mix.in-{i}", at_mm=(10.0, 10.0), range_v=(-11.0, 11.0))
            for i in ways
        ],
        {"mix": ("mixer", {"ways": cables})},
    )
    knob = Control("knob", default=1.0, sets=("mix.gain-1",), at_mm=(10.0, 115.0), size_mm=10.0)
    middle = rigs.sheet("middle", [], {"mix": ("mixer", {"ways": 1})}, controls=[knob])
    return rigs.project(
        {"left": left, "right": right, "middle": middle},
        [Cable(f"left.out-{i}", f"right.in-{i}", cm=cm) for i in ways],
        places={"left": (1, 0), "right": (1, 32), "middle": (1, 16)},
        stock=stock,
        setlist=rigs.playing("middle.knob", 0.5),
    )


FIT = {
    "modules-overlap": Case(lambda: placed((1, 0), (1, 7)), lambda: placed((1, 0), (1, 8))),
    "module-past-row-end": Case(lambda: placed((1, 13)), lambda: placed((1, 12))),
    "module-too-deep": Case(
        lambda: placed((1, 0), depth_mm=30.5), lambda: placed((1, 0), depth_mm=30.0)
    ),
    "row-missing": Case(lambda: placed((3, 0)), lambda: placed((2, 0))),
    "panel-upside-down": Case(lambda: hanging(True), lambda: hanging(False)),
    "screen-upside-down": Case(lambda: screened(True), lambda: screened(False)),
    "control-under-cables": Case(
        lambda: curtained(7),
        lambda: curtained(6),
        lambda: curtained(7, stock=(CableStock("mono-3.5", 30, 7), CableStock("mono-3.5", 20, 1))),
    ),
}

# --- cables ----------------------------------------------------------------------------------------------------------


def mixing(*cables: tuple[str, str]) -> Project:
    """Two voices, a mixer, a desk; the mixer always goes to the desk."""
    return rigs.project(
        {
            "voice-1": rigs.voice("voice-1", 3.0),
            "voice-2": rigs.voice("voice-2", 3.0),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [*cables, ("mix.out", "desk.in-1")],
    )


def driven(*, is_plugged: bool) -> Project:
    """A mixer whose input is needed, in use."""
    plain = rigs.mixer("amp", 1)
    needy = rigs.sheet(
        "amp",
        [
            rigs.jack_in("in-1", "mix.in-1", needed=True, range_v=(-11.0, 11.0)),
            rigs.jack_out("out", "mix.out"),
        ],
        {"mix": ("mixer", {"ways": 1})},
        controls=list(plain.controls.values()),
    )
    sheets = {"voice": rigs.voice(level_v=3.0), "amp": needy, "desk": rigs.interface()}
    cables = [("amp.out", "desk.in-1")] + ([("voice.sine", "amp.in-1")] if is_plugged else [])
    return rigs.project(sheets, cables)


def stereo_pair(*, lead: str | None, target: str = "amp") -> Project:
    """A stereo output into a stereo input, over some lead."""
    amp = rigs.sheet(
        target,
        [rigs.stereo("in", Way.IN, "out.in-left", "out.in-right")],
        {"out": ("line-output", {})},
    )
    source = rigs.sheet(
        "source",
        [rigs.stereo("out", Way.OUT, "osc.sine", "osc.saw")],
        {"osc": ("oscillator", {})},
    )
    return rigs.project(
        {"source": source, target: amp}, [Cable("source.out", f"{target}.in", lead=lead)]
    )


def midi_line(source: Plug, target: Plug, lead: str | None = None) -> Project:
    """A MIDI cable."""
    return rigs.project(
        {"sender": rigs.midi_out(source), "bridge": rigs.midi_in(target)},
        [Cable("sender.midi", "bridge.midi", lead=lead)],
    )


def midi_split(targets: int) -> Project:
    """One MIDI output into so many inputs."""
    names = [f"bridge-{i}" for i in range(1, targets + 1)]
    return rigs.project(
        {
            "sender": rigs.midi_out(Plug.MIDI_A),
            **{name: rigs.midi_in(Plug.MIDI_A, name) for name in names},
        },
        [("sender.midi", f"{name}.midi") for name in names],
    )


def at_mm(x: float, y: float, jack: str) -> Sheet:
    """A panel with one jack at a place: an input or an output."""
    if jack == "in":
        jacks = [rigs.jack_in("in", "mix.in-1", at_mm=(x, y), range_v=(-11.0, 11.0))]
    else:
        jacks = [rigs.jack_out("out", "mix.out", at_mm=(x, y))]
    return rigs.sheet(jack, jacks, {"mix": ("mixer", {"ways": 1})})


def reaching(cm: int, *stock: CableStock) -> Project:
    """A cable from the top row to the row below, 30 mm to the side: exactly 136.68 mm apart."""
    return rigs.project(
        {"out": at_mm(10.0, 60.0, "out"), "in": at_mm(40.0, 60.0, "in")},
        [Cable("out.out", "in.in", cm=cm)],
        places={"out": (1, 0), "in": (2, 0)},
        stock=stock,
    )


def boxed(count: int, cm: int | None = 30) -> Project:
    """Two cables of a length; so many of them in the box, and one longer one."""
    cables = [
        Cable(a, b, cm=cm) for a, b in (("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-2"))
    ]
    sheets = {
        "voice-1": rigs.voice("voice-1"),
        "voice-2": rigs.voice("voice-2"),
        "mix": rigs.mixer(),
    }
    longer = 1 if cm is not None else 0
    return rigs.project(
        sheets,
        cables,
        stock=[CableStock("mono-3.5", 30, count), CableStock("mono-3.5", 60, longer)],
    )


CABLES = {
    "outputs-joined": Case(
        lambda: mixing(("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-1")),
        lambda: mixing(("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-2")),
    ),
    "cable-without-source": Case(
        lambda: mixing(("mix.in-1", "mix.in-2")),
        lambda: mixing(("mix.in-1", "mix.in-2"), ("voice-1.sine", "mix.in-2")),
    ),
    "same-cable-twice": Case(
        lambda: mixing(("voice-1.sine", "mix.in-1"), ("mix.in-1", "voice-1.sine")),
        lambda: mixing(("voice-1.sine", "mix.in-1"), ("voice-1.sine", "mix.in-2")),
    ),
    "needed-input-open": Case(lambda: driven(is_plugged=False), lambda: driven(is_plugged=True)),
    "voice-without-way-out": Case(
        lambda: mixing(("voice-1.sine", "voice-2.pitch")),
        lambda: mixing(("voice-1.sine", "voice-2.pitch"), ("voice-2.sine", "mix.in-1")),
    ),
    "signal-ends-nowhere": Case(
        lambda: ends_in_an_envelope(is_heard=False), lambda: ends_in_an_envelope(is_heard=True)
    ),
    "mono-plug-in-stereo-jack": Case(
        lambda: stereo_pair(lead="mono-3.5"), lambda: stereo_pair(lead=None)
    ),
    "midi-types-crossed": Case(
        lambda: midi_line(Plug.MIDI_A, Plug.MIDI_B),
        lambda: midi_line(Plug.MIDI_A, Plug.MIDI_B, "midi-crossed"),
    ),
    "usb-ends-alike": Case(
        lambda: midi_line(Plug.USB_HOST, Plug.USB_HOST),
        lambda: midi_line(Plug.USB_HOST, Plug.USB_DEVICE),
    ),
    "connectors-unlike": Case(
        lambda: midi_line(Plug.MIDI_DIN, Plug.MIDI_A), lambda: midi_line(Plug.MIDI_A, Plug.MIDI_A)
    ),
    "midi-line-shared": Case(lambda: midi_split(2), lambda: midi_split(1)),
    "cable-too-short": Case(lambda: reaching(13), lambda: reaching(14)),
    "cable-taut": Case(lambda: reaching(15), lambda: reaching(16)),
    "cable-not-in-stock": Case(lambda: boxed(1), lambda: boxed(2)),
    "link-not-fitted": Case(lambda: expanded(is_fitted=False), lambda: expanded(is_fitted=True)),
    "steady-voltage-blocked": Case(lambda: coupled(is_ac=True), lambda: coupled(is_ac=False)),
    "usb-port-overdrawn": Case(lambda: usb_tree(401.0, 100.0), lambda: usb_tree(400.0, 100.0)),
}


def expanded(*, is_fitted: bool) -> Project:
    """A sampler with a breakout on its ribbon, of which one jack is heard."""
    lanes = ("voice-1", "voice-2")
    host = rigs.sheet(
        "host",
        [
            Jack("ribbon", Way.OUT, Signal.LINK, Plug.RIBBON, {v: (f"{v}.sine",) for v in lanes}),
            rigs.jack_out("mix", "voice-1.saw"),
        ],
        {v: ("oscillator", {"level": 3.0}) for v in lanes},
    )
    outs = rigs.sheet(
        "outs",
        [
            Jack("ribbon", Way.IN, Signal.LINK, Plug.RIBBON, {v: (f"{v}.in-1",) for v in lanes}),
            *(rigs.jack_out(v, f"{v}.out") for v in lanes),
        ],
        {v: ("mixer", {"ways": 1}) for v in lanes},
    )
    cables = [("outs.voice-1", "desk.in-1"), ("host.mix", "desk.in-2")]
    return rigs.project(
        {"host": host, "outs": outs, "desk": rigs.interface()},
        cables + ([("host.ribbon", "outs.ribbon")] if is_fitted else []),
    )


def coupled(*, is_ac: bool) -> Project:
    """A steady voltage through a mixer, whose input is AC-coupled or not, to an amplifier's control input."""
    mix = rigs.sheet(
        "mix",
        [
            rigs.jack_in("in", "mix.in-1", range_v=(-11.0, 11.0), is_ac_coupled=is_ac),
            rigs.jack_out("out", "mix.out"),
        ],
        {"mix": ("mixer", {"ways": 1})},
    )
    return rigs.project(
        {"steady": rigs.steady(2.5), "mix": mix, "vca": rigs.vca()},
        [("steady.out", "mix.in"), ("mix.out", "vca.cv")],
    )


def usb_tree(*draws_ma: float, port_ma: float | None = None) -> Project:
    """A port, in it a hub without supply that draws the first current, and on the hub a device for every other."""
    names = [f"device-{i}" for i in range(1, len(draws_ma))]
    ways = range(1, len(draws_ma))
    hub = rigs.sheet(
        "hub",
        [
            Jack(
                "up",
                Way.OUT,
                Signal.MIDI,
                Plug.USB_DEVICE,
                {"midi": ("merge.out",)},
                usb_ma=draws_ma[0],
            ),
            *(
                Jack(f"down-{i}", Way.IN, Signal.MIDI, Plug.USB_HOST, {"midi": (f"merge.in-{i}",)})
                for i in ways
            ),
        ],
        {"merge": ("midi-merge", {"ways": max(len(names), 1)})},
    )
    sheets = {"bridge": rigs.midi_in(Plug.USB_HOST), "hub": hub}
    port = replace(sheets["bridge"].jacks["midi"], usb_ma=port_ma)
    sheets["bridge"] = replace(sheets["bridge"], jacks={**sheets["bridge"].jacks, "midi": port})
    for name, draw_ma in zip(names, draws_ma[1:], strict=True):
        one = rigs.midi_out(Plug.USB_DEVICE, name)
        sheets[name] = replace(one, jacks={"midi": replace(one.jacks["midi"], usb_ma=draw_ma)})
    cables = [("hub.up", "bridge.midi")]
    cables += [(f"{name}.midi", f"hub.down-{i}") for i, name in enumerate(names, start=1)]
    return rigs.project(sheets, cables)


def ends_in_an_envelope(*, is_heard: bool) -> Project:
    """A clock into an envelope that opens an amplifier, or nothing."""
    sheets = {
        "clock": rigs.clock((1, 1)),
        "env": rigs.envelope(),
        "voice": rigs.voice(level_v=3.0),
        "vca": rigs.vca(),
        "desk": rigs.interface(),
    }
    cables = [("clock.out-1", "env.gate"), ("voice.sine", "vca.in"), ("vca.out", "desk.in-1")]
    return rigs.project(sheets, cables + ([("env.cv", "vca.cv")] if is_heard else []))


# --- copies ----------------------------------------------------------------------------------------------------------


def inverted(gain: float) -> Project:
    """A voice into a mixer, and again through an attenuverter of such a gain."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=2.0),
            "trim": rigs.attenuverter(signal=Signal.AUDIO),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [
            ("voice.sine", "mix.in-1"),
            ("voice.sine", "trim.in"),
            ("trim.out", "mix.in-2"),
            ("mix.out", "desk.in-1"),
        ],
        settings={"trim.gain": gain},
    )


def sent(mix: float, *, has_dry: bool = True) -> Project:
    """A voice into a mixer, perhaps, and into an echo with a mix knob whose return goes to the same mixer."""
    plain = rigs.echo()
    knob = Control("mix", default=1.0, sets=("echo.mix",))
    echo = replace(plain, controls={**plain.controls, "mix": knob})
    sheets = {
        "voice": rigs.voice(level_v=2.0),
        "echo": echo,
        "mix": rigs.mixer(),
        "desk": rigs.interface(),
    }
    cables = [
        ("voice.sine", "echo.left-in"),
        ("echo.left", "mix.in-2"),
        ("mix.out", "desk.in-1"),
    ]
    return rigs.project(
        sheets,
        cables + ([("voice.sine", "mix.in-1")] if has_dry else []),
        settings={"echo.mix": mix, "echo.sync": "free", "echo.time": "300 ms"},
    )


def stereo_voice(*sides: str) -> Project:
    """A voice with a left and a right jack, of which these are plugged, and a desk with both sides in use."""
    voice = rigs.sheet(
        "voice",
        [rigs.jack_out("left", "osc.sine"), rigs.jack_out("right", "osc.saw")],
        {"osc": ("oscillator", {"level": 2.0})},
    )
    out = rigs.sheet(
        "out",
        [
            *(
                rigs.jack_in(f"{side}-{i}", f"{side}.in-{i}", range_v=(-11.0, 11.0))
                for side in ("left", "right")
                for i in (1, 2)
            ),
            rigs.jack_out("out-left", "left.out"),
            rigs.jack_out("out-right", "right.out"),
        ],
        {"left": ("mixer", {"ways": 2}), "right": ("mixer", {"ways": 2})},
    )
    desk = rigs.sheet(
        "desk",
        [
            rigs.jack_in(side, f"{side}.in", plug=Plug.LINE, range_v=(-20.0, 20.0))
            for side in ("left", "right")
        ],
        {side: ("line-input", {"full-scale": 20.0}) for side in ("left", "right")},
        housing=Housing.INTERFACE,
    )
    other = replace(rigs.voice("other", 2.0))
    return rigs.project(
        {"voice": voice, "other": other, "out": out, "desk": desk},
        [
            *((f"voice.{side}", f"out.{side}-1") for side in sides),
            ("other.sine", "out.left-2"),
            ("other.saw", "out.right-2"),
            ("out.out-left", "desk.left"),
            ("out.out-right", "desk.right"),
        ],
    )


COPIES = {
    "copies-cancel": Case(lambda: inverted(-0.70), lambda: inverted(-0.69)),
    "dry-comes-twice": Case(lambda: sent(0.98), lambda: sent(1.0)),
    "echo-without-its-sound": Case(
        lambda: sent(1.0, has_dry=False), lambda: sent(0.5, has_dry=False)
    ),
    "stereo-side-lost": Case(lambda: stereo_voice("left"), lambda: stereo_voice("left", "right")),
}

# --- levels ----------------------------------------------------------------------------------------------------------


def into_range(level_v: float, limit_v: float, *, later_v: float | None = None) -> Project:
    """A voice into an audio input that takes so much either way; perhaps its level moves in the set."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=level_v),
            "mix": rigs.mixer(ways=1, range_v=(-limit_v, limit_v)),
            "desk": rigs.interface(),
        },
        [("voice.sine", "mix.in-1"), ("mix.out", "desk.in-1")],
        setlist=None if later_v is None else rigs.playing("voice.level", level_v, later_v),
    )


def summed(level_v: float) -> Project:
    """Two voices of the same level through a mixer into the desk."""
    return rigs.project(
        {
            "voice-1": rigs.voice("voice-1", level_v),
            "voice-2": rigs.voice("voice-2", level_v),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [("voice-1.sine", "mix.in-1"), ("voice-2.sine", "mix.in-2"), ("mix.out", "desk.in-1")],
    )


def into_desk(level_v: float, *, later_v: float | None = None) -> Project:
    """A voice into a desk whose full scale is +10 dBu."""
    return rigs.project(
        {"voice": rigs.voice(level_v=level_v), "desk": rigs.interface(full_scale_dbu=10.0)},
        [("voice.sine", "desk.in-1")],
        setlist=None if later_v is None else rigs.playing("voice.level", level_v, later_v),
    )


def turned_down(level: float, *, later: float | None = None) -> Project:
    """A voice through a mixer that stands so low, and later in the set perhaps elsewhere."""
    return rigs.project(
        {"voice": rigs.voice(level_v=2.0), "mix": rigs.mixer(), "desk": rigs.interface()},
        [("voice.sine", "mix.in-1"), ("mix.out", "desk.in-1")],
        settings={"mix.level-1": level},
        setlist=None if later is None else rigs.playing("mix.level-1", level, later),
    )


def steady_into_desk(value_v: float) -> Project:
    """A steady voltage into a desk whose full scale is +10 dBu."""
    return rigs.project(
        {
            "steady": rigs.steady(value_v, Signal.AUDIO),
            "desk": rigs.interface(full_scale_dbu=10.0),
        },
        [("steady.out", "desk.in-1")],
    )


def slow_in_mix(rate_hz: float) -> Project:
    """A voice and a control wave so fast into a mixer that goes to the desk."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=2.0),
            "lfo": rigs.lfo(),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [("voice.sine", "mix.in-1"), ("lfo.sine", "mix.in-2"), ("mix.out", "desk.in-1")],
        settings={"lfo.rate": rate_hz},
    )


def trimmed(
    gain: float, offset_v: float = 0.0, range_v: tuple[float, float] = (-4.0, 4.0)
) -> Project:
    """A wave of 5 V either way through an attenuverter into the CV input of an amplifier."""
    return rigs.project(
        {"lfo": rigs.lfo(), "trim": rigs.attenuverter(), "vca": rigs.vca(cv_range_v=range_v)},
        [("lfo.sine", "trim.in"), ("trim.out", "vca.cv")],
        settings={"trim.gain": gain, "trim.offset": offset_v},
    )


def pitch_line(output_ohm: float, loads: int = 1) -> Project:
    """A pitch voltage into so many voices of 100 kohm."""
    names = [f"voice-{i}" for i in range(1, loads + 1)]
    return rigs.project(
        {
            "keys": rigs.steady(1.0, Signal.PITCH, "keys", resistance_ohm=output_ohm),
            **{name: rigs.voice(name) for name in names},
        },
        [("keys.out", f"{name}.pitch") for name in names],
    )


def clocked_envelope(level_v: float) -> Project:
    """Pulses so high into an envelope that fires at 2 V."""
    return rigs.project(
        {"clock": rigs.clock((1, 1), level_v=level_v), "env": rigs.envelope()},
        [("clock.out-1", "env.gate")],
    )


def held_envelope(value_v: float) -> Project:
    """A steady voltage into an envelope that fires at 2 V."""
    return rigs.project(
        {"steady": rigs.steady(value_v, Signal.GATE), "env": rigs.envelope()},
        [("steady.out", "env.gate")],
    )


def looped(gain: float) -> Project:
    """A mixer that gets its own output back."""
    return rigs.project(
        {"voice": rigs.voice(level_v=1.0), "mix": rigs.mixer(), "desk": rigs.interface()},
        [("voice.sine", "mix.in-1"), ("mix.out", "mix.in-2"), ("mix.out", "desk.in-1")],
        settings={"mix.level-2": gain},
    )


LEVELS = {
    "input-overdriven": Case(lambda: into_range(5.0, 2.5), lambda: into_range(5.0, 4.7)),
    "input-can-clip": Case(
        lambda: into_range(2.0, 2.5, later_v=4.0), lambda: into_range(2.0, 2.5, later_v=3.5)
    ),
    "output-clips": Case(lambda: summed(6.0), lambda: summed(5.4)),
    "interface-overloaded": Case(lambda: into_desk(5.0), lambda: into_desk(3.4)),
    "interface-can-clip": Case(
        lambda: into_desk(2.0, later_v=4.0), lambda: into_desk(2.0, later_v=3.4)
    ),
    "interface-too-quiet": Case(lambda: into_desk(0.05), lambda: into_desk(0.06)),
    "way-out-silent": Case(lambda: turned_down(0.0), lambda: turned_down(0.0, later=0.01)),
    "trigger-never-comes": Case(lambda: starts.waiting("...."), lambda: starts.waiting("...x")),
    "clips-with-all-up": Case(
        lambda: into_desk(2.0, later_v=4.0), lambda: into_desk(2.0, later_v=3.4)
    ),
    "dc-on-audio": Case(lambda: steady_into_desk(1.0), lambda: steady_into_desk(0.03)),
    "cv-on-the-sound-path": Case(lambda: slow_in_mix(19.0), lambda: slow_in_mix(20.0)),
    "cv-covers-part-of-range": Case(lambda: trimmed(0.3), lambda: trimmed(0.35)),
    "cv-overdrives": Case(lambda: trimmed(1.0), lambda: trimmed(0.85)),
    "bipolar-into-unipolar": Case(
        lambda: trimmed(1.0, range_v=(0.0, 5.0)),
        lambda: trimmed(0.51, 2.525, range_v=(0.0, 5.0)),
    ),
    "pitch-line-droop": Case(lambda: pitch_line(1_000.0), lambda: pitch_line(400.0)),
    "gate-below-threshold": Case(lambda: clocked_envelope(2.0), lambda: clocked_envelope(2.03)),
    "gate-never-falls": Case(lambda: held_envelope(3.0), lambda: held_envelope(2.01)),
    "loop-gain-over-one": Case(lambda: looped(1.1), lambda: looped(1.0)),
}

# --- delays ----------------------------------------------------------------------------------------------------------


def doubled(time: str) -> Project:
    """A voice into a mixer at once, and again through an echo that runs free and gives no dry sound."""
    return rigs.project(
        {
            "voice": rigs.voice(level_v=2.0),
            "echo": rigs.echo(),
            "mix": rigs.mixer(),
            "desk": rigs.interface(),
        },
        [
            ("voice.sine", "mix.in-1"),
            ("voice.sine", "echo.left-in"),
            ("echo.left", "mix.in-2"),
            ("mix.out", "desk.in-1"),
        ],
        settings={"echo.sync": "free", "echo.time": time, "echo.feedback": 0.0},
    )


DELAYS = {"sound-meets-itself": Case(lambda: doubled("19 ms"), lambda: doubled("21 ms"))}

# --- clocks ----------------------------------------------------------------------------------------------------------


def clocked(*rates: tuple[int, int], ppqn: int = 4) -> Project:
    """A clock whose first output drives a sequencer that expects so many pulses a quarter note."""
    return rigs.project(
        {
            "clock": rigs.clock(*rates),
            "seq": rigs.sequencer("seq", "x...", ppqn=Fraction(ppqn), threshold_v=1.5),
        },
        [("clock.out-1", "seq.clock")],
    )


def pulsed(width: str, needed_s: float = 0.002) -> Project:
    """A clock with pulses so long into a sequencer that needs 2 ms."""
    return rigs.project(
        {"clock": rigs.clock((4, 1)), "seq": rigs.sequencer("seq", "x...", min_pulse_s=needed_s)},
        [("clock.out-1", "seq.clock")],
        settings={"clock.width": width},
    )


def patterns(*lengths: int, bars: int = 8) -> Project:
    """Tracks of so many sixteenths, and a set of so many bars."""
    names = [f"seq-{n}" for n in lengths]
    return rigs.project(
        {
            "clock": rigs.clock((4, 1)),
            **{
                name: rigs.sequencer(name, "x" + "." * (n - 1))
                for name, n in zip(names, lengths, strict=True)
            },
        },
        [("clock.out-1", f"{name}.clock") for name in names],
        setlist=Setlist("tiny", sections=(Passage("only", bars=bars),)),
    )


def echoing(
    note: str, *tempi_bpm: float, feedback: float = 0.5, times: int = 4, ppqn: float = 4.0
) -> Project:
    """An echo with two seconds of memory, clocked, in a set of sections at these tempi."""
    sections = tuple(
        Passage(f"part-{i}", tempo_bpm=tempo) for i, tempo in enumerate(tempi_bpm, start=1)
    )
    return rigs.project(
        {"clock": rigs.clock((times, 1)), "echo": rigs.echo(ppqn=ppqn)},
        [("clock.out-1", "echo.clock")],
        settings={"echo.beats-left": note, "echo.feedback": feedback},
        setlist=Setlist("tiny", sections=sections) if tempi_bpm else None,
    )


CLOCKS = {
    "echo-longer-than-memory": Case(
        lambda: echoing("1/1", 124.0, 119.0), lambda: echoing("1/1", 124.0, 120.0)
    ),
    "echo-never-fades": Case(
        lambda: echoing("1/8", feedback=1.0), lambda: echoing("1/8", feedback=0.99)
    ),
    "clock-rate-unexpected": Case(lambda: clocked((24, 1), (4, 1)), lambda: clocked((4, 1))),
    "gate-too-short": Case(lambda: pulsed("1.9 ms"), lambda: pulsed("2 ms")),
    "pattern-never-meets": Case(lambda: patterns(7, 11, 5), lambda: patterns(7, 5)),
}

# --- midi ------------------------------------------------------------------------------------------------------------


def mapped(
    *maps: Map,
    is_plugged: bool = True,
    plug: Plug = Plug.MIDI_DIN,
    setlist: Setlist | None = None,
) -> Project:
    """Two faders and a bridge with two slots."""
    return rigs.project(
        {"faders": rigs.faders(2, plug), "bridge": rigs.bridge(2, plug)},
        [("faders.midi", "bridge.midi")] if is_plugged else [],
        maps=maps,
        setlist=setlist,
    )


def fader(number: int, cc: int, channel: int = 1, *, to: str | None = None) -> Map:
    """Fader so and so to the slot of the same number, unless it is another."""
    return Map(f"faders.f{number}", cc, channel, (to or f"bridge.cc-{number}",))


def on_channel(channel: int) -> Project:
    """A fader that sends controller 1 on such a channel to something that hears it on channel 1."""
    return rigs.project(
        {"faders": rigs.faders(1), "bridge": rigs.midi_in(Plug.MIDI_DIN)},
        [("faders.midi", "bridge.midi")],
        maps=[Map("faders.f1", 1, channel)],
    )


def merged(*, is_loop: bool) -> Project:
    """Two mergers one behind the other, the second's other output back into the first or not."""

    def merger(name: str) -> Sheet:
        return rigs.sheet(
            name,
            [
                *(
                    Jack(f"in-{i}", Way.IN, Signal.MIDI, Plug.MIDI_DIN, {"midi": (f"m.in-{i}",)})
                    for i in (1, 2)
                ),
                *(
                    Jack(f"out-{i}", Way.OUT, Signal.MIDI, Plug.MIDI_DIN, {"midi": ("m.out",)})
                    for i in (1, 2)
                ),
            ],
            {"m": ("midi-merge", {"ways": 2})},
        )

    cables = [
        ("faders.midi", "first.in-1"),
        ("first.out-1", "second.in-1"),
        ("second.out-1", "bridge.midi"),
    ]
    return rigs.project(
        {
            "faders": rigs.faders(1),
            "first": merger("first"),
            "second": merger("second"),
            "bridge": rigs.bridge(1),
        },
        cables + ([("second.out-2", "first.in-2")] if is_loop else []),
        maps=[fader(1, 20)],
    )


def swept(beats: float, *, tempo_bpm: float = 120.0) -> Project:
    """Both faders go from end to end in so many beats, at the same time."""
    moves = tuple(
        Move(f"faders.f{i}", 1.0, beats=beats, hand=hand) for i, hand in ((1, "left"), (2, "right"))
    )
    return mapped(
        fader(1, 20),
        fader(2, 21),
        setlist=Setlist("tiny", tempo_bpm=tempo_bpm, sections=(Passage("only", moves=moves),)),
    )


MIDI = {
    "cc-sent-twice": Case(
        lambda: mapped(fader(1, 20), fader(2, 20)), lambda: mapped(fader(1, 20), fader(2, 20, 2))
    ),
    "map-overruled": Case(
        lambda: mapped(fader(1, 20), fader(2, 21, to="bridge.cc-1")),
        lambda: mapped(fader(1, 20), fader(2, 21)),
    ),
    "cc-unheard": Case(
        lambda: mapped(fader(1, 20), is_plugged=False), lambda: mapped(fader(1, 20))
    ),
    "midi-channels-differ": Case(lambda: on_channel(2), lambda: on_channel(1)),
    "midi-loop": Case(lambda: merged(is_loop=True), lambda: merged(is_loop=False)),
    "cc-number-reserved": Case(lambda: mapped(fader(1, 120)), lambda: mapped(fader(1, 119))),
    "midi-line-overrun": Case(lambda: swept(0.375), lambda: swept(0.5)),
}

# --- mix, rhythm and gestures ----------------------------------------------------------------------------------------

MIX = {
    "voice-lost-in-mix": Case(
        lambda: play.two_voices(5.0, 5.0, 0.009), lambda: play.two_voices(5.0, 5.0, 0.011)
    ),
    "set-overloads-interface": Case(
        lambda: play.rising(4.0), lambda: play.rising(3.5), lambda: play.faded(0.9)
    ),
    "set-drives-into-rails": Case(
        lambda: play.boosted(1.9), lambda: play.boosted(1.8), lambda: play.boosted_alone(1.9)
    ),
}
RHYTHM = {
    "reset-left-open": Case(
        lambda: play.two_steppers(both=False), lambda: play.two_steppers(both=True)
    ),
    "run-left-open": Case(lambda: play.running(both=False), lambda: play.running(both=True)),
    "reset-after-clock": Case(
        lambda: play.lagging(reset=True, clock=False), lambda: play.lagging(reset=True, clock=True)
    ),
    "echo-off-the-grid": Case(
        lambda: play.free_echo("400 ms", 120.0), lambda: play.free_echo("390 ms", 120.0)
    ),
    "division-slides-pattern": Case(
        lambda: play.divided(3, "x..."), lambda: play.divided(3, "x...............")
    ),
    "swing-applied-twice": Case(lambda: play.swung(0.6, 0.6), lambda: play.swung(0.5, 0.6)),
    "pattern-may-stay-away": Case(lambda: play.by_chance(0.33), lambda: play.by_chance(0.34)),
    "duck-stays-down": Case(lambda: play.ducking(3.1), lambda: play.ducking(3.0)),
}
GESTURES = {
    "third-hand-needed": Case(
        lambda: play.played(
            play.move(1, 0.0, 4.0), play.move(2, 1.0, 4.0, "left"), play.move(3, 3.9, 4.0)
        ),
        lambda: play.played(
            play.move(1, 0.0, 4.0), play.move(2, 1.0, 4.0, "left"), play.move(3, 4.0, 4.0)
        ),
    ),
    "hand-at-two-controls": Case(
        lambda: play.played(play.move(1, 0.0, 4.0), play.move(2, 3.9, 4.0)),
        lambda: play.played(play.move(1, 0.0, 4.0), play.move(2, 4.0, 4.0)),
    ),
    "reach-too-quick": Case(
        lambda: play.played(play.move(1, 0.0, 4.0), play.move(2, 4.5, 1.0)),
        lambda: play.played(play.move(1, 0.0, 4.0), play.move(2, 4.75, 1.0)),
    ),
    "control-jumps-in-set": Case(
        lambda: play.set_at_once(1),
        lambda: play.played(settings=[Settings("faders.f1", 0.04)]),
    ),
    "move-unheard": Case(
        lambda: play.turned("mix.level-2", second_v=0.0),
        lambda: play.turned("mix.level-2", second_v=0.001),
    ),
    "message-moves-a-stranger": Case(lambda: play.overheard(20), lambda: play.overheard(21)),
    "messages-bunch-up": Case(lambda: play.set_at_once(3), lambda: play.set_at_once(1)),
    "steps-will-be-heard": Case(
        lambda: play.stepping(Signal.PITCH), lambda: play.stepping(Signal.PITCH, slew_s=0.032)
    ),
}

CASES: dict[str, Case] = {
    **POWER,
    **DISTRIBUTION,
    **FIT,
    **CABLES,
    **COPIES,
    **LEVELS,
    **DELAYS,
    **CLOCKS,
    **MIDI,
    **MIX,
    **RHYTHM,
    **GESTURES,
}
