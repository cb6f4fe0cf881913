"""The paper the station prints on: label stocks as data, and the sheets papers are laid out for."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from blender.errors import InputError


@dataclass(frozen=True, slots=True)
class Stock:
    """A sheet or roll and where the labels lie on it; all lengths in mm.

    A roll has one label to a page.  `gap_*` is the blank between neighbours, and `told` says
    in words what it is.
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
    told: str = ""

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


# Width and height of a sheet upright: ISO 216 A4, and Letter as 8.5 x 11 inch.
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
TAG_MM = (100.0, 150.0)
CARD_MM = (105.0, 148.0)


@cache
def label_stocks() -> dict[str, Stock]:
    """Return every label stock by its name.

    Examples
    --------
    >>> label_stocks()["roll-100x62"].per_page
    1
    """
    text = (files("reports") / "stocks.toml").read_text(encoding="utf-8")
    return {name: _stock(name, facts) for name, facts in tomllib.loads(text).items()}


def _stock(name: str, facts: dict[str, Any]) -> Stock:
    page_width, page_height = facts["page"]
    label_width, label_height = facts["label"]
    gap_x, gap_y = facts.get("gap", (0.0, 0.0))
    return Stock(
        name,
        page_width,
        page_height,
        label_width,
        label_height,
        columns=facts.get("columns", 1),
        rows=facts.get("rows", 1),
        left=facts.get("left", 0.0),
        top=facts.get("top", 0.0),
        gap_x=gap_x,
        gap_y=gap_y,
        cut_lines=facts.get("cut", False),
        told=facts["told"],
    )


def label_stock(name: str) -> Stock:
    """Return the label stock of that name.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    known = label_stocks()
    if name not in known:
        raise InputError("--stock", repr(name[:40]), f"known are {', '.join(known)}")
    return known[name]


def paper_size(name: str) -> tuple[float, float]:
    """Return width and height [mm] of a paper, upright.

    Raises
    ------
    InputError
        If it is not known.
    """
    if name not in PAPERS:
        raise InputError("--paper", repr(name[:40]), f"known are {', '.join(PAPERS)}")
    return PAPERS[name]
