"""Every section kind keeps the promises of `rigproof.kinds.base`; a new file is covered when it joins the table."""

import importlib
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import rigproof.kinds
from rigproof.engine.compile import compiled
from rigproof.kinds import KINDS
from rigproof.kinds.base import (
    BLOCK,
    COLUMNS,
    LEAD,
    MIDI_CODES,
    RATE_HZ,
    Beat,
    Kind,
    Level,
    Param,
    Port,
    Pulse,
    Setting,
    Span,
)
from rigproof.units import UNITS
from tests.kinds.running import Floats, setting_of

FOLDER = Path(rigproof.kinds.__file__).parent
EVERY_KIND = pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
EVERY_SEED = pytest.mark.parametrize("seed", range(4))
HOSTILE_V = 100.0
SUBNORMAL = np.finfo(np.float64).tiny


# --- a section at the mercy of chance ----------------------------------------------------------------------------


def any_value(param: Param, rng: np.random.Generator) -> float:
    """A value within the range: an end, the default, or anything between, low values as often as high ones."""
    if param.choices:
        return float(rng.integers(len(param.choices)))
    choice = rng.integers(6)
    if choice < 2:
        return (param.lo, param.hi)[choice]
    if choice == 2:
        return param.default
    if param.lo > 0.0 and param.hi / param.lo > 100.0:
        return float(
            np.clip(
                math.exp(rng.uniform(math.log(param.lo), math.log(param.hi))), param.lo, param.hi
            )
        )
    return float(rng.uniform(param.lo, param.hi))


def sounds(rng: np.random.Generator) -> tuple[Floats, ...]:
    """Two short samples, one mono and one stereo."""
    return rng.uniform(-1.0, 1.0, (700, 1)), rng.uniform(-1.0, 1.0, (300, 2))


def any_setting(kind: Kind, rng: np.random.Generator, *, moving: bool) -> Setting:
    """Chance for every parameter; when moving, two values and the span between."""
    lowest, highest, usual = kind.ways or (1, 1, 1)
    ways = int(rng.choice([lowest, min(highest, max(lowest, 5)), usual]))
    setting = setting_of(kind, ways=ways, seed=int(rng.integers(1000)))
    params = kind.expand_params(ways)
    if kind.is_internal:  # the net sets it, and nothing moves it
        return setting
    values = {p.name: any_value(p, rng) for p in params}
    spans = (
        {p.name: Span.around(values[p.name], any_value(p, rng)) for p in params} if moving else {}
    )
    return replace(setting, values=values, spans=spans, sounds=sounds(rng))


def midi_wave(rng: np.random.Generator, samples: int) -> Floats:
    """Messages now and then."""
    wave = np.zeros(samples)
    for at in rng.integers(0, samples, 12):
        status = int(rng.choice([0x80, 0x90, 0xB0, 0xE0])) + int(rng.integers(2))
        if rng.random() < 0.4:
            status = int(rng.choice([0xF8, 0xFA, 0xFB, 0xFC]))
        wave[at] = status + 256 * int(rng.integers(128)) + 65536 * int(rng.integers(128))
    return wave


def wave_of(port: Port, rng: np.random.Generator, samples: int, *, hostile: bool) -> Floats:
    """Rest, silence, steps, pulses, noise, a tone; or what no cable should carry."""
    if port.is_midi:
        return midi_wave(rng, samples)
    peak_v = HOSTILE_V if hostile else 8.0
    n = np.arange(samples)
    shapes = (
        lambda: np.full(samples, port.rest_v),
        lambda: np.zeros(samples),
        lambda: np.repeat(rng.uniform(-peak_v, peak_v, samples // 16 + 1), 16)[:samples],
        lambda: np.where(n % int(rng.integers(3, 90)) < 2, 5.0, 0.0),
        lambda: rng.uniform(-peak_v, peak_v, samples),
        lambda: peak_v * np.sign(np.sin(2 * np.pi * rng.uniform(0.0, 0.5) * n + 0.1)),
        lambda: peak_v * np.sin(2 * np.pi * rng.uniform(0.0, 0.5) ** 3 * n),
    )
    wave = np.asarray(shapes[int(rng.integers(len(shapes)))](), dtype=np.float64)
    if hostile:
        for bad in (math.nan, math.inf, -math.inf, HOSTILE_V, -HOSTILE_V, 1e300):
            wave[rng.integers(0, samples, 2)] = bad
    return wave


def span_of(port: Port, wave: Floats) -> Span:
    """What an input can be: what was fed, infinities and NaN counted as plus or minus 100 V."""
    if port.is_midi:
        return MIDI_CODES
    if not np.isfinite(wave).all() or np.abs(wave).max() > HOSTILE_V:
        return Span(-HOSTILE_V, HOSTILE_V)
    return Span(float(wave.min()), float(wave.max()))


class Bench:
    """A section with its bus, fed block by block. Parameters go to the other end of their spans and stay there."""

    def __init__(self, kind: Kind, setting: Setting, *, plain: bool, block: int = BLOCK) -> None:
        self.kind = kind
        self.block = block
        self.kernel = kind.kernel if plain else compiled(kind.kernel)
        self.inputs = kind.expand_inputs(setting.ways)
        self.outputs = kind.expand_outputs(setting.ways)
        self.names = [p.name for p in kind.expand_params(setting.ways)]
        self.is_switch = np.array(
            [bool(p.choices) for p in kind.expand_params(setting.ways)], dtype=bool
        )
        self.here = np.array([setting.values[name] for name in self.names])
        ends = [(setting.span(name).lo, setting.span(name).hi) for name in self.names]
        self.there = np.array(
            [hi if value == lo else lo for value, (lo, hi) in zip(self.here, ends, strict=True)]
        )
        self.rate_hz = setting.rate_hz
        self.state = np.array(kind.prepare(setting), dtype=np.float64).reshape(-1)
        self.bus = np.zeros((len(self.inputs) + len(self.outputs), COLUMNS))

    def glide(self, block: int) -> Floats:
        """The parameters of one block: at rest, then a glide over a block, then at rest again.

        As in the engine the value at column 0 lies between the ends too, and switches step.
        """
        params = np.zeros((1 + len(self.names), 2))
        params[RATE_HZ, 0] = self.rate_hz
        params[1:, 0] = self.here if block <= 2 else self.there
        if block == 2:
            params[1:, 0] = np.where(self.is_switch, self.there, self.here)
            params[1:, 1] = np.where(self.is_switch, 0.0, (self.there - self.here) / COLUMNS)
        return params

    def run(self, fed: Sequence[Floats], samples: int) -> Floats:
        """Return the outputs, one row each."""
        count = len(self.inputs)
        got = np.zeros((len(self.outputs), samples))
        ins = np.arange(count, dtype=np.int64)
        outs = np.arange(count, count + len(self.outputs), dtype=np.int64)
        for at in range(0, samples, BLOCK):
            params = self.glide(at // BLOCK)
            for row, wave in enumerate(fed):
                self.bus[row, LEAD:] = wave[at : at + BLOCK]
            for column in range(LEAD, COLUMNS, self.block):
                self.kernel(self.bus, ins, outs, params, self.state, column, column + self.block)
            got[:, at : at + BLOCK] = self.bus[count:, LEAD:]
            self.bus[:, LEAD - 1] = self.bus[:, COLUMNS - 1]
        return got


def trial(
    kind: Kind, seed: int, samples: int, *, hostile: bool
) -> tuple[Setting, list[Floats], list[Span]]:
    """A setting, what is fed, and its spans; the same for the same seed."""
    rng = np.random.default_rng([seed, *kind.name.encode()])
    setting = any_setting(kind, rng, moving=seed % 2 == 1)
    ports = kind.expand_inputs(setting.ways)
    # What a section of the net itself reads comes from other sections, which give finite voltages.
    fed = [wave_of(p, rng, samples, hostile=hostile and not kind.is_internal) for p in ports]
    return setting, fed, [span_of(p, w) for p, w in zip(ports, fed, strict=True)]


# --- promises about sound ----------------------------------------------------------------------------------------


def assert_inside(kind: Kind, setting: Setting, spans: list[Span], got: Floats) -> None:
    """Every sample of every output lies in its interval."""
    told = kind.interval(spans, setting)
    ports = kind.expand_outputs(setting.ways)
    assert len(told) == len(ports)
    assert np.isfinite(got).all()
    for port, span, wave in zip(ports, told, got, strict=True):
        assert math.isfinite(span.lo)
        assert math.isfinite(span.hi)
        assert span.holds(float(wave.min()), slack=1e-9), (port.name, span, wave.min(), setting)
        assert span.holds(float(wave.max()), slack=1e-9), (port.name, span, wave.max(), setting)


@EVERY_KIND
@pytest.mark.parametrize("seed", range(12))
def test_sound_never_leaves_the_interval(kind: Kind, seed: int) -> None:
    samples = 40 * BLOCK
    setting, fed, spans = trial(kind, seed, samples, hostile=seed % 3 == 0)
    bench = Bench(kind, setting, plain=False)
    got = bench.run(fed, samples)
    assert_inside(kind, setting, spans, got)
    assert np.isfinite(bench.state).all()
    assert np.abs(bench.state).max(initial=0.0) < 1e12


@pytest.mark.slow
@EVERY_KIND
def test_sound_never_leaves_the_interval_in_many_trials(kind: Kind) -> None:
    for seed in range(12, 212):
        test_sound_never_leaves_the_interval(kind, seed)
        test_level_lies_within_the_interval(kind, seed)


@EVERY_KIND
@EVERY_SEED
def test_plain_kernel_never_leaves_the_interval(kind: Kind, seed: int) -> None:
    """Uncompiled, so that a division by zero is an error and not an infinity."""
    samples = 4 * BLOCK
    setting, fed, spans = trial(kind, seed, samples, hostile=True)
    bench = Bench(kind, setting, plain=True)
    with np.errstate(
        divide="raise", over="ignore", invalid="ignore"
    ):  # inf less inf is fed on purpose
        got = bench.run(fed, samples)
    assert_inside(kind, setting, spans, got)
    assert np.isfinite(bench.state).all()


@EVERY_KIND
@EVERY_SEED
def test_compiled_kernel_equals_the_plain_one(kind: Kind, seed: int) -> None:
    """Tolerance: the compiler may fuse a product with a sum, which rounds once instead of twice."""
    samples = 4 * BLOCK
    setting, fed, _ = trial(kind, seed, samples, hostile=False)
    slow, fast = (Bench(kind, setting, plain=plain) for plain in (True, False))
    np.testing.assert_allclose(fast.run(fed, samples), slow.run(fed, samples), rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(fast.state, slow.state, rtol=1e-9, atol=1e-9)


@EVERY_KIND
@EVERY_SEED
def test_one_call_equals_sample_by_sample(kind: Kind, seed: int) -> None:
    samples = 8 * BLOCK
    setting, fed, _ = trial(kind, seed, samples, hostile=False)
    whole, single = (Bench(kind, setting, plain=False, block=block) for block in (BLOCK, 1))
    np.testing.assert_allclose(
        whole.run(fed, samples), single.run(fed, samples), rtol=1e-12, atol=1e-12
    )
    np.testing.assert_allclose(whole.state, single.state, rtol=1e-12, atol=1e-12)


def fast_value(param: Param) -> float:
    """The parameter where what decays decays soon: a short time, a high frequency."""
    if param.unit == "s":
        return max(param.lo, min(param.default, 0.001))
    return min(param.hi, max(param.default, 1000.0)) if param.unit == "Hz" else param.default


@EVERY_KIND
@pytest.mark.parametrize("is_fast", [False, True], ids=["as it comes", "fast"])
def test_silence_leaves_no_denormal_numbers(kind: Kind, is_fast: bool) -> None:
    """Noise, then five seconds at rest: what decays must reach exact zero."""
    rng = np.random.default_rng(5)
    setting = setting_of(kind)
    if is_fast:
        values = {p.name: fast_value(p) for p in kind.expand_params(setting.ways)}
        setting = replace(setting, values=values)
    bench = Bench(kind, setting, plain=False)
    bench.run([wave_of(p, rng, BLOCK * 8, hostile=False) for p in bench.inputs], BLOCK * 8)
    rest = [np.full(48_000, p.rest_v) for p in bench.inputs]
    for _ in range(5):
        got = bench.run(rest, 48_000 // BLOCK * BLOCK)
        for numbers in (bench.state, got):
            sizes = np.abs(numbers)
            assert not ((sizes > 0.0) & (sizes < SUBNORMAL)).any()


# --- promises about readings -------------------------------------------------------------------------------------


@EVERY_KIND
@pytest.mark.parametrize("seed", range(8))
def test_level_lies_within_the_interval(kind: Kind, seed: int) -> None:
    rng = np.random.default_rng([seed, *kind.name.encode()])
    setting = any_setting(kind, rng, moving=False)
    levels, spans = [], []
    for port in kind.expand_inputs(setting.ways):
        if port.is_midi:
            levels.append(Level())
            spans.append(MIDI_CODES)
            continue
        peak_v = float(rng.choice([0.0, 1.0, 5.0, 10.0]))
        level = Level.swing(peak_v, crest_ratio=float(rng.choice([1.0, math.sqrt(2.0), 3.0])))
        if rng.random() < 0.5:
            level = level.scaled(0.5, peak_v / 2.0)
        levels.append(level)
        spans.append(Span(level.lo_v, level.hi_v).including(port.rest_v))
    told = kind.level(levels, setting)
    for port, level, span in zip(
        kind.expand_outputs(setting.ways), told, kind.interval(spans, setting), strict=True
    ):
        if port.is_midi:
            continue
        assert all(map(math.isfinite, (level.lo_v, level.hi_v, level.dc_v, level.rms_v)))
        assert level.lo_v <= level.hi_v
        assert span.holds(level.lo_v, slack=1e-9), (port.name, level, span)
        assert span.holds(level.hi_v, slack=1e-9), (port.name, level, span)
        assert level.lo_v - 1e-9 <= level.dc_v <= level.hi_v + 1e-9
        most_v = max(level.hi_v - level.dc_v, level.dc_v - level.lo_v)
        assert 0.0 <= level.rms_v <= most_v + 1e-9, (port.name, level)


PULSES = (
    Pulse(),
    Pulse.steady(Fraction(1)),
    Pulse.steady(Fraction(4, 3), length_s=0.005),
    Pulse.steady(Fraction(24), length_s=0.001),
    Pulse(Beat.PATTERN, Fraction(3), Fraction(1), 0.01),
    Pulse(Beat.FREE, hz=2.0),
    Pulse(Beat.FREE),
    Pulse(Beat.IRREGULAR),
)


@EVERY_KIND
@EVERY_SEED
def test_rate_speaks_of_every_output(kind: Kind, seed: int) -> None:
    rng = np.random.default_rng([seed, *kind.name.encode()])
    setting = any_setting(kind, rng, moving=False)
    outputs = kind.expand_outputs(setting.ways)
    count = len(kind.expand_inputs(setting.ways))
    for pulse in PULSES:
        for ins in ([pulse] * count, [PULSES[int(i)] for i in rng.integers(0, len(PULSES), count)]):
            told = kind.rate(ins, setting)
            assert told is None or len(told) == len(outputs)
            for out in told or ():
                if out.beat in (Beat.STEADY, Beat.PATTERN):
                    assert out.per_quarter is not None
                    assert out.per_quarter > 0
                assert 0.0 <= out.chance <= 1.0
                assert out.hz is None or out.hz > 0.0


@EVERY_KIND
def test_delays_name_real_ports(kind: Kind) -> None:
    setting = setting_of(kind)
    sources = {p.name for p in kind.expand_inputs(setting.ways)}
    targets = {p.name for p in kind.expand_outputs(setting.ways)}
    for lag in kind.lags(setting):
        assert lag.source in sources
        assert lag.target in targets
        assert 0.0 <= lag.lo_s <= lag.hi_s


# --- promises about words ----------------------------------------------------------------------------------------


@EVERY_KIND
def test_it_is_documented_and_named_like_its_file(kind: Kind) -> None:
    module = importlib.import_module(f"rigproof.kinds.{kind.name.replace('-', '_')}")
    assert module.KIND is kind
    assert kind.doc == module.__doc__
    assert re.search(r"^Sources?: \S", kind.doc, re.MULTILINE)
    names = [
        kind.name,
        *(x.name for x in (*kind.inputs, *kind.outputs, *kind.params, *kind.options)),
    ]
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name) for name in names), names
    for things in (kind.inputs, kind.outputs, kind.params, kind.options):
        assert all(thing.doc for thing in things)
        assert len({thing.name for thing in things}) == len(things)
    has_many = any(x.many for x in (*kind.inputs, *kind.outputs, *kind.params))
    assert has_many <= (kind.ways is not None)


@EVERY_KIND
def test_parameters_have_ranges_and_units(kind: Kind) -> None:
    inside = {unit for unit, _ in UNITS.values()} | {"ratio"}
    for param in kind.params:
        assert param.lo <= param.default <= param.hi
        assert param.unit in inside, param
        if param.choices:
            assert (param.lo, param.hi) == (0.0, len(param.choices) - 1.0)
            assert len(set(param.choices)) == len(param.choices)


def kind_files() -> Iterator[str]:
    """The files that define a kind."""
    for path in sorted(FOLDER.glob("*.py")):
        if re.search(r"^KIND = Kind\(", path.read_text("utf-8"), re.MULTILINE):
            yield path.stem


def test_every_file_is_listed() -> None:
    assert {name.replace("_", "-") for name in kind_files()} == set(KINDS)


def test_names_are_unique() -> None:
    """A table by name would hide a second kind of the same name."""
    assert len(list(kind_files())) == len(KINDS)
