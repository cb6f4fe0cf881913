"""From the Book: a recall of a bad gas or analyser, and the record taken away."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING

from textual import work

from blender.errors import InputError
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.page import Page
from tui.places.place import Place

if TYPE_CHECKING:
    from blender.record.journal import Record
    from blender.record.moment import Moment
    from blender.station.recalling import RecallView
    from tui.house import House

RECALL, AWAY = "Recall", "Take the record away"
_BY = ("supply", "lot", "analyser", "compressor")
_WHAT = ("journal", "all")


class TakingAway(Place):
    """A place from which a recall is listed and the record is taken away."""

    @work(group="dialog")
    async def action_recall(self) -> None:
        """List the cylinders a bad gas, lot, analyser or compressor concerns; print the page."""
        given = await self.over(recall_form(self.terminal.drafts))
        if given is None:
            return
        view = await self.look(_recall, self.terminal.house.clock(), given)
        if view is None:
            return
        self.terminal.drafts.pop(RECALL, None)
        from reports.recall_page import lines, recall_pdf

        told = [f"{caption:11} {text}" for caption, text, _ in lines(view)]
        title = f"Recall: {view.what}, {view.station_name}"
        pressed = await self.over(Page(title, told, {"p": "print it, to tick off"}))
        if pressed == "p":
            name = f"recall-{view.proof.station}-{self.terminal.house.clock().iso[:10]}.pdf"
            path = await self.put(name, partial(recall_pdf, view))
            if path:
                self.say("done", f"Recall: {path}")

    @work(group="dialog")
    async def action_take_away(self) -> None:
        """Write the journal with its verifier, or everything as tables, into a folder."""
        given = await self.over(away_form(self.terminal.drafts))
        if given is None:
            return
        self.terminal.drafts.pop(AWAY, None)
        what = given["what"].strip().lower()
        told = await self.look(_taken_away, self.terminal.house, what)
        if told:
            self.say("done", told)


def recall_form(drafts: Drafts) -> Form:
    """Return the form of what a recall is about and between which days."""
    return Form(
        RECALL,
        [
            Field("by", "Recall by", " or ".join(_BY), "", _one_of("recall by", _BY),
                  text="supply: fills that had gas of it; lot: of a bottle of that lot; analyser: "
                  "fills that were read with it; compressor: fills that were topped with its air."),
            Field("name", "Its name", "o1, LOT-77, A1; of a compressor nothing", "",
                  text="Of a compressor the name is left empty: all air it made counts."),
            Field("since", "First day", "2026-11-01; empty: from the beginning", "", _day),
            Field("until", "Last day", "2026-11-25; empty: until now", "", _day),
        ],
        drafts,
        _named,
    )  # fmt: skip


def away_form(drafts: Drafts) -> Form:
    """Return the form of what is taken away."""
    return Form(
        AWAY,
        [
            Field("what", "What", "journal or all", "", _one_of("what", _WHAT),
                  text="journal: every entry, and a script that verifies them without this "
                  "program. all: everything as tables, CSV and JSON lines; it holds personal "
                  "data, which README.txt lists."),
        ],
        drafts,
    )  # fmt: skip


def _one_of(field: str, allowed: tuple[str, ...]) -> Callable[[str], None]:
    def check(text: str) -> None:
        if text.strip().lower() not in allowed:
            raise InputError(field, ascii(text[:40]), f"type {', '.join(allowed)}")

    return check


def _day(text: str) -> None:
    from blender.station.privacy import date_of

    if text.strip():
        date_of(text, "day")


def _named(given: Mapping[str, str]) -> None:
    """Refuse what names nothing: only the air of a compressor needs no name."""
    if given["by"].strip().lower() != "compressor" and not given["name"].strip():
        raise InputError("its name", "nothing", "say which supply, lot or analyser")


def _recall(record: Record, now: Moment, given: Mapping[str, str]) -> RecallView:
    from blender.planning.supplies import TOP_NAME
    from blender.station import recalling

    by, name = given["by"].strip().lower(), given["name"].strip()
    asked = {"supply": TOP_NAME} if by == "compressor" else {by: name}
    return recalling.recall(record, now, since=given["since"], until=given["until"], **asked)


def _taken_away(record: Record, house: House, what: str) -> str:
    """Write what was asked for; the folder is named by the station and the minute."""
    from tui.takeaway import VERIFIER, journal_files, table_files

    now, counts = house.clock(), dict[str, int]()
    name = f"{record.station}-{what}-{now.local:%Y-%m-%d-%H%M}"
    head = record.head()
    files = journal_files(record) if what == "journal" else table_files(record, now, counts)
    folder = house.take_away(name, files)
    if what == "journal":
        return f"{head.seq} entries, and {VERIFIER}, which verifies them: {folder}"
    rows = sum(counts.values())
    return f"{rows} rows of {len(counts)} tables: {folder}. It holds personal data: see README.txt"
