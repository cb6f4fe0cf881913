"""What is registered at the Counter: a cylinder, a diver, stamps that were read anew."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.equipment import check_typed, month, serial_of, stamped, yes_no
from blender.station.people import CERTIFIED
from blender.units import parse_gauge_pressure, parse_size
from tui.dialogs.form import Drafts, Field, Form
from tui.shown import Units

CYLINDER, DIVER = "New cylinder", "New diver"


def cylinder_form(serial: str, units: Units, drafts: Drafts, today: str = "9999-12") -> Form:
    """Return the form of a new cylinder, with the serial that was not known.

    `today` is the month by the station's clock: no stamp is of a later one.
    """
    if serial and drafts.get(CYLINDER, {}).get("serial", serial) != serial:
        drafts.pop(CYLINDER, None)  # half typed for another cylinder
    wp, tp = ("3000", "4500") if units.imperial else ("232", "348")

    def pressure(text: str) -> object:
        return parse_gauge_pressure(units.typed_pressure(text.strip()), "pressure")

    return Form(
        CYLINDER,
        [
            Field("serial", "Serial, a set A+B", "C-1001 or T-1+T-2", serial, serial_of),
            Field("size", "Size", "12L, 2x12L or 80cuft@3000psi", "", parse_size),
            Field("wp", "Working pressure", wp, "", pressure),
            Field("tp", "Test pressure", tp, "", pressure),
            Field("tested", "Tested", "2025-03, as stamped", "",
                  lambda t: stamped(t, "tested", today)),
            Field("inspected", "Inspected", "2026-02", "",
                  lambda t: stamped(t, "inspected", today)),
            Field("clean", "Oxygen clean", "yes or no", "", lambda t: yes_no(t.strip(), "clean")),
        ],
        drafts,
        agree=lambda answers: check_typed(cylinder_facts(answers, units)),
    )  # fmt: skip


def cylinder_facts(answers: Mapping[str, str], units: Units) -> dict[str, str]:
    """Return what was typed as the use case takes it."""
    facts = {name: text.strip() for name, text in answers.items()}
    for name in ("wp", "tp"):
        facts[name] = units.typed_pressure(facts[name])
    return facts


def stamps_title(serial: str) -> str:
    """Return the form's title."""
    return f"Stamps of {serial}"


def stamps_form(known: Mapping[str, Any], drafts: Drafts) -> Form:
    """Return the form of stamps, with those the record has."""
    return Form(
        stamps_title(known["serial"]),
        [
            Field("tested", "Tested", "2025-03", known["tested"], lambda t: month(t, "tested")),
            Field("inspected", "Inspected", "2026-02", known["inspected"],
                  lambda t: month(t, "inspected")),
            Field("clean", "Oxygen clean", "yes or no", "yes" if known["clean"] else "no",
                  lambda t: yes_no(t.strip(), "clean")),
        ],
        drafts,
    )  # fmt: skip


def changed_stamps(known: Mapping[str, Any], answers: Mapping[str, str]) -> dict[str, str]:
    """Return only what differs from what the record has."""
    had = {**known, "clean": "yes" if known["clean"] else "no"}
    return {name: text.strip() for name, text in answers.items() if text.strip() != had[name]}


def diver_form(name: str, drafts: Drafts) -> Form:
    """Return the form of a new customer, with the name that was not known."""
    if name and drafts.get(DIVER, {}).get("name", name) != name:
        drafts.pop(DIVER, None)
    return Form(
        DIVER,
        [
            Field("name", "Name", "as on the card", name, lambda text: clean_text(text, "name")),
            Field("certified", "Card shown", "air, nitrox or trimix; empty: none", "", _level),
        ],
        drafts,
    )


def _level(text: str) -> str:
    level = text.strip().lower()
    if level and level not in CERTIFIED:
        raise InputError("card", text.strip(), "air, nitrox, trimix, or nothing if none was shown")
    return level
