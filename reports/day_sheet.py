"""The closing sheet of a day: who opened and closed it, what was done, what waits, the head."""

from __future__ import annotations

from collections.abc import Iterator

from blender.station.views import DayView
from reports.column import Column, Fact
from reports.page import About, Page, note
from reports.stock import DAY_STOCK
from reports.totals import REFERENCE, amount_text
from reports.wording import given, program, tenths, time_text

_LEFT, _RIGHT = 12.0, 198.0
_TOP, _END = 32.0, 277.0  # of the lines
_QR = 24.0
_COLUMN = Column(_LEFT, _RIGHT, _TOP, _END, 34.0, beside=_QR + 6.0, beside_end=62.0)
_WAITING = {
    "not_collected": "Not collected",
    "held": "Held part-way",
    "open": "Under way",
    "quarantined": "Quarantined",
}


def day_sheet_pdf(view: DayView) -> bytes:
    """Return a day's closing sheet as a PDF on A4.

    Parameters
    ----------
    view : DayView
        The day; one that is still open says so at its head.

    Raises
    ------
    InputError
        If a number is not finite.
    """
    page = Page(DAY_STOCK.page_width, DAY_STOCK.page_height, _about(view))
    sheets = _COLUMN.pages(_facts(view))
    for number, lines in enumerate(sheets, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        _head(page, view, f"page {number} of {len(sheets)}")
        if number == 1:
            page.qr(_RIGHT - _QR, _TOP + 2.0, _QR, view.proof.anchor)
        _COLUMN.draw(page, lines)
        _foot(page, view)
    return page.finish()


def _about(view: DayView) -> About:
    return About(
        title=f"Day sheet {view.day}",
        subject="What was done on a day, what waits, and where the record stood",
        author=view.station_name,
        keywords=view.proof.anchor,
        dated=view.printed_at,
    )


def _facts(view: DayView) -> Iterator[Fact]:
    """Give caption, text and whether it is to be seen from afar, in the order of the sheet."""
    yield "Opened", f"{time_text(view.opened_at)} by {given(view.opened_by)}", False
    if view.closed_at is None:
        yield "Closed", "NOT CLOSED: figures are of the moment it was printed", True
    else:
        yield "Closed", f"{time_text(view.closed_at)} by {given(view.closed_by)}", False
    since = "its opening: no day was closed before" if view.since is None else time_text(view.since)
    yield "Counted since", since, False
    for number, (what, answer, ok) in enumerate(view.checks):
        said = f"{what}: {answer}" if ok else f"NOT IN ORDER: {what}: {answer}"
        yield ("Checks" if number == 0 else ""), said, not ok
    banks = [f"{name} {typed}" for name, typed in view.banks]
    yield "Banks read", given(", ".join(banks)), False
    yield "Analysers", given("; ".join(view.analysers)), False
    states = ", ".join(f"{count} {state}" for state, count in view.by_state)
    total = sum(count for _, count in view.by_state)
    yield "Fills worked on", f"{total}" + (f": {states}" if states else ""), False
    for caption, amount, gas in (
        ("Oxygen let in", view.oxygen_mol, "O2"),
        ("Helium let in", view.helium_mol, "He"),
        ("Top gas let in", view.top_mol, ""),
    ):
        tenths(amount, "amount")  # nothing but a number is stated
        yield caption, amount_text(amount, gas, imperial=view.imperial), False
    yield from _waiting(view)
    yield from _listed("Exceptions", len(view.exceptions), list(view.exceptions))
    for remark in view.notes:
        for number, text in enumerate(remark.splitlines()):
            yield ("Note" if number == 0 else ""), text, False


def _waiting(view: DayView) -> Iterator[Fact]:
    for name, count, fills in view.waiting:
        # What nobody has signed for is not breathed, whatever was let in by then.
        danger = "" if name == "not_collected" else " - DO NOT BREATHE"
        texts = [f"fill {f.fill}, {f.cylinder}, {f.customer}, {f.wanted}{danger}" for f in fills]
        if count > len(texts):
            texts.append(f"and {count - len(texts)} older ones")
        yield from _listed(_WAITING.get(name, name), count, texts)


def _listed(caption: str, count: int, texts: list[str]) -> Iterator[Fact]:
    yield caption, "none" if not count else f"{count}", False
    for text in texts:
        yield "", text, False


def _head(page: Page, view: DayView, which: str) -> None:
    page.line(_LEFT, 17.0, "DAY SHEET", 15, bold=True)
    page.line(_LEFT + 38, 17.0, given(view.day), 13, bold=True, width=40, least=7)
    page.line(_RIGHT, 17.0, f"printed {time_text(view.printed_at)}   {which}", 7.5, align="right")
    page.line(_LEFT, 24.0, given(view.station_name), 11, width=_RIGHT - _LEFT, least=6)
    page.rule(_LEFT, 27.5, _RIGHT, 27.5, 0.5)


def _foot(page: Page, view: DayView) -> None:
    proof = view.proof
    page.rule(_LEFT, 279.0, _RIGHT, 279.0, 0.3)
    where = f"{program()} · {proof.station} · incarnation {proof.incarnation} · entry {proof.seq}"
    page.line(_LEFT, 282.0, where, 6.5, width=_RIGHT - _LEFT)
    page.line(_LEFT, 285.0, proof.anchor, 6.5, width=_RIGHT - _LEFT)
    page.line(_LEFT, 288.0, f"Litres: {REFERENCE}. — = not given.", 6)
    page.line(_LEFT, 291.0, note(page.marks), 6, width=_RIGHT - _LEFT)
