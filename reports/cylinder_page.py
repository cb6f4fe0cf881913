"""The page of a cylinder: its marking, what changed of it, and every fill it had."""

from __future__ import annotations

from collections.abc import Iterator

from blender.station.cylinder_history import Change, CylinderHistory, PastFill
from reports.column import Fact, listed
from reports.in_units import exact, in_units
from reports.letter import Letter, letter_pdf
from reports.wording import given, time_text


def cylinder_page_pdf(view: CylinderHistory, paper: str = "a4") -> bytes:
    """Return a cylinder's history as a PDF.

    Parameters
    ----------
    view : CylinderHistory
        What it states.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    """
    letter = Letter(
        title="Cylinder",
        aside=view.serial,
        subject="What is on record of a cylinder",
        station_name=view.station_name,
        printed_at=view.printed_at,
        proof=view.proof,
        legend="What was done to it elsewhere is not on record: its own marking comes first.",
    )
    return letter_pdf(letter, lines(view), paper)


def lines(view: CylinderHistory) -> Iterator[Fact]:
    """Give captions and texts of the page, which the command line prints too."""
    yield "Cylinder", given(view.serial), True
    yield "Its marking", in_units(view.marking, view.imperial, exact(view)), True
    yield from listed("Entered", [_change(one, view.imperial) for one in view.changes])
    yield "Fills", f"{len(view.fills)}" if view.fills else "none", False
    for one in view.fills:
        yield f"{one.fill}", _told(one, view.imperial), one.unsafe
        for remark in one.remarks:
            yield "", in_units(remark, view.imperial, exact(one)), False


def _change(one: Change, imperial: bool) -> str:
    text = in_units(one.text, imperial, exact(one))
    return f"{time_text(one.at)}: {text}, by {given(one.by)} (entry {one.seq})"


def _told(one: PastFill, imperial: bool) -> str:
    danger = " - DO NOT BREATHE" if one.unsafe else ""
    gas = in_units(one.gas, imperial, exact(one))
    return f"{one.day}, {gas}, for {given(one.customer)}, {one.state}{danger}"
