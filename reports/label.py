"""The label the customer walks off with: what was analysed, and what it allows.

This file refuses what must not get a label and places labels on a stock; `label_face`
draws one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from blender.errors import InputError, RefusedError
from blender.station.views import LabelView
from reports.label_face import HEIGHT, WIDTH, draw_further_label, draw_label
from reports.page import About, Page
from reports.stock import Stock, label_stock


def label_pdf(view: LabelView, stock: str = "roll-100x62") -> bytes:
    """Return the label of one accepted fill as a PDF.

    Parameters
    ----------
    view : LabelView
        What the label states.
    stock : str
        Name of the stock, one of `reports.stock.label_stocks`.

    Raises
    ------
    RefusedError
        If the gas is not breathable, or not at any depth.
    InputError
        If a number is not finite or the stock is unknown.
    """
    return labels_sheet_pdf([view], stock)


def labels_sheet_pdf(
    views: Sequence[LabelView], stock: str = "a4-8-100x62", first: int = 0
) -> bytes:
    """Return labels one after another on a stock, as a PDF.

    Parameters
    ----------
    views : sequence of LabelView
        The labels, at least one.
    stock : str
        Name of the stock.
    first : int
        Position to begin at on a part-used sheet, counted along the rows from 0.
    """
    paper = label_stock(stock)
    if not views:
        raise InputError("labels", "none", "give at least one fill")
    if not 0 <= first < paper.per_page:
        raise InputError("--first", first + 1, f"its positions are 1 to {paper.per_page}")
    for view in views:
        _refuse_unbreathable(view)
    page = Page(paper.page_width, paper.page_height, _about(views))
    position = first
    for view in views:
        position = _place(page, paper, position)
        left_over = draw_label(page, view)
        while left_over:
            position = _place(page, paper, position)
            left_over = draw_further_label(page, view, left_over)
    return page.finish()


def stock_check_pdf(stock: str, about: About) -> bytes:
    """Return a page with the outline of every position, to hold against a new stock."""
    paper = label_stock(stock)
    page = Page(paper.page_width, paper.page_height, about)
    for position in range(paper.per_page):
        page.origin = paper.corner(position)
        page.box(0.1, 0.1, paper.label_width - 0.2, paper.label_height - 0.2)
        middle = paper.label_width / 2, paper.label_height / 2
        page.line(*middle, f"{position + 1}: {paper.name}", 10, align="centre")
        page.rule(middle[0] - 25, middle[1] + 4, middle[0] + 25, middle[1] + 4)
        page.line(middle[0], middle[1] + 8, "this line is 50 mm long", 8, align="centre")
    return page.finish()


def _about(views: Sequence[LabelView]) -> About:
    newest = max(views, key=lambda view: view.accepted_at.us)
    fills = ", ".join(str(view.fill) for view in views)
    return About(
        title=f"Label of fill {fills}",
        subject="Gas as analysed, with depth limits",
        author=newest.station_name,
        keywords=newest.proof.anchor,
        dated=newest.copied_at or newest.accepted_at,
    )


def _refuse_unbreathable(view: LabelView) -> None:
    if not view.analysed.breathable_kind:
        raise RefusedError(
            f"fill {view.fill} is not breathable gas: it gets no depth and no diving label",
            code="not-breathable",
        )
    depths = (view.mod_agreed_m, view.mod_agreed_ft, view.mod_high_m, view.mod_high_ft)
    numbers = (*depths, view.floor_m, view.floor_ft, view.agreed_ppo2_bar, view.high_ppo2_bar)
    if not all(math.isfinite(number) for number in numbers):
        raise InputError("label", f"fill {view.fill}", "a label states finite numbers only")
    if view.mod_agreed_m < max(view.floor_m, 0.0):
        raise RefusedError(
            f"fill {view.fill}: its floor lies below its maximum depth, so there is no depth "
            "at which it may be breathed; it gets no label",
            code="not-breathable",
        )


def _place(page: Page, paper: Stock, position: int) -> int:
    """Move to a position, over the page's end if need be; return the one after it."""
    if position == paper.per_page:
        page.next()
        position = 0
    x, y = paper.corner(position)
    page.scale = min(paper.label_width / WIDTH, paper.label_height / HEIGHT)
    spare = (
        paper.label_width - WIDTH * page.scale,
        paper.label_height - HEIGHT * page.scale,
    )
    page.origin = (x + spare[0] / 2, y + spare[1] / 2)
    page.marks = set()
    if paper.cut_lines:
        _cut_marks(page)
    return position + 1


def _cut_marks(page: Page) -> None:
    for x in (0.0, WIDTH):
        for y in (0.0, HEIGHT):
            page.rule(x - 1.5, y, x + 1.5, y, 0.1)
            page.rule(x, y - 1.5, x, y + 1.5, 0.1)
