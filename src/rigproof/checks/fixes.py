"""Fixes that are computed: which control of the section that drives a jack has to stand where.

A section's own laws are asked with one parameter changed; nothing is guessed. Where no control sets a parameter that
helps, or its range does not go that far, there is no fix.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rigproof.checks.base import Bench, Fix, fix_of
from rigproof.kinds.base import Level, Pulse, Setting
from rigproof.model.edits import SetControl
from rigproof.model.sheet import Control
from rigproof.net.graph import Contact, NetSection

VOLUMES = ("master", "level", "peak", "gain", "gain-1")
"""Parameters that make an output larger or smaller as they do, the one that changes least else first."""
LENGTHS = ("width", "trigger", "gate", "hold")
"""Parameters that make a pulse longer or shorter."""
AFFINE = {"attenuverter": ("gain", "offset")}
"""Kinds whose output is the input times one parameter plus another in volts."""
PEAK_CREST_RATIO = 4.0
"""A sum of unlike sounds goes further than four times its RMS for 0.0063 % of the time, erfc(4/sqrt 2), if it is normal
as sums of many are (central limit theorem). What goes no further than that anyway is left as it is."""
MOST_CREST_RATIO = 3.0
"""The same for control voltages that are noise: 0.27 % of the time, erfc(3/sqrt 2)."""
HALVINGS = 24
LEANING_RATIO = 2.0
"""A voltage that goes so many times as far from its mean on one side as on the other leans. Our choice."""
SMALLEST_RATIO = 1e-3
"""A fix that would turn a control down to less than this share of its range turns it off, and is none."""
ROUNDING_STEPS = 1e-3
"""Share of the last digit by which halving may have missed a round value."""
DIGITS = 3
"""Significant digits to which a hand can set a control; more would be pretence."""


@dataclass(frozen=True, slots=True)
class Source:
    """The one section output that drives a jack, and what the way there makes of it."""

    section: NetSection
    output: int
    """Its place among the section's outputs."""
    contact: Contact
    weight_ratio: float
    """Share of the output's voltage that is left behind its load."""


def source_of(bench: Bench, contact: Contact) -> Source | None:
    """Return what drives a contact, or None when nothing or several outputs do."""
    node = bench.node(contact)
    if node is None or len(node.outputs) != 1:
        return None
    out = bench.net.contacts[node.outputs[0]]
    writer = None if out.source_row is None else bench.net.rows[out.source_row].writer
    if writer is None or out.source_row is None:
        return None
    section = bench.net.sections[writer]
    share = 1.0 / max(out.jack.resistance_ohm, 1e-3) / node.conductance_s
    return Source(section, section.outs.index(out.source_row), out, share)


def with_value(section: NetSection, param: str, value: float) -> Setting:
    """Return a section's setting with one parameter elsewhere."""
    spans = {k: v for k, v in section.setting.spans.items() if k != param}
    return replace(section.setting, values={**section.setting.values, param: value}, spans=spans)


def usual(level: Level, crest_ratio: float = PEAK_CREST_RATIO) -> Level:
    """Return a level with its ends drawn in to so many times the RMS about the mean, or to the top of a hit.

    The ends of a level add up as if all peaks met; they seldom do. Where nothing moves, or nobody says how much
    (RMS 0), the ends stay.
    """
    if level.rms_v == 0.0:
        return level
    reach_v = level.reach_v if level.hit_v > 0.0 else crest_ratio * level.rms_v
    return level.clipped(level.dc_v - reach_v, level.dc_v + reach_v)


def usual_cv(level: Level) -> Level:
    """Return a control voltage's level with rare ends drawn in, where it swings evenly about its mean as noise does.

    An envelope's peak comes with every hit and is not rare, however short it is: what leans to one side is left alone.
    """
    above_v, below_v = level.hi_v - level.dc_v, level.dc_v - level.lo_v
    if min(above_v, below_v) * LEANING_RATIO < max(above_v, below_v):
        return level
    return usual(level, MOST_CREST_RATIO)


def made_with(bench: Bench, source: Source, setting: Setting) -> Level:
    """Return what the driving section would typically make if it were set so, before the jack's clamp and load."""
    ins = [bench.level(row) for row in source.section.ins]
    return source.section.kind.level(ins, setting)[source.output]


def level_with(bench: Bench, source: Source, setting: Setting) -> Level:
    """Return what would be typical at the jack if the driving section were set so."""
    level = made_with(bench, source, setting)
    return level.clipped(*source.contact.jack.clamp_v).scaled(source.weight_ratio)


def pulse_with(bench: Bench, source: Source, setting: Setting) -> Pulse:
    """Return the pulses at the jack if the driving section were set so."""
    section = source.section
    found = section.kind.rate([bench.pulse(row) for row in section.ins], setting)
    return Pulse() if found is None else found[source.output]


def controls_for(
    bench: Bench, section: NetSection, params: Sequence[str]
) -> list[tuple[str, str, Control]]:
    """Return the controls that set one of these parameters of a section, in the order of the parameters.

    Those that a hand moves in the set are left out: where they stand at the start settles nothing.
    """
    found = []
    for param in params:
        span = section.setting.spans.get(param)
        if span is not None and not span.is_point:
            continue
        for name in bench.controls_of(section, param):
            if name in bench.played:
                continue
            module, _, control = name.partition(".")
            found.append((name, param, bench.sheet(module).controls[control]))
    return found


def rounded(value: float, *, up: bool, slack_steps: float = 1e-9) -> float:
    """Return a value to `DIGITS` significant digits, up or down; the other way where that is within the slack.

    >>> rounded(0.123456, up=False), rounded(0.123456, up=True)
    (0.123, 0.124)
    """
    if value == 0.0:
        return 0.0
    digits = DIGITS - 1 - math.floor(math.log10(abs(value)))
    step = 10.0**-digits
    steps = value / step
    whole = math.ceil(steps - slack_steps) if up else math.floor(steps + slack_steps)
    return round(whole * step, max(digits, 0))


def control_that_fits(
    bench: Bench,
    section: NetSection,
    params: Sequence[str],
    fits: Callable[[Setting], bool],
    *,
    up: bool,
) -> Fix | None:
    """Return the fix that moves one control just far enough, up or down, for `fits` to hold; None when none does."""
    for name, param, control in controls_for(bench, section, params):
        if control.choices:
            continue
        far = max(control.lo, control.hi) if up else min(control.lo, control.hi)
        if not up and far < 0.0:
            far = 0.0  # a gain below zero turns the signal over
        near = section.setting.values[param]
        if far == near or not fits(with_value(section, param, far)):
            continue
        good = far
        for _ in range(HALVINGS):
            middle = 0.5 * (near + good)
            if fits(with_value(section, param, middle)):
                good = middle
            else:
                near = middle
        lo, hi = sorted((control.lo, control.hi))
        for slack_steps in (ROUNDING_STEPS, 0.0):
            value = min(max(rounded(good, up=up, slack_steps=slack_steps), lo), hi)
            is_off = not up and value <= SMALLEST_RATIO * hi
            if not is_off and fits(with_value(section, param, value)):
                return fix_of(SetControl(name, value))
    return None


def fit_into_range(
    bench: Bench, source: Source, range_v: tuple[float, float]
) -> tuple[float, float, Fix | None]:
    """Return the gain and offset that lay what drives a jack over its range, and the fix where controls can do it. [V]

    Gain and offset are those that bring the level that is now at the jack to the range. The fix needs a section with
    gain and offset, or for a range that both sides share the middle of, a volume.
    """
    now = usual_cv(level_with(bench, source, source.section.setting))
    lo, hi = range_v
    gain = (hi - lo) / (now.hi_v - now.lo_v) if now.hi_v > now.lo_v else 1.0
    offset_v = lo - gain * now.lo_v
    return gain, offset_v, _affine_fix(bench, source, range_v) or _volume_fix(bench, source, lo, hi)


def _affine_fix(bench: Bench, source: Source, range_v: tuple[float, float]) -> Fix | None:
    """Set gain and offset of an attenuverter so that its input comes out over the range."""
    section = source.section
    names = AFFINE.get(section.kind.name)
    if names is None:
        return None
    knobs = [controls_for(bench, section, (name,)) for name in names]
    if not all(knobs):
        return None
    lo, hi = (end / source.weight_ratio for end in range_v)
    plain = replace(
        section.setting, values={**section.setting.values, names[0]: 1.0, names[1]: 0.0}, spans={}
    )
    fed = section.kind.level([bench.level(row) for row in section.ins], plain)[source.output]
    fed = usual_cv(fed)
    if fed.hi_v <= fed.lo_v:
        return None
    gain = rounded((hi - lo) / (fed.hi_v - fed.lo_v), up=False)
    offset_v = round(0.5 * (lo + hi) - gain * 0.5 * (fed.lo_v + fed.hi_v), DIGITS)
    edits = []
    for (name, _, control), value in zip(
        (knob[0] for knob in knobs), (gain, offset_v), strict=True
    ):
        if not min(control.lo, control.hi) <= value <= max(control.lo, control.hi):
            return None
        edits.append(SetControl(name, value))
    return fix_of(*edits)


def _volume_fix(bench: Bench, source: Source, lo: float, hi: float) -> Fix | None:
    """Turn a volume down until the level lies inside the range."""

    def fits(setting: Setting) -> bool:
        level = usual_cv(level_with(bench, source, setting))
        slack_v = 1e-3 * (hi - lo)
        return lo - slack_v <= level.lo_v and level.hi_v <= hi + slack_v

    return control_that_fits(bench, source.section, VOLUMES, fits, up=False)
