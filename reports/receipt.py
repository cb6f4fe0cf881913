"""The receipt of a fill: what was drawn from each supply and what it came to."""

from __future__ import annotations

from collections.abc import Iterator

from blender.planning.supplies import TOP_NAME
from blender.station.receipt import Item, Receipt
from reports.column import Fact
from reports.letter import Letter, letter_pdf
from reports.totals import REFERENCE
from reports.wording import FIXED, given


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
        legend=f"Free gas: {REFERENCE}. No tax is reckoned here.",
    )
    return letter_pdf(letter, lines(view), paper)


def lines(view: Receipt) -> Iterator[Fact]:
    """Give captions and texts of the receipt, which the command line prints too."""
    yield "For", given(view.customer), False
    yield "Fill", f"{view.fill}, {view.day}, cylinder {view.cylinder}, {view.wanted}", False
    for number, item in enumerate(view.items):
        yield ("Gas drawn" if number == 0 else ""), _item(item), False
    if view.unpriced:
        named = ", ".join(view.unpriced)
        yield "Not counted", f"no price is set here for {named}", True
    yield "Total", f"{view.total:.2f} in the shop's own money", True


def _item(item: Item) -> str:
    name = "air" if item.supply == TOP_NAME else item.supply
    amount = f"{name}: {item.free_gas_m3:.3f}{FIXED}m³ of free gas"
    if item.price_m3 is None:
        return f"{amount}, not charged for"
    return f"{amount} at {item.price_m3:.2f} a m³: {item.cost:.2f}"
