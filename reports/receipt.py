"""The receipt of a fill: what was drawn from each supply and what it came to."""

from __future__ import annotations

from collections.abc import Iterator

from blender.planning.supplies import TOP_NAME
from blender.station.receipt import Item, Receipt
from blender.units import M3_PER_CUFT
from reports.column import Fact
from reports.in_units import in_units
from reports.letter import Letter, letter_pdf
from reports.totals import REFERENCE
from reports.wording import FIXED, copy_text, given


def receipt_pdf(view: Receipt, paper: str = "a4") -> bytes:
    """Return a receipt as a PDF.

    Parameters
    ----------
    view : Receipt
        What it states.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    """
    letter = Letter(
        title="Receipt",
        aside=f"fill {view.fill}",
        subject="Gas drawn for a fill and what it came to",
        station_name=view.station_name,
        printed_at=view.printed_at,
        proof=view.proof,
        legend=f"Free gas: {in_units(REFERENCE, view.imperial)}. No tax is reckoned here.",
        copy=copy_text(view.copy_number, view.copied_at),
    )
    return letter_pdf(letter, lines(view), paper)


def lines(view: Receipt) -> Iterator[Fact]:
    """Give captions and texts of the receipt, which the command line prints too."""
    yield "For", given(view.customer), False
    yield "Fill", f"{view.fill}, {view.day}, cylinder {view.cylinder}, {view.wanted}", False
    for number, item in enumerate(view.items):
        yield ("Gas drawn" if number == 0 else ""), _item(item, view.imperial), False
    if view.unpriced:
        named = ", ".join(view.unpriced)
        yield "Not counted", f"no price is set here for {named}", True
    yield "Total", f"{view.total:.2f} in the shop's own money", True


def _item(item: Item, imperial: bool) -> str:
    """Word what one supply gave; a hundred cubic feet are priced, as one would be cents."""
    name = "air" if item.supply == TOP_NAME else item.supply
    each = 100.0 * M3_PER_CUFT if imperial else 1.0
    volume, per = f"{item.free_gas_m3:.3f}{FIXED}m³", "a m³"
    if imperial:
        volume, per = f"{item.free_gas_m3 / M3_PER_CUFT:.2f}{FIXED}cu ft", "for 100 cu ft"
    amount = f"{name}: {volume} of free gas"
    if item.price_m3 is None:
        return f"{amount}, not charged for"
    return f"{amount} at {item.price_m3 * each:.2f} {per}: {item.cost:.2f}"
