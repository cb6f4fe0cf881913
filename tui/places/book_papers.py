"""The papers of a fill and of its cylinder, and the fill log, from the Book and a fill's story."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from textual import work

from blender.errors import InputError
from blender.record import read
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import export
from blender.station.cylinder_history import cylinder_history
from blender.station.papers import label_view
from blender.station.privacy import date_of
from blender.station.receipt import receipt
from blender.station.sheets import LABEL_STOCKS, Sheets, sheets
from tui.dialogs.choice import Choice
from tui.dialogs.export import check_name
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.page import Captioned, Page
from tui.places.book_mending import Mending
from tui.saying import said

LABELS, LOG = "Labels on a sheet", "The fill log"
_PRINT = {"p": "print it"}
_MOST_LABELS = 100
Fact = tuple[str, str, bool]


class Papers(Mending):
    """A place from which the papers of the fill that is shown are printed."""

    @work(group="dialog")
    async def action_papers(self) -> None:
        """Ask which paper of the fill is wanted, and print it."""
        if not (number := self.fill_shown()):
            self.say("note", "There is no fill here.")
            return
        offers: Sequence[tuple[str, Callable[[int], Any]]] = [
            ("Certificate of analysis, with every signature", self._certificate),
            ("Card that explains the label's figures to the diver", self._card),
            ("Receipt of the gas it drew", self._receipt),
            ("Labels of several fills on a part-used sheet", self._labels),
            ("History of its cylinder", self._history_of),
        ]
        words = [words for words, _ in offers]
        chosen = await self.over(Choice(f"Papers of fill {number}", words))
        if chosen is not None:
            await offers[chosen][1](number)

    @work(group="dialog")
    async def action_history(self) -> None:
        """Show the history of the cylinder of the fill that is shown."""
        if number := self.fill_shown():
            await self._history_of(number)
        else:
            self.say("note", "There is no fill here.")

    async def _certificate(self, number: int) -> None:
        from tui.papers import print_certificate

        path = await self.look(print_certificate, self.terminal.house, number)
        self._kept("Certificate", path)

    async def _card(self, number: int) -> None:
        from reports.diver_card import diver_card_pdf

        view = await self.look(label_view, number)
        if view is not None:
            name = f"card-{view.proof.station}-{number}.pdf"
            self._kept("Card", await self.put(name, lambda _: diver_card_pdf(view)))

    async def _receipt(self, number: int) -> None:
        from reports.receipt import lines
        from tui.papers import print_receipt

        view = await self.look(receipt, number, self.terminal.house.clock())
        if view is None:
            return
        view = replace(view, imperial=self.terminal.units.imperial)
        page = Page(f"Receipt of fill {number}", self._read(lines(view)), _PRINT)
        if await self.over(page) == "p":
            imperial = self.terminal.units.imperial
            path = await self.look(print_receipt, self.terminal.house, number, imperial)
            self._kept("Receipt", path)

    async def _history_of(self, number: int) -> None:
        from reports.cylinder_page import cylinder_page_pdf, lines

        now = self.terminal.house.clock()
        view = await self.look(_history, number, now)
        if view is None:
            return
        view = replace(view, imperial=self.terminal.units.imperial)
        title = f"Cylinder {view.serial}: its history"
        page = Page(title, self._read(lines(view)), _PRINT)
        if await self.over(page) == "p":
            called = "".join(char if char.isalnum() else "-" for char in view.serial)
            name = f"cylinder-{called}-{now.iso[:10]}.pdf"
            self._kept("Page", await self.put(name, partial(cylinder_page_pdf, view)))

    def _read(self, facts: Iterable[Fact]) -> list[Captioned]:
        """Return captions and texts of a paper as lines of a page."""
        units = self.terminal.units
        return [Captioned(caption, said(text, units), strong) for caption, text, strong in facts]

    def _kept(self, what: str, path: str | None) -> None:
        if path:
            self.say("done", f"{what}: {path}")

    async def _labels(self, number: int) -> None:
        """Print labels of several fills, from the first free position of a sheet on."""
        usual = await self.look(sheets)
        if usual is None:
            return
        form = labels_form(number, usual, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        from tui.papers import print_labels

        numbers, first = numbers_of(given["fills"]), int(given["first"])
        stock = given["stock"].strip().lower()
        path = await self.look(print_labels, self.terminal.house, numbers, stock, first)
        if path:
            self.terminal.drafts.pop(LABELS, None)
            self._kept(f"{len(numbers)} label{'s' * (len(numbers) != 1)}", path)

    # -- the fill log ----------------------------------------------------------------------

    @work(group="dialog")
    async def action_log(self) -> None:
        """Print the fill log of a cylinder, a customer, a blender or of days."""
        now = self.terminal.house.clock()
        form = log_form(f"log-{now.local:%Y-%m-%d-%H%M}.pdf", self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        asked = {name: given[name].strip() for name in ("cylinder", "customer", "blender")}
        made = await self.look(_log, given, asked, now)
        if made is None:
            return
        count, content = made
        name = given["name"].strip()
        if path := await self.look(lambda _: self.terminal.house.put_paper(name, content)):
            self.terminal.drafts.pop(LOG, None)
            self._kept(f"{count} fill{'s' * (count != 1)}", path)


def _history(record: Record, number: int, now: Moment) -> Any:
    with record.read() as conn:
        serial = read.fill(conn, number).serial
    return cylinder_history(record, serial, now)


def _log(
    record: Record, given: Mapping[str, str], asked: Mapping[str, str], now: Moment
) -> tuple[int, bytes]:
    """Return how many fills the log has, and the log as CSV or PDF."""
    first, last = given["first"].strip(), given["last"].strip()
    view = export.log_view(record, first, last, now, **asked)
    if given["name"].strip().lower().endswith(".csv"):
        from reports.fill_csv import fill_csv

        return len(view.lines), fill_csv(view).encode()
    check_name(given["name"], len(view.lines))
    from reports.fill_log import fill_log_pdf

    return len(view.lines), fill_log_pdf(view, sheets(record).paper)


# -- forms ---------------------------------------------------------------------------------


def labels_form(number: int, usual: Sheets, drafts: Drafts) -> Form:
    """Return the form of labels on a sheet: which fills, on what, from which position on."""
    return Form(
        LABELS,
        [
            Field("fills", "Fills", "12 13 14: numbers with blanks between", f"{number}",
                  numbers_of, text="Each once, accepted; one printed before is marked as a copy."),
            Field("stock", "Printed on", " or ".join(LABEL_STOCKS), usual.labels, _stock),
            Field("first", "From position", "3; counted along the rows from 1", "1", _position,
                  text="The first free label of a part-used sheet."),
        ],
        drafts,
        _room,
    )  # fmt: skip


def numbers_of(text: str) -> list[int]:
    """Return the numbers of fills, as typed with blanks or commas between them.

    Raises
    ------
    InputError
        If one is no number of a fill, or there is none.

    Examples
    --------
    >>> numbers_of("12, 13 14")
    [12, 13, 14]
    """
    words = text.replace(",", " ").split()
    for word in words or [""]:
        if not (word.isascii() and word.isdigit() and len(word) < 10 and int(word)):
            raise InputError("fills", ascii(word[:40]), "numbers of fills: 12 13 14")
    if len(words) > _MOST_LABELS:
        raise InputError("fills", f"{len(words)} of them", f"at most {_MOST_LABELS} at once")
    return [int(word) for word in words]


def _stock(text: str) -> None:
    if text.strip().lower() not in LABEL_STOCKS:
        raise InputError("printed on", ascii(text[:40]), f"known are {', '.join(LABEL_STOCKS)}")


def _position(text: str) -> None:
    if not (text.isascii() and text.strip().isdigit() and 0 < int(text[:9]) <= _MOST_LABELS):
        raise InputError("position", ascii(text[:40]), "a number from 1 on")


def _room(given: Mapping[str, str]) -> None:
    """Refuse a position that a sheet of this stock does not have."""
    from reports.stock import label_stock

    most = label_stock(given["stock"].strip().lower()).per_page
    if int(given["first"]) > most:
        raise InputError("position", given["first"].strip(), f"its positions are 1 to {most}")


def log_form(name: str, drafts: Drafts) -> Form:
    """Return the form of the fill log: of whom, of which days, and the file."""
    return Form(
        LOG,
        [
            Field("cylinder", "Of cylinder", "its serial; empty: of all"),
            Field("customer", "For customer", "name or id; empty: for all"),
            Field("blender", "By blender", "their name; empty: by all"),
            Field("first", "First day", "2026-11-01; empty: from the beginning", "", _day),
            Field("last", "Last day", "2026-11-25; empty: until now", "", _day),
            Field("name", "File name", "ends in .pdf or .csv", name,
                  lambda text: check_name(text, 0)),
        ],
        drafts,
        _bounded,
    )  # fmt: skip


def _bounded(given: Mapping[str, str]) -> None:
    """Refuse a log of everything: the list itself is exported for that."""
    is_of_one = any(given[name].strip() for name in ("cylinder", "customer", "blender"))
    if not is_of_one and not (given["first"].strip() and given["last"].strip()):
        told = "give both days, or a cylinder, a customer or a blender"
        raise InputError("the fill log", "nothing", told)


def _day(text: str) -> None:
    if text.strip():
        date_of(text, "day")
