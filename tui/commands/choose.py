"""`fillwright choose`: every recipe a mix can be made by, ranked, with the reason."""

from __future__ import annotations

import re
from typing import Any

from blender.errors import InputError
from blender.gas import Mix
from blender.planning import parse_gas_at, parse_want
from blender.planning.choice import choices
from blender.planning.mass import parse_scale
from blender.planning.merits import OTHER_RATE_BAR_MIN, OXYGEN_RATE_BAR_MIN, Terms
from blender.planning.options import Options
from blender.planning.supplies import TOP_NAME, Supply, plain_name
from blender.units import parse_gauge_pressure, parse_number, parse_size
from tui.commands.plan import CAUTION

_PRICE = re.compile(r"\s*([^=\s]{1,40})\s*=\s*([\d.,]+)\s*", re.ASCII)
_MOST_PRICE = 100_000.0
_SHOWN = 3


def answer(
    cylinder: str,
    have: str,
    want: str,
    *,
    price: tuple[str, ...] = (),
    by: str | None = None,
    oxygen_rate: str | None = None,
    scale: str | None = None,
    **options: Any,
) -> dict[str, Any]:
    """List every recipe; the other options are those of a plan."""
    supply = tuple(options.pop("supply", ()))
    request = Options(supply=supply, **options).request(
        parse_size(cylinder, "--cylinder").volume_m3,
        parse_gas_at(have, "--have"),
        parse_want(want, "--want"),
    )
    terms = Terms(_prices(price, request.supplies), _rate(oxygen_rate), OTHER_RATE_BAR_MIN)
    wanted = [word.strip().lower() for word in by.split(",")] if by else []
    scale_g = None if scale is None else parse_scale(scale, "--scale")
    found = choices(request, terms, wanted, scale_g=scale_g)
    described = request.as_dict()
    described["typed"] = {"cylinder": cylinder, "have": have, "want": want}
    return {"request": described, "choices": [choice.as_dict() for choice in found]}


def _prices(typed: tuple[str, ...], supplies: tuple[Supply, ...]) -> dict[str, float]:
    """Read prices of a cubic metre, by supply."""
    names, found = {TOP_NAME, *(supply.name for supply in supplies)}, {}
    for text in typed:
        parts = _PRICE.fullmatch(text) if len(text) <= 80 else None
        if parts is None:
            raise InputError("--price", repr(text[:80]), "give NAME=MONEY a m3, such as o1=6.50")
        if parts[1] not in names:
            raise InputError("--price", repr(parts[1]), f"the supplies are {', '.join(names)}")
        money = parse_number(parts[2], "--price")
        if not 0.0 <= money <= _MOST_PRICE:
            raise InputError("--price", parts[2], f"0 to {_MOST_PRICE:g} a cubic metre")
        found[parts[1]] = money
    return found


def _rate(typed: str | None) -> float:
    if typed is None:
        return OXYGEN_RATE_BAR_MIN
    bar = parse_gauge_pressure(re.sub(r"/min$", "", typed.strip()), "--oxygen-rate")
    if not 0.1 <= bar <= 50.0:
        raise InputError("--oxygen-rate", repr(typed[:40]), "0.1 to 50 bar a minute, such as 4bar")
    return bar


def lines(found: dict[str, Any]) -> list[str]:
    """Write the first few choices out, each with its stops and why it is before the next."""
    many = len(found["choices"])
    written = [f"{many} recipe{'s' * (many != 1)}, the best first."]
    for number, choice in enumerate(found["choices"][:_SHOWN], start=1):
        written += [f"{number}. {choice['name'].capitalize()}: {_stops(choice)}"]
        written += [f"   {_merits(choice['merits'])}"]
        if choice["why"]:
            written += [f"   It {choice['why']}."]
    if many > _SHOWN:
        written += [f"{many - _SHOWN} more with --json."]
    return [*written, CAUTION]


def _stops(choice: dict[str, Any]) -> str:
    moved = [step for step in choice["steps"] if step["action"] not in ("rest", "analyse")]
    return ", ".join(_stop(step) for step in moved) or "nothing to do"


def _stop(step: dict[str, Any]) -> str:
    if step["action"] == "drain":
        return f"drain to {step['to_bar']:.1f} bar"
    if step["action"] == "flow":
        return f"intake {step['intake_o2']:.1%} O2 to {step['to_bar']:.1f} bar"
    if "scale_g" in step:
        return f"{step['supply']} until the scale shows {step['scale_g']:g} g"
    gas = "" if step["supply"] != TOP_NAME else f" ({_gas(step)})"
    return f"{step['supply']}{gas} to {step['to_bar']:.1f} bar"


def _gas(step: dict[str, Any]) -> str:
    return plain_name(Mix(**step["gas"]))


def _merits(merits: dict[str, Any]) -> str:
    told = []
    if merits["miss"] > 5e-5:
        told += [f"{merits['miss'] * 100:.2f} points off the mix"]
    if merits["cost"] is not None:
        told += [f"costs {merits['cost']:.2f}"]
    told += [
        f"{merits[name]:.2f} m3 {what}"
        for name, what in (
            ("oxygen_m3", "oxygen"), ("helium_m3", "helium"), ("drained_m3", "let out"),
        )
        if merits[name] > 5e-4
    ]  # fmt: skip
    told += [f"{merits['minutes']:.0f} min of filling"]
    if merits["o2_uncertainty"] is not None:
        told += [f"sure to O2 +- {merits['o2_uncertainty'] * 100:.1f} points"]
    return ", ".join(told)
