"""Distribution: what lies between supply and module: the surge at switch-on, leads, bus boards, ribbons.

Caution: work on mains wiring, fuses and earthing is for a qualified person, by the local electrical code. Switch off
and unplug before opening a case, never plug or unplug the bus with power on, and check which way round each bus
connector goes: the wrong way can destroy a module. The maker's manual comes first. Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from rigproof.checks.base import Bench, Finding, Fix, Severity, check, fix_of, listed
from rigproof.checks.power import (
    HAIR_MA,
    RAIL_STEP_MA,
    drawn_rails,
    draws_ma,
    given_ma,
    hungriest,
)
from rigproof.model.edits import (
    HangOnBoard,
    RemoveModule,
    SetBoardLead,
    SetRibbon,
    SetSurge,
    used_modules,
)
from rigproof.model.rig import RAILS, RIBBONS, Board

SURGE_RATIO = 3.0
"""Where a sheet is silent its surge is taken for so many times the running current, and where the supply is silent it
is taken to bear so many times its rating. `Several times`: common practice, no source; the figure is our choice."""
RAIL_V = {"+12V": 12.0, "-12V": 12.0, "+5V": 5.0}
SAG_RATIO = 0.03
"""Share of a rail's voltage that its lead may cost. Wiring guides ask for 3 % at most (from memory: the informational
note to NEC 210.19 for branch circuits); for a case, common practice, no source."""
USUAL_MM2 = (0.14, 0.25, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0)
"""Cross-sections that are sold, IEC 60228 (from memory). [mm2]"""
WIRE_MA = 1000.0
"""What one wire of a ribbon carries: about 1 A, a rule of thumb for 28 AWG. [mA]"""
WIRES_A_RAIL = 2
"""Wires of a bus ribbon that carry one rail, in the ten-way and the sixteen-way one. Common practice, no source."""
TEN_WAY, SIXTEEN_WAY = RIBBONS


def surges_ma(bench: Bench, rail: str) -> dict[str, float]:
    """Return what each module draws from a rail at switch-on: its sheet's figure, else a multiple of its draw. [mA]"""
    found = {}
    for m in bench.project.rig.modules:
        sheet = bench.sheet(m.id)
        surge = sheet.surge_ma.get(rail, SURGE_RATIO * sheet.draw_ma.get(rail, 0.0))
        if surge > 0.0:
            found[m.id] = surge
    return found


@check("surge-too-high", severity=Severity.HURTS)
def surge_too_high(bench: Bench) -> Iterator[Finding]:
    """At switch-on the modules together draw more from a rail than the supply bears for that moment.

    On stage: the supply folds back and tries again, so the case blinks, or it never starts; after a power cut in the
    middle of the set this shows, and not at home where everything was plugged in bit by bit.
    Fix: the unused module that frees enough, else a supply that bears the surge.
    Blind to: supplies that start slowly on purpose, and how long each surge lasts; a rail that is overloaded anyway.
    Source: surges add like draws (Kirchhoff's current law). Several times the running current for some milliseconds:
    common practice, no source; where sheet and supply are silent, both are taken for three times.
    """
    supply = bench.project.rig.supply
    for rail in drawn_rails(bench) if supply is not None else []:
        rail_ma = given_ma(bench, rail)
        if supply is None or rail_ma <= 0.0:
            continue
        if sum(draws_ma(bench, rail).values()) > rail_ma + HAIR_MA:
            continue  # overloaded, which is said already
        surges = surges_ma(bench, rail)
        surge_ma, borne_ma = sum(surges.values()), supply.surge_ma.get(rail, SURGE_RATIO * rail_ma)
        if surge_ma <= borne_ma + HAIR_MA:
            continue
        yield Finding(
            rail,
            f"{rail} bears {borne_ma:g} mA at switch-on, the modules draw {surge_ma:g} mA. "
            f"Most: {hungriest(surges)}.",
            {"surge_ma": surge_ma, "borne_ma": borne_ma, "over_ma": surge_ma - borne_ma},
            _module_whose_surge_is_spare(bench, surges, surge_ma - borne_ma)
            or fix_of(SetSurge(rail, math.ceil(surge_ma / RAIL_STEP_MA - 1e-9) * RAIL_STEP_MA)),
            supply.where,
        )


def _module_whose_surge_is_spare(
    bench: Bench, surges: dict[str, float], excess_ma: float
) -> Fix | None:
    used = used_modules(bench.project)
    enough = [(s, m) for m, s in surges.items() if m not in used and s >= excess_ma]
    return fix_of(RemoveModule(min(enough)[1])) if enough else None


# --- boards ----------------------------------------------------------------------------------------------------------


def boards(bench: Bench) -> tuple[Board, ...]:
    """Return the bus boards of the supply."""
    supply = bench.project.rig.supply
    return supply.boards if supply is not None else ()


def board_draws_ma(bench: Bench, board: Board, rail: str) -> dict[str, float]:
    """Return what each module on a board draws from a rail, those that draw nothing left out. [mA]"""
    return {m: draw for m, draw in draws_ma(bench, rail).items() if m in board.modules}


def board_that_bears(bench: Bench, module: str, but: str = "") -> str | None:
    """Return the board with the most room to spare on which a module could hang, or None when there is none."""
    best: tuple[float, str] | None = None
    for board in boards(bench):
        if board.id == but:
            continue
        rooms = [
            (limit - sum(board_draws_ma(bench, board, rail).values()) - need)
            for rail, limit in board.limit_ma.items()
            if (need := bench.sheet(module).draw_ma.get(rail, 0.0)) > 0.0
        ]
        room = min(rooms, default=math.inf)
        more = {rail: bench.sheet(module).draw_ma.get(rail, 0.0) for rail in RAILS}
        if room < 0.0 or any(v > SAG_RATIO * RAIL_V[r] for r, v in sags_v(bench, board, more)):
            continue
        if best is None or room > best[0]:
            best = (room, board.id)
    return best[1] if best is not None else None


@check("board-overloaded", severity=Severity.STOPS_THE_SHOW)
def board_overloaded(bench: Bench) -> Iterator[Finding]:
    """The modules on a bus board draw more from a rail than the board, its fuse or its connector may carry.

    On stage: a fuse opens and half the case goes dark; or a connector runs hot and gives up one warm night.
    Fix: the one module that frees enough, hung on a board that bears it.
    Blind to: boards of which the rig states no limit, and how warm the inside of the case is.
    Source: Kirchhoff's current law; the limit is the rig's own `limit_ma`.
    """
    for board in boards(bench):
        for rail, limit_ma in board.limit_ma.items():
            draws = board_draws_ma(bench, board, rail)
            draw_ma = sum(draws.values())
            if draw_ma <= limit_ma + HAIR_MA:
                continue
            movable = sorted((d, m) for m, d in draws.items() if d >= draw_ma - limit_ma - HAIR_MA)
            moves = ((m, board_that_bears(bench, m, board.id)) for _, m in movable)
            fix = next((fix_of(HangOnBoard(m, b)) for m, b in moves if b is not None), None)
            yield Finding(
                f"{board.id} {rail}",
                f"the board {board.id} may carry {limit_ma:g} mA on {rail}, its modules draw "
                f"{draw_ma:g} mA. Most: {hungriest(draws)}.",
                {"draw_ma": draw_ma, "limit_ma": limit_ma, "over_ma": draw_ma - limit_ma},
                fix,
                board.where,
            )


@check("module-on-no-board", severity=Severity.WORTH_KNOWING)
def module_on_no_board(bench: Bench) -> Iterator[Finding]:
    """The rig tells its bus boards, and a module that draws current hangs on none of them.

    On stage: it stays dark if that is true; if only the file is wrong, what the boards carry is more than is said here.
    Fix: the board with the most room.
    Blind to: modules with a mains adapter of their own; decline the finding there.
    Source: definition: current comes by a ribbon.
    """
    if not boards(bench):
        return
    hung = {m for board in boards(bench) for m in board.modules}
    for place in bench.project.rig.modules:
        draw_ma = sum(bench.sheet(place.id).draw_ma.values())
        if place.id in hung or draw_ma <= 0.0:
            continue
        board = board_that_bears(bench, place.id)
        yield Finding(
            place.id,
            f"{place.id} draws {draw_ma:g} mA and hangs on none of the boards "
            f"{listed([b.id for b in boards(bench)])}.",
            {"draw_ma": draw_ma},
            fix_of(HangOnBoard(place.id, board)) if board is not None else None,
            place.where,
        )


def ground_ma(draws: dict[str, float]) -> float:
    """Return what flows back through the ground of a lead: what +12V and +5V bring, less what -12V takes. [mA]

    >>> ground_ma({"+12V": 700.0, "-12V": 400.0})
    300.0
    """
    return draws.get("+12V", 0.0) + draws.get("+5V", 0.0) - draws.get("-12V", 0.0)


def sags_v(
    bench: Bench, board: Board, more_ma: dict[str, float] | None = None
) -> list[tuple[str, float]]:
    """Return what the lead of a board costs each rail, there and back; nothing when its copper is not known. [V]

    `more_ma` is drawn on top of what hangs there already.
    """
    if board.lead_ohm is None:
        return []
    draws = {
        rail: sum(board_draws_ma(bench, board, rail).values()) + (more_ma or {}).get(rail, 0.0)
        for rail in RAILS
    }
    back_ma = ground_ma(draws)
    found = []
    for rail in RAILS:
        # The far end of ground stands higher by what flows back; on -12V that helps, where it flows the other way.
        toward = -back_ma if rail == "-12V" else back_ma
        if draws[rail] > 0.0:
            found.append((rail, (draws[rail] + toward) * board.lead_ohm / 1000.0))
    return found


@check("board-lead-sags", severity=Severity.HURTS)
def board_lead_sags(bench: Bench) -> Iterator[Finding]:
    """The lead to a bus board is so long or thin that it costs a rail more than 3 % of its voltage.

    On stage: modules at the end of it clip sooner or do not start, and the pitch of everything on it moves a little
    whenever a load comes and goes, since its ground moves too.
    Fix: a lead of the next cross-section that is sold and keeps the loss within 3 %.
    Blind to: contacts, ribbons and the board's own copper; stranded wire, which is a few per cent worse; warmth, which
    adds 0.4 % for each degree.
    Source: Ohm's law with copper of 1/58 ohm mm2/m at 20 C (IEC 60028, 1925). 3 %: wiring guides, from memory; in a
    case common practice, no source.
    """
    for board in boards(bench):
        sags = sags_v(bench, board)
        worst = max(sags, key=lambda s: s[1] / RAIL_V[s[0]], default=None)
        if worst is None or board.mm2 is None or board.lead_ohm is None:
            continue
        rail, sag_v = worst
        limit_v = SAG_RATIO * RAIL_V[rail]
        if sag_v <= limit_v:
            continue
        needed_mm2 = board.mm2 * sag_v / limit_v
        sold = [mm2 for mm2 in USUAL_MM2 if mm2 >= needed_mm2]
        draws = {r: sum(board_draws_ma(bench, board, r).values()) for r in RAILS}
        yield Finding(
            board.id,
            f"the lead to the board {board.id} costs {rail} {1000 * sag_v:.0f} mV of "
            f"{RAIL_V[rail]:g} V; {1000 * limit_v:.0f} mV is as much as it should.",
            {
                "sag_v": sag_v,
                "limit_v": limit_v,
                "lead_ohm": board.lead_ohm,
                "ground_shift_v": ground_ma(draws) * board.lead_ohm / 1000.0,
            },
            fix_of(SetBoardLead(board.id, sold[0])) if sold else None,
            board.where,
        )


# --- ribbons ---------------------------------------------------------------------------------------------------------


@check("ribbon-lacks-five-volts", severity=Severity.STOPS_THE_SHOW)
def ribbon_lacks_five_volts(bench: Bench) -> Iterator[Finding]:
    """A module that draws from +5V is joined to the bus by a ten-way ribbon, which has no +5V.

    On stage: its digital half, its screen or its lamps stay dark, and perhaps all of it.
    Fix: a sixteen-way ribbon.
    Blind to: ribbons that the rig does not name, and sixteen-way ones on a bus whose +5V is not fed.
    Source: a ten-way connector carries -12V, ground and +12V; the sixteen-way one adds +5V, CV and gate: common
    practice, no source.
    """
    for place in bench.project.rig.modules:
        draw_ma = bench.sheet(place.id).draw_ma.get("+5V", 0.0)
        if place.ribbon == TEN_WAY and draw_ma > 0.0:
            yield Finding(
                place.id,
                f"{place.id} draws {draw_ma:g} mA from +5V, and its ten-way ribbon has no +5V.",
                {"draw_ma": draw_ma},
                fix_of(SetRibbon(place.id, SIXTEEN_WAY)),
                place.where,
            )


@check("bus-ribbon-overloaded", severity=Severity.HURTS)
def bus_ribbon_overloaded(bench: Bench) -> Iterator[Finding]:
    """One module draws more from a rail than the wires of its ribbon should carry.

    On stage: connector and ribbon run warm, the contacts age, and the module drops out when someone leans on the case.
    Fix: none is computed: the maker's own lead, or a second connector, has to be found.
    Blind to: modules with a power connector of another sort; decline the finding there.
    Source: about 1 A a wire (rule of thumb for 28 AWG ribbon), two wires a rail: common practice, no source.
    """
    limit_ma = WIRES_A_RAIL * WIRE_MA
    for place in bench.project.rig.modules:
        for rail, draw_ma in bench.sheet(place.id).draw_ma.items():
            if draw_ma > limit_ma + HAIR_MA:
                yield Finding(
                    f"{place.id} {rail}",
                    f"{place.id} draws {draw_ma:g} mA from {rail}; the {WIRES_A_RAIL} wires that "
                    f"carry it in a bus ribbon bear about {limit_ma:g} mA.",
                    {"draw_ma": draw_ma, "limit_ma": limit_ma},
                    None,
                    place.where,
                )
