"""The paper the station prints on, as data: name and millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from blender.errors import InputError


@dataclass(frozen=True, slots=True)
class Stock:
    """A sheet or roll and where the labels lie on it; all lengths in mm.

    A roll has one label to a page.  `gap_*` is the blank between neighbours.
    """

    name: str
    page_width: float
    page_height: float
    label_width: float
    label_height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    gap_x: float = 0.0
    gap_y: float = 0.0
    cut_lines: bool = False

    @property
    def per_page(self) -> int:
        """Labels to a page."""
        return self.columns * self.rows

    def corner(self, position: int) -> tuple[float, float]:
        """Upper left corner of a position, counted along the rows from 0."""
        row, column = divmod(position, self.columns)
        return (
            self.left + column * (self.label_width + self.gap_x),
            self.top + row * (self.label_height + self.gap_y),
        )


A4_MM = (210.0, 297.0)
# Sizes are common in the trade, no source; print the test page before using a new stock.
LABEL_STOCKS = {
    stock.name: stock
    for stock in (
        Stock("roll-100x62", 100.0, 62.0, 100.0, 62.0),
        Stock("a4-8-100x62", *A4_MM, 100.0, 62.0, 2, 4, left=5.0, top=24.5, cut_lines=True),
        Stock("a4-8-99x68", *A4_MM, 99.1, 67.7, 2, 4, left=4.65, top=13.1, gap_x=2.5),
    )
}
TAG_STOCK = Stock("tag-100x150", 100.0, 150.0, 100.0, 150.0)
CARD_STOCK = Stock("a6", 105.0, 148.0, 105.0, 148.0)
DAY_STOCK = Stock("a4", *A4_MM, *A4_MM)
LOG_STOCK = Stock("a4-landscape", 297.0, 210.0, 297.0, 210.0)


def label_stock(name: str) -> Stock:
    """Return the label stock of that name.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    if name not in LABEL_STOCKS:
        raise InputError("stock", repr(name), f"known are {', '.join(LABEL_STOCKS)}")
    return LABEL_STOCKS[name]
