"""Raw values from files, given the unit that a section kind or a control expects. Checked once, here."""

from __future__ import annotations

import math

from rigproof.errors import RigError, ShapeError, Where, nearest_name
from rigproof.kinds.base import Param
from rigproof.model.sheet import Control, RawValue
from rigproof.units import example_quantity, format_quantity, parse_quantity


def as_written(raw: RawValue) -> str:
    """Return a raw value as it stands in a file: a list in brackets, a truth in small letters.

    >>> as_written(("H9", 5, ("x", True)))
    "['H9', 5, ['x', true]]"
    """
    if isinstance(raw, tuple):
        return f"[{', '.join(map(as_written, raw))}]"
    return str(raw).lower() if isinstance(raw, bool) else repr(raw)


def number_from_raw(
    raw: RawValue,
    where: Where,
    *,
    unit: str,
    lo: float,
    hi: float,
    choices: tuple[str, ...] = (),
) -> float | RigError:
    """Return the number that a raw value stands for in the unit, or the error that says why it stands for none."""
    if choices and isinstance(raw, str):
        if raw in choices:
            return float(choices.index(raw))
        return ShapeError(
            where,
            "no such choice",
            found=as_written(raw),
            known=choices,
            nearest=nearest_name(raw, choices),
        )
    if isinstance(raw, bool | int | float):
        value = float(raw)
    elif isinstance(raw, str):
        try:
            value = parse_quantity(raw, unit)
        except ValueError as error:
            return ShapeError(
                where, "not a quantity that fits", found=as_written(raw), expected=str(error)
            )
    else:
        return ShapeError(
            where,
            "not a number",
            found=as_written(raw),
            expected=f"a number such as {example_quantity(unit)}",
        )
    if not math.isfinite(value) or not lo <= value <= hi:
        return ShapeError(
            where,
            "outside its range",
            found=format_quantity(value, unit),
            expected=f"{format_quantity(lo, unit)} to {format_quantity(hi, unit)}",
        )
    return value


def param_value(raw: RawValue, param: Param, where: Where) -> float | RigError:
    """Return a section parameter's value from its raw form, or the error."""
    return number_from_raw(
        raw, where, unit=param.unit, lo=param.lo, hi=param.hi, choices=param.choices
    )


def control_value(raw: RawValue, control: Control, where: Where) -> float | RigError:
    """Return a control's value from its raw form, or the error."""
    lo, hi = min(control.lo, control.hi), max(control.lo, control.hi)
    return number_from_raw(raw, where, unit=control.unit, lo=lo, hi=hi, choices=control.choices)
