"""What a diver is shown of a fill, in plain words: a caption and what stands behind it."""

from __future__ import annotations

from collections.abc import Iterator

from textual.content import Content

from blender.rounding import deeper, shallower
from blender.station.offer import Offer
from reports.wording import FIXED, percent, pressure, temperature
from tui.plain import plain
from tui.saying import said
from tui.shown import Units

_CAPTION = 17  # cells
Line = tuple[str, str, bool]  # caption, text, whether it stands out


def analysed(offer: Offer, units: Units) -> Iterator[Line]:
    """Give what the station analysed and what follows from it."""
    yield "Cylinder", f"{offer.serial}, for {offer.customer}", True
    yield "You asked for", said(offer.wanted, units, offer), False
    yield from _depths(offer, units)
    yield "Pressure", _gauge(offer, units), False
    yield from _to_mind(offer, units)


def _to_mind(offer: Offer, units: Units) -> Iterator[Line]:
    """Give that gas was lost, or that it was analysed before it had rested, where it was."""
    if offer.lost:
        yield "! Mind", said(offer.lost, units), True
    if offer.unrested:
        yield "! Mind", offer.unrested, True


def stated(offer: Offer, units: Units) -> Iterator[Line]:
    """Give what the label will state, and whose readings it rests on."""
    yield "Cylinder", f"{offer.serial}, for {offer.customer}", True
    yield "Oxygen", f"{percent(offer.o2_percent)} %", True
    yield "Helium", _helium(offer.he_percent), offer.has_helium
    yield from _depths(offer, units)
    yield "Pressure", _gauge(offer, units), False
    yield from _to_mind(offer, units)
    yield "Station read", _reading(offer.o2_percent, offer.he_percent), False
    if offer.own_o2_percent is not None:
        yield "You read", _reading(offer.own_o2_percent, offer.own_he_percent), True


def _depths(offer: Offer, units: Units) -> Iterator[Line]:
    agreed = _pair(units, shallower(offer.mod_agreed_m), shallower(offer.mod_agreed_ft))
    high = _pair(units, shallower(offer.mod_high_m), shallower(offer.mod_high_ft))
    yield "Maximum depth", f"{agreed}, at {offer.agreed_ppo2_bar:.2f} bar of oxygen", True
    yield "Never deeper", f"{high}, at {offer.high_ppo2_bar:.2f} bar of oxygen", False
    if offer.hypoxic:
        floor = _pair(units, deeper(offer.floor_m), deeper(offer.floor_ft))
        yield "! TOO THIN", f"DO NOT BREATHE ABOVE {floor}", True


def _helium(percents: float | None) -> str:
    return "not measured" if percents is None else f"{percent(percents)} %"


def _reading(o2_percent: float, he_percent: float | None) -> str:
    helium = "" if he_percent is None else f", helium {percent(he_percent)} %"
    return f"oxygen {percent(o2_percent)} %{helium}"


def _gauge(offer: Offer, units: Units) -> str:
    """Return the gauge in the units shown, and as the label has it where that differs."""
    gauge = pressure(offer.pressure_bar, offer.imperial)
    label = f"{gauge} at {temperature(offer.temperature_c, offer.imperial)}".replace(FIXED, " ")
    if offer.imperial == units.imperial:
        return label
    here = f"{units.pressure(offer.pressure_bar, 0)} at {units.temperature(offer.temperature_c)}"
    return f"{here} (on the label {label})"


def _pair(units: Units, metre: int, feet: int) -> str:
    pair = (f"{metre} m", f"{feet} ft")
    return " / ".join(reversed(pair) if units.imperial else pair)


def drawn(lines: Iterator[Line], width: int, *, is_airy: bool) -> Content:
    """Return lines in so many cells, with room between them where there is some."""
    parts: list[Content] = []
    for caption, text, stands_out in lines:
        style = "bold" if stands_out else ""
        words = plain(text, style).wrap(max(width - _CAPTION, 10)) or [Content("")]
        heads = [plain(caption.ljust(_CAPTION), style), *[Content(" " * _CAPTION)] * len(words)]
        parts += [Content.assemble(*pair) for pair in zip(heads, words, strict=False)]
        parts += [Content("")] if is_airy else []
    return Content("\n").join(parts)
