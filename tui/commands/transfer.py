"""`fillwright transfer`: gas let over from one cylinder into another by its own pressure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from blender.errors import InputError
from blender.planning.cautions import OXYGEN_SERVICE_O2
from blender.planning.request import GasAt, parse_gas_at
from blender.planning.transfer import transfer
from blender.units import parse_ambient, parse_gauge_pressure, parse_size, parse_temperature
from blender.vessel import Contents, contents_at
from tui.commands.plan import CAUTION

_HELP = "give SIZE=PRESSURE:GAS such as 12L=200bar:EAN32"
_MOST = 12
_HEAT = (
    "The cylinder that takes gas warms and the other cools: open slowly, and read both again when "
    "they have come to rest. The mix is calculated: analyse it, and put a new label on it."
)


@dataclass(frozen=True, slots=True)
class _Cylinder:
    typed: str
    litres: float
    inside: Contents


def answer(
    sources: Sequence[str],
    targets: Sequence[str],
    to: str | None = None,
    temperature: str = "20C",
    ambient: str = "1.01325bar",
) -> dict[str, Any]:
    """Answer from what was typed.

    Raises
    ------
    InputError
        If something cannot be read, or does not go together.
    NoFillError
        If gas would flow back, does not reach the pressure, or mixes are unlike.
    """
    at_c = parse_temperature(temperature, "--temperature")
    around = parse_ambient(ambient, "--ambient")
    to_bar = None if to is None else parse_gauge_pressure(to, "--to")
    givers = _cylinders(sources, "--from", at_c, around)
    takers = _cylinders(targets, "--into", at_c, around)
    done = transfer(
        [one.inside for one in givers], [one.inside for one in takers], at_c, around, to_bar
    )
    moved = sum(b.inside.mass_g - a.mass_g for a, b in zip(done.givers, givers, strict=True))
    asked = {"temperature_c": at_c, "ambient_bar": around}
    return {
        "request": asked if to_bar is None else asked | {"to_bar": to_bar},
        "from": _described(givers, done.givers, at_c, around),
        "into": _described(takers, done.takers, at_c, around),
        "moved_mol": done.moved_mol,
        "moved_g": moved,
        "warnings": _warnings(givers),
    }


def _cylinders(
    typed: Sequence[str], field: str, at_c: float, around: float
) -> tuple[_Cylinder, ...]:
    if not 1 <= len(typed) <= _MOST:
        raise InputError(field, f"{len(typed)} cylinders", f"give 1 to {_MOST}")
    return tuple(_cylinder(text, field, at_c, around) for text in typed)


def _cylinder(text: str, field: str, at_c: float, around: float) -> _Cylinder:
    size_text, equals, rest = text.partition("=")
    if not equals or len(text) > 120:
        raise InputError(field, repr(text[:120]), _HELP)
    size, held = parse_size(size_text, field), parse_gas_at(rest, field)
    return _Cylinder(text, size.litres, _contents(held, size.volume_m3, at_c, around))


def _contents(held: GasAt, volume_m3: float, at_c: float, around: float) -> Contents:
    read_c = at_c if held.temperature_c is None else held.temperature_c
    return contents_at(held.mix, held.gauge_bar, read_c, volume_m3, around)


def _described(
    cylinders: Sequence[_Cylinder], after: Sequence[Contents], at_c: float, around: float
) -> list[dict[str, Any]]:
    return [
        {
            "typed": one.typed,
            "cylinder_l": one.litres,
            "before": _state(one.inside, at_c, around),
            "after": _state(then, at_c, around),
        }
        for one, then in zip(cylinders, after, strict=True)
    ]


def _state(inside: Contents, at_c: float, around: float) -> dict[str, float]:
    gas = inside.mix
    return {
        "pressure_bar": inside.gauge_bar(at_c, around),
        "temperature_c": at_c,
        "o2": gas.o2,
        "he": gas.he,
        "amount_mol": inside.total_mol,
    }


def _warnings(givers: Sequence[_Cylinder]) -> list[dict[str, str]]:
    richest = max(one.inside.mix.o2 for one in givers)
    found = [{"code": "transfer", "text": _HEAT}]
    if richest > OXYGEN_SERVICE_O2:
        text = (
            f"gas with {richest:.1%} oxygen goes over: only into a cylinder, and through a whip, "
            "that are clean for oxygen, slowly"
        )
        found.append({"code": "oxygen-service", "text": text})
    return found


def lines(found: dict[str, Any]) -> list[str]:
    """Write out what each cylinder held and holds."""
    told = []
    for way, word in (("from", "From"), ("into", "Into")):
        for one in found[way]:
            before, after = one["before"], one["after"]
            told.append(f"{word} {one['typed']}: {_text(before)} -> {_text(after)}")
    told.append(
        f"{found['moved_mol']:.2f} mol ({found['moved_g']:.0f} g) go over; pressures at "
        f"{found['request']['temperature_c']:.0f} degC, settled."
    )
    return [*told, *(f"! {warning['text']}" for warning in found["warnings"]), CAUTION]


def _text(state: dict[str, float]) -> str:
    helium = f", He {state['he']:.2%}" if state["he"] > 5e-5 else ""
    return f"{state['pressure_bar']:.1f} bar O2 {state['o2']:.2%}{helium}"
