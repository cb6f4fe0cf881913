"""The compressors and their air in the Store: shown, changed, read; and what gas costs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from blender.record.text import clean_text
from blender.station import measuring, plant, pricing
from blender.station.privacy import date_of
from blender.units import (
    parse_flow,
    parse_gauge_pressure,
    parse_number,
    parse_percent,
    parse_temperature,
)
from tui.dialogs.form import Drafts, Field, Form
from tui.places.store_asks import caught
from tui.shown import Units
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.store import Store

COMPRESSOR, AIR_TEST = "Add a compressor", "A test of the compressor's air"


# -- what the field asks -------------------------------------------------------------------


def ask_hours(store: Store, name: str) -> Ask:
    """Ask what a compressor's counter shows."""
    units = store.terminal.units

    async def enter(text: str) -> bool:
        hours, _, warmth = text.strip().partition(" ")
        made = await store.perform(
            plant.read_hours, name=name, hours=hours, temperature=_typed(warmth, units)
        )
        if made is None:
            return False
        since = made["since_last"]
        more = "" if since is None else f", {since:g} h since the last reading"
        return await store.done(f"{name}: {made['hours']:g} h{more}.")

    return Ask(
        f"hours-{name}",
        f"{name}: hours on its counter, and the air drawn in: 412.5 {units.example('28', '82')}",
        caught(store, enter), lambda text: hours_echo(name, text, units),
        "Filters and service count by these hours, and warm damp air uses a filter up sooner: "
        f"without a temperature {units.temperature(20.0)}. "
        "alt+x changes what it is made for: the oxygen its maker allows in, its highest "
        "pressure, its delivery. alt+j takes it out of use.",
    )  # fmt: skip


def hours_echo(name: str, text: str, units: Units) -> str:
    """Return how a counter's reading is understood."""
    hours, _, warmth = text.strip().partition(" ")
    told = f"{name}: {parse_number(hours, 'hours'):g} h"
    typed = _typed(warmth, units)
    return f"{told}, air {units.temperature(parse_temperature(typed))}" if typed else told


def _typed(warmth: str, units: Units) -> str:
    return units.typed_temperature(warmth.strip()) if warmth.strip() else ""


def ask_co(store: Store) -> Ask:
    """Ask for the air's carbon monoxide."""

    async def enter(text: str) -> bool:
        made = await store.perform(measuring.read_co, reading=_with_ppm(text))
        return made is not None and await store.done(
            f"{made['text']}.", "done" if made["ok"] else "mind"
        )

    return Ask(
        "air-co", "Carbon monoxide of the air as it leaves the compressor, such as 0.5ppm",
        caught(store, enter),
        lambda text: f"{measuring.amount(_with_ppm(text), 'carbon monoxide', 'ppm'):g} ppm",
        "Above the limit: stop the compressor and find the source; nobody fills with that air.",
    )  # fmt: skip


def _with_ppm(text: str) -> str:
    """Return a reading with its unit: a bare number of this field is in ppm."""
    return text if any(char.isalpha() for char in text) else f"{text.strip()}ppm"


def ask_price(store: Store, name: str) -> Ask:
    """Ask what a cubic metre of free gas from a supply costs."""

    async def enter(text: str) -> bool:
        made = await store.perform(pricing.set_price, supply=name, price=text)
        return made is not None and await store.done(
            f"{name}: {made['price_m3']:g} a cubic metre of free gas."
        )

    return Ask(
        f"price-{name}", f"{name}: price of a cubic metre of free gas, such as 6.50 (Esc: leave)",
        caught(store, enter),
        lambda text: f"{name}: {parse_number(text, 'price'):g} a cubic metre of free gas",
        "A bare number, in the shop's own money: recipes are ranked by it. A manager sets it.",
    )  # fmt: skip


# -- forms ---------------------------------------------------------------------------------


def compressor_form(units: Units, drafts: Drafts) -> Form:
    """Return the form of a new compressor."""
    return Form(COMPRESSOR, [Field("name", "Name", "K1", "", _text), *_figures({}, units)], drafts)


def compressor_title(name: str) -> str:
    """Return the title of the form of what a compressor is made for."""
    return f"What {name} is made for"


def change_form(known: Mapping[str, Any], units: Units, drafts: Drafts) -> Form:
    """Return the form of what a compressor is made for, with what the record has."""
    return Form(compressor_title(known["name"]), _figures(known, units), drafts)


def _figures(known: Mapping[str, Any], units: Units) -> list[Field]:
    def pressure(text: str) -> object:
        typed = units.typed_pressure(text.strip()) if text.strip() else ""
        return typed and parse_gauge_pressure(typed, "highest pressure")

    rated = f"{known['rated_intake'] * 100:g}%" if known else ""
    most = known["maximum_bar"] if known else None
    delivers = known["delivery_l_min"] if known else None
    return [
        Field("rated_intake", "Oxygen allowed in", "40%, as its maker says", rated,
              lambda text: parse_percent(text, "oxygen allowed in"),
              text="The highest oxygen its maker allows in the intake, dry. Never guessed."),
        Field("maximum", "Highest pressure", f"{units.example('330', '4800')}; empty: not known",
              "" if most is None else units.pressure(most).replace(".0 ", "").replace(" ", ""),
              pressure),
        Field("delivery", "Delivery at inlet", "200L/min; empty: not known",
              "" if delivers is None else f"{delivers:g}L/min",
              lambda text: text.strip() and parse_flow(text.strip(), "delivery")),
    ]  # fmt: skip


def compressor_facts(answers: Mapping[str, str], units: Units) -> dict[str, str | None]:
    """Return what a form says of a compressor as the use cases take it."""
    most, delivers = answers["maximum"].strip(), answers["delivery"].strip()
    return {
        "rated_intake": answers["rated_intake"].strip(),
        "maximum": units.typed_pressure(most) if most else None,
        "delivery": delivers or None,
    }


def air_test_form(drafts: Drafts) -> Form:
    """Return the form of a test of the compressor's air."""

    def amount(unit: str) -> Any:
        return lambda text: measuring.amount(text, "amount", unit)

    return Form(
        AIR_TEST,
        [
            Field("sampled", "Day of the sample", "2026-02-10", "", _day),
            Field("co", "Carbon monoxide", "0.5ppm", "", amount("ppm")),
            Field("co2", "Carbon dioxide", "420ppm", "", amount("ppm")),
            Field("oil", "Oil", "0.05mg/m3", "", amount("mg/m3")),
            Field("water", "Water", "20mg/m3", "", amount("mg/m3")),
            Field("by", "Tested by", "the laboratory, and its report's number", "", _text),
        ],
        drafts,
    )


def _text(text: str) -> str:
    return clean_text(text, "text", 120)


def _day(text: str) -> str:
    return date_of(text, "day of the sample")
