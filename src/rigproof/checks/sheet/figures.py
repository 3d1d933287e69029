"""Lints of the figures: what is not written, what can hardly be meant, and whose figures they are."""

from __future__ import annotations

from collections.abc import Iterator

from rigproof.checks.sheet.base import Described, Flaw, Weight, lint
from rigproof.model.sheet import Housing, Jack, Signal, Way

SHALLOW_MM, DEEP_MM = 10.0, 90.0
"""A module is hardly less or more deep than this. Common practice, no source. [mm]"""
LEAST_MA, MOST_MA = 1.0, 1500.0
"""A module hardly draws less or more than this from a rail. Common practice, no source. [mA]"""
RAILS_V = 12.0
"""Nothing in a case goes beyond its rails. [V]"""
NARROW_V = 0.5
"""A voltage that spans less carries nothing that a module reads. Our choice. [V]"""
OCTAVE_V = 1.0
"""A pitch line of 1 V/octave that spans less holds no octave. Common practice. [V]"""


@lint("width-missing", Weight.WRONG)
def width_missing(module: Described) -> Iterator[Flaw]:
    """Nobody says how wide the module is.

    Why: it takes no room in the case, and so everything fits.
    Do: write `hp`; the maker states it, or count the rail's holes: 5.08 mm each.
    Source: 1 HP = 5.08 mm: IEC 60297-3-101.
    """
    if module.sheet.housing is Housing.MODULE and module.sheet.hp == 0:
        yield Flaw("hp", "not written", module.sheet.where)


@lint("depth-missing", Weight.WRONG)
def depth_missing(module: Described) -> Iterator[Flaw]:
    """Nobody says how deep the module is.

    Why: it seems to fit a shallow case, and then meets the bus board.
    Do: write `depth_mm`, from the panel's back to the tallest part, power cable plugged in.
    Source: common practice, no source.
    """
    if module.sheet.housing is Housing.MODULE and module.sheet.depth_mm == 0.0:
        yield Flaw("depth_mm", "not written", module.sheet.where)


@lint("draw-missing", Weight.WRONG)
def draw_missing(module: Described) -> Iterator[Flaw]:
    """A module with circuits inside draws no current.

    Why: the sum of a rail comes out too low, and a supply is overloaded that seems to be enough.
    Do: write `draw_ma` for each rail from the maker's manual. Only a module without power, such as a mult, draws none.
    Source: common practice, no source.
    """
    sheet = module.sheet
    if sheet.housing is Housing.MODULE and sheet.sections and not any(sheet.draw_ma.values()):
        yield Flaw("draw_ma", "nothing on any rail", sheet.where)


@lint("figure-odd", Weight.DOUBTFUL)
def figure_odd(module: Described) -> Iterator[Flaw]:
    """A depth or a current is hardly possible in its unit.

    Why: centimetres or amperes were written where millimetres or milliamps are meant.
    Do: look at the unit in the manual; `depth_mm` is in millimetres, `draw_ma` in milliamps.
    Source: common practice, no source.
    """
    sheet = module.sheet
    if sheet.housing is not Housing.MODULE:
        return
    if sheet.depth_mm and not SHALLOW_MM <= sheet.depth_mm <= DEEP_MM:
        yield Flaw("depth_mm", f"{sheet.depth_mm:g} mm", sheet.where)
    for rail, draw_ma in sheet.draw_ma.items():
        if draw_ma and not LEAST_MA <= draw_ma <= MOST_MA:
            yield Flaw(f"draw_ma.{rail}", f"{draw_ma:g} mA", sheet.where)


@lint("range-senseless", Weight.WRONG)
def range_senseless(module: Described) -> Iterator[Flaw]:
    """A jack's range cannot be meant: beyond the rails, beyond its own clamp, too narrow, or the wrong way round.

    Why: every level and every fit is measured against the range.
    Do: write `range_v` as the manual states it, lowest first, in volts: a gate [0, 5], audio [-5, 5].
    Source: rails of 12 V and 1 V/octave: common practice.
    """
    for jack in module.sheet.jacks.values():
        if jack.signal.is_volts and jack.way is not Way.BARE:
            problem = range_problem(jack)
            if problem is not None:
                yield Flaw(f"jacks.{jack.id}.range_v", problem, jack.where)


def range_problem(jack: Jack) -> str | None:
    """Return what is wrong with a range, in words."""
    lo, hi = jack.range_v
    shown = f"{lo:g} to {hi:g} V"
    if lo >= hi:
        return f"{shown} goes nowhere"
    if max(abs(lo), abs(hi)) > RAILS_V:
        return f"{shown} lies beyond the rails of {RAILS_V:g} V"
    if jack.way is Way.OUT and not (jack.clamp_v[0] <= lo and hi <= jack.clamp_v[1]):
        return f"{shown} lies beyond its clamp, {jack.clamp_v[0]:g} to {jack.clamp_v[1]:g} V"
    least_v = OCTAVE_V if jack.signal is Signal.PITCH else NARROW_V
    if hi - lo < least_v:
        return f"{shown} is less than {least_v:g} V wide"
    return None


@lint("threshold-missing", Weight.DOUBTFUL)
def threshold_missing(module: Described) -> Iterator[Flaw]:
    """A gate, trigger or clock input does not say at which voltage it fires.

    Why: nobody can tell whether the pulse that arrives is high enough.
    Do: write `threshold_v` from the manual; where it is silent, 1 to 2 V is common.
    Source: common practice, no source.
    """
    for jack in module.sheet.jacks.values():
        if jack.way is Way.IN and jack.signal.is_pulses and jack.threshold_v is None:
            yield Flaw(f"jacks.{jack.id}", "no threshold_v", jack.where)


@lint("threshold-out-of-range", Weight.WRONG)
def threshold_out_of_range(module: Described) -> Iterator[Flaw]:
    """An input fires at a voltage that lies outside its own range.

    Why: it would fire never, or always.
    Do: look up both figures; the threshold lies between the range's ends.
    Source: by definition.
    """
    for jack in module.sheet.jacks.values():
        if jack.threshold_v is None or jack.way is not Way.IN:
            continue
        lo, hi = jack.range_v
        if not lo < jack.threshold_v < hi:
            yield Flaw(
                f"jacks.{jack.id}.threshold_v",
                f"{jack.threshold_v:g} V in a range of {lo:g} to {hi:g} V",
                jack.where,
            )


@lint("resistance-unwritten", Weight.NOTE)
def resistance_unwritten(module: Described) -> Iterator[Flaw]:
    """An output does not say its resistance.

    Why: 1000 ohm is taken; with a mult or a long pitch line the difference is heard as a note out of tune.
    Do: write `resistance_ohm` from the manual; pitch outputs often have less than 100 ohm, others 1000 ohm.
    Source: common practice, no source.
    """
    for jack in module.sheet.jacks.values():
        if (
            jack.way is Way.OUT
            and jack.signal.is_volts
            and not jack.is_inside
            and module.has_panel()
            and f"jacks.{jack.id}.resistance_ohm" not in module.written
        ):
            yield Flaw(f"jacks.{jack.id}", f"{jack.resistance_ohm:g} ohm is taken", jack.where)


@lint("typical-unsaid", Weight.DOUBTFUL)
def typical_unsaid(module: Described) -> Iterator[Flaw]:
    """The sheet does not say whose figures it holds.

    Why: a typical figure and the maker's look the same, and only one of them can be relied on.
    Do: write `typical = false` if every figure is from the maker's manual, else `typical = true`.
    Source: our choice.
    """
    if "typical" not in module.written:
        yield Flaw("typical", "not written; taken as the maker's figures", module.sheet.where)


@lint("figures-still-the-librarys", Weight.DOUBTFUL)
def figures_still_the_librarys(module: Described) -> Iterator[Flaw]:
    """The sheet says that its figures are the maker's, and they are those of a library sheet.

    Why: the library's figures are typical of such a module and no maker's; they may be far off.
    Do: write width, depth and current from the maker's manual, or `typical = true` until you have looked.
    Source: our choice.
    """
    sheet = module.sheet
    if sheet.is_typical or "typical" not in module.written or sheet.housing is not Housing.MODULE:
        return
    mine = (sheet.hp, sheet.depth_mm, dict(sheet.draw_ma))
    for other in module.library.values():
        if (
            other.housing is Housing.MODULE
            and other.draw_ma
            and mine == (other.hp, other.depth_mm, dict(other.draw_ma))
        ):
            yield Flaw(
                "typical",
                f"width, depth and current are all those of '{other.id}' in the library",
                sheet.where,
            )
            return


@lint("summary-missing", Weight.NOTE)
def summary_missing(module: Described) -> Iterator[Flaw]:
    """Nobody says what the module does.

    Why: the papers and the tour explain the rig to others in the words of its sheets.
    Do: write a sentence as `summary`.
    Source: our choice.
    """
    if not module.sheet.summary.strip():
        yield Flaw("summary", "not written", module.sheet.where)
