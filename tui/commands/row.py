"""`fillwright row`: several fills from the same banks, in the order that gets most of them done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from blender.errors import InputError, NoFillError
from blender.planning import PlanRequest, parse_gas_at, parse_want
from blender.planning.in_a_row import LeftOut, Row, in_a_row
from blender.planning.options import Options
from blender.units import parse_size
from tui.commands.plan import CAUTION

_HELP = 'give SIZE WHAT-IS-IN WHAT-IS-WANTED such as "12L 60bar:EAN28 230bar:EAN32"'
_MOST_TOLD = 5


def answer(fill: Sequence[str], **options: Any) -> dict[str, Any]:
    """Plan fills in a row; the options are those of a plan, and hold for every fill.

    Raises
    ------
    InputError
        If a fill or an option cannot be read.
    NoFillError
        If none of the fills can be done.
    """
    supply = tuple(options.pop("supply", ()))
    typed = [str(text).strip() for text in fill]
    given = Options(supply=supply, **options)
    requests = [_request(text, given) for text in typed]
    if not requests:
        raise InputError("--fill", "nothing", _HELP)
    row = in_a_row(requests, requests[0].supplies)
    if not row.done:
        raise _none(row, typed)
    return {
        "order": [one.fill + 1 for one in row.done],
        "exact": row.is_exact,
        "fills": [
            {"fill": one.fill + 1, "typed": typed[one.fill], "plan": one.plan.as_dict()}
            for one in row.done
        ],
        "cannot": [_left_out(one, typed) for one in row.left_out],
        "supplies_after": [one.as_dict() for one in row.supplies],
    }


def _request(text: str, given: Options) -> PlanRequest:
    """Read one fill: a size, then the two words with a colon; a gas may have a space in it."""
    size, _, rest = text.partition(" ")
    words = rest.split()
    starts = [place for place, word in enumerate(words) if ":" in word]
    if len(text) > 200 or len(starts) != 2 or starts[0] != 0:
        raise InputError("--fill", repr(text[:80]), _HELP)
    have, want = " ".join(words[: starts[1]]), " ".join(words[starts[1] :])
    return given.request(
        parse_size(size, "--fill").volume_m3,
        parse_gas_at(have, "--fill"),
        parse_want(want, "--fill"),
    )


def _left_out(one: LeftOut, typed: Sequence[str]) -> dict[str, Any]:
    return {
        "fill": one.fill + 1,
        "typed": typed[one.fill],
        "alone": one.alone,
        "code": one.error.code,
        "text": one.error.text,
        "alternatives": one.error.alternatives,
    }


def _none(row: Row, typed: Sequence[str]) -> NoFillError:
    """Say why none can be done, and what is nearest to each."""
    told = [f"fill {one.fill + 1} ({typed[one.fill]}): {one.error.text}" for one in row.left_out]
    more = f"; and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    return NoFillError(
        f"none of these fills can be done; {'; '.join(told[:_MOST_TOLD])}{more}",
        code="row",
        alternatives=[
            {**other, "fill": one.fill + 1}
            for one in row.left_out
            for other in one.error.alternatives
        ],
    )


def lines(found: dict[str, Any]) -> list[str]:
    """Write the row out: the order with its stops, what cannot be done, and the banks after."""
    count = len(found["fills"]) + len(found["cannot"])
    how = "every order was looked at" if found["exact"] else "by rule, not every order"
    told = [f"{len(found['fills'])} of {count} fills can be done, in this order ({how}):"]
    for place, one in enumerate(found["fills"], start=1):
        told.append(f"{place}. fill {one['fill']}: {one['typed']}")
        told += [f"     {_stop(step)}" for step in one["plan"]["steps"] if step["action"] in _TOLD]
        told += [f"     ! {warning['text']}" for warning in one["plan"]["warnings"]]
    for one in found["cannot"]:
        when = "after these" if one["alone"] else "not even alone"
        told.append(f"NOT POSSIBLE, {when}: fill {one['fill']}: {one['typed']}: {one['text']}")
        told += [f"     or: {other['text']}" for other in one["alternatives"]]
    banks = [one for one in found["supplies_after"] if "pressure_bar" in one]
    standing = ", ".join(f"{one['name']} {one['pressure_bar']:.1f} bar" for one in banks)
    return [*told, *([f"Banks afterwards: {standing} (20 degC)"] if banks else []), CAUTION]


_TOLD = ("drain", "purge", "add", "flow")


def _stop(step: dict[str, Any]) -> str:
    named = f" {step['supply']}" if "supply" in step else ""
    by = " with the booster" if step.get("boosted") else ""
    bank = f", which goes to {step['supply_to_bar']:.1f} bar" if "supply_to_bar" in step else ""
    return (
        f"{step['action']}{named}{by} to {step['to_bar']:.1f} bar at "
        f"{step['temperature_c']:.0f} degC{bank}"
    )
