"""Power: what the modules draw from each rail against what the supply gives.

Caution: work on mains wiring, fuses and earthing is for a qualified person, by the local electrical code. Switch off
and unplug before opening a case, never plug or unplug the bus with power on, and check which way round each bus
connector goes: the wrong way can destroy a module. The maker's manual comes first. Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.model.edits import RemoveModule, SetRail, used_modules

RAIL_STEP_MA = 100.0
"""Supplies are chosen in steps of this. Common practice, no source. [mA]"""
HAIR_MA = 1e-6
"""Sums of decimal figures round; less than this is no excess. [mA]"""


def draws_ma(bench: Bench, rail: str) -> dict[str, float]:
    """Return what each module of the case draws from a rail, those that draw nothing left out. [mA]"""
    return {
        m.id: draw
        for m in bench.project.rig.modules
        if (draw := bench.sheet(m.id).draw_ma.get(rail, 0.0)) > 0.0
    }


def drawn_rails(bench: Bench) -> list[str]:
    """Return the rails that some module draws from, in the order in which sheets name them."""
    rails = [
        rail
        for m in bench.project.rig.modules
        for rail, draw in bench.sheet(m.id).draw_ma.items()
        if draw > 0.0
    ]
    return list(dict.fromkeys(rails))


def given_ma(bench: Bench, rail: str) -> float:
    """Return what the supply gives on a rail, 0 where it has no such rail. [mA]"""
    supply = bench.project.rig.supply
    return supply.rails_ma.get(rail, 0.0) if supply is not None else 0.0


def supply_that_bears(bench: Bench, rail: str, draw_ma: float) -> Fix:
    """Return the fix that fits a supply with headroom for the draw."""
    supply = bench.project.rig.supply
    free_ratio = supply.headroom_ratio if supply is not None else 0.2
    needed_ma = draw_ma / max(1.0 - free_ratio, 0.01)
    return fix_of(SetRail(rail, math.ceil(needed_ma / RAIL_STEP_MA - 1e-9) * RAIL_STEP_MA))


def spare_module_that_frees(bench: Bench, rail: str, excess_ma: float) -> Fix | None:
    """Return the fix that takes out the one unused module that frees just enough, or None when there is none."""
    used = used_modules(bench.project)
    enough = [
        (draw, module)
        for module, draw in draws_ma(bench, rail).items()
        if module not in used and draw >= excess_ma
    ]
    return fix_of(RemoveModule(min(enough)[1])) if enough else None


def hungriest(draws: dict[str, float]) -> str:
    """Return the modules that draw most, as words."""
    top = sorted(draws, key=lambda module: -draws[module])
    return listed([f"{module} {draws[module]:g} mA" for module in top], most=3)


@check("rail-overloaded", severity=Severity.STOPS_THE_SHOW)
def rail_overloaded(bench: Bench) -> Iterator[Finding]:
    """The modules draw more from a rail than the supply gives.

    On stage: the supply folds back or shuts down, and everything with it; or it runs hot until it does.
    Fix: the unused module that frees enough, else a supply that bears the draw with the headroom that the rig asks.
    Blind to: the surge at switch-on, several times the running current, and the copper between supply and module.
    Source: Kirchhoff's current law: draws add on a rail (Horowitz & Hill, The Art of Electronics, 3rd ed., ch. 1).
    """
    supply = bench.project.rig.supply
    for rail in drawn_rails(bench) if supply is not None else []:
        draws, rail_ma = draws_ma(bench, rail), given_ma(bench, rail)
        draw_ma = sum(draws.values())
        if supply is None or rail_ma <= 0.0 or draw_ma <= rail_ma + HAIR_MA:
            continue
        excess_ma = draw_ma - rail_ma * (1.0 - supply.headroom_ratio)
        yield Finding(
            rail,
            f"{rail} gives {rail_ma:g} mA, {len(draws)} modules draw {draw_ma:g} mA: "
            f"{draw_ma - rail_ma:g} mA too much. Most: {hungriest(draws)}.",
            {"draw_ma": draw_ma, "rail_ma": rail_ma, "over_ma": draw_ma - rail_ma},
            spare_module_that_frees(bench, rail, excess_ma)
            or supply_that_bears(bench, rail, draw_ma),
            supply.where,
        )


@check("rail-headroom-short", severity=Severity.HURTS)
def rail_headroom_short(bench: Bench) -> Iterator[Finding]:
    """A rail bears its modules but keeps less free than the rig asks.

    On stage: a warm night or a cold start is enough; a supply near its limit may refuse to start.
    Fix: the unused module that frees enough, else a supply that keeps the share free.
    Blind to: what the sheets leave out: lamps, displays and loads that come and go.
    Source: keep 20 to 30 % of each rail free: common practice, no source. The share is the rig's own `headroom`.
    """
    supply = bench.project.rig.supply
    for rail in drawn_rails(bench) if supply is not None else []:
        draws, rail_ma = draws_ma(bench, rail), given_ma(bench, rail)
        draw_ma = sum(draws.values())
        if supply is None or not draw_ma <= rail_ma + HAIR_MA:
            continue
        planned_ma = rail_ma * (1.0 - supply.headroom_ratio)
        if draw_ma > planned_ma + HAIR_MA:
            free_ratio = 1.0 - draw_ma / rail_ma
            yield Finding(
                rail,
                f"{rail} keeps {100 * free_ratio:.1f} % free, the rig asks for "
                f"{100 * supply.headroom_ratio:g} %: {draw_ma:g} of {rail_ma:g} mA are drawn.",
                {"draw_ma": draw_ma, "planned_ma": planned_ma, "free_ratio": free_ratio},
                spare_module_that_frees(bench, rail, draw_ma - planned_ma)
                or supply_that_bears(bench, rail, draw_ma),
                supply.where,
            )


@check("rail-missing", severity=Severity.STOPS_THE_SHOW)
def rail_missing(bench: Bench) -> Iterator[Finding]:
    """Modules draw from a rail that the supply does not have.

    On stage: those modules stay dark.
    Fix: a supply that has the rail and bears the draw.
    Blind to: modules that make their own 5 V from +12 V; their sheet should say so by drawing from +12 V.
    Source: sheets name the rails +12V, -12V and +5V: common practice, no source.
    """
    supply = bench.project.rig.supply
    for rail in drawn_rails(bench) if supply is not None else []:
        if given_ma(bench, rail) > 0.0 or supply is None:
            continue
        draws = draws_ma(bench, rail)
        draw_ma = sum(draws.values())
        yield Finding(
            rail,
            f"the supply has no {rail}; {listed(list(draws))} would draw {draw_ma:g} mA from it.",
            {"draw_ma": draw_ma, "rail_ma": 0.0},
            supply_that_bears(bench, rail, draw_ma),
            supply.where,
        )


@check("supply-unstated", severity=Severity.WORTH_KNOWING)
def supply_unstated(bench: Bench) -> Iterator[Finding]:
    """Modules draw current and the rig names no supply, so nothing can be said about power.

    On stage: perhaps nothing; perhaps the supply folds back when the last module is plugged in.
    Fix: a supply for every rail that is drawn from, with the usual headroom.
    Blind to: rigs whose modules all have mains adapters of their own.
    Source: 20 % of each rail kept free: common practice, no source.
    """
    rails = drawn_rails(bench) if bench.project.rig.supply is None else []
    if rails:
        totals = {rail: sum(draws_ma(bench, rail).values()) for rail in rails}
        edits = [e for rail in rails for e in supply_that_bears(bench, rail, totals[rail]).edits]
        yield Finding(
            "supply",
            "the rig names no supply, yet its modules draw "
            + listed([f"{totals[rail]:g} mA from {rail}" for rail in rails])
            + ".",
            {f"draw_{_word(rail)}_ma": totals[rail] for rail in rails},
            fix_of(*edits),
            bench.project.rig.where,
        )


def _word(rail: str) -> str:
    """Return a rail's name as part of a key: `plus_12v`."""
    return rail.replace("+", "plus_").replace("-", "minus_").lower()
