"""Exactly what is shown, as CSV or PDF: its name, the work in a thread, how far it is."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Event

from blender.errors import FillwrightError, InputError
from blender.record.journal import Record
from blender.record.moment import Moment
from tui.dialogs.form import Drafts, Field, Form

TITLE = "Export what is shown"
MOST_IN_PDF = 20_000
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._+-]{0,99}\.(csv|pdf)", re.IGNORECASE)
_ALLOWED = (
    "a name of letters, digits, blanks and . _ + - that ends in .csv or .pdf; it is kept in the "
    "folder 'papers' beside the record"
)


class StoppedError(FillwrightError):
    """Somebody stopped the work; nothing was written."""


@dataclass
class Job:
    """An export under way.

    Parameters
    ----------
    name : str
        The paper's name.
    numbers : sequence of int
        Its fills.
    selection : str
        What they were searched by; empty if they are all there are.
    now : Moment
        When it is made.
    """

    name: str
    numbers: Sequence[int]
    selection: str
    now: Moment
    done: int = 0
    drawn: int = 0
    stop: Event = field(default_factory=Event)

    def told(self, done: int) -> None:
        """Take note of how far the reading is; stop if that was asked for."""
        self.done = done
        self._go_on()

    def told_drawn(self, drawn: int) -> None:
        """Take note of how far the drawing is; stop if that was asked for."""
        self.drawn = drawn
        self._go_on()

    def _go_on(self) -> None:
        if self.stop.is_set():
            raise StoppedError(f"{self.name} was stopped; nothing was written.")


def form(initial: str, count: int, drafts: Drafts) -> Form:
    """Return the dialog that asks for a name."""

    def check(name: str) -> None:
        check_name(name, count)

    asked = Field("name", "File name", "kai.csv or kai.pdf", initial, check)
    return Form(TITLE, [asked], drafts)


def check_name(name: str, count: int) -> str:
    """Return a paper's name.

    Raises
    ------
    InputError
        If it is no plain file name of a kind that can be made of so many fills.

    Examples
    --------
    >>> check_name(" kai.csv ", 3)
    'kai.csv'
    """
    wanted = name.strip()
    if not _NAME.fullmatch(wanted) or ".." in wanted:
        raise InputError("file name", repr(wanted[:60]) if wanted else None, _ALLOWED)
    if wanted.lower().endswith(".pdf") and count > MOST_IN_PDF:
        raise InputError(
            "file name", repr(wanted),
            f"{count} fills are more than the {MOST_IN_PDF} a PDF is made of: search for less, "
            "such as one month, or end the name in .csv",
        )  # fmt: skip
    return wanted


def make(record: Record, job: Job) -> bytes:
    """Make the paper; slow, so never on the screen's thread."""
    if job.name.lower().endswith(".pdf"):
        return _pdf(record, job)
    return _csv(record, job)


def _csv(record: Record, job: Job) -> bytes:
    """Make it in parts; each line's anchor says where the record stood when it was read."""
    from blender.station.export import parts
    from reports.fill_csv import fill_csv

    out = io.BytesIO()
    for view in parts(record, job.numbers, job.selection, job.now):
        text = fill_csv(view)
        out.write((text if not job.done else text.partition("\r\n")[2]).encode())
        job.told(job.done + len(view.lines))
    return out.getvalue()


def _pdf(record: Record, job: Job) -> bytes:
    from blender.station.export import selected
    from blender.station.sheets import sheets
    from reports.fill_log import fill_log_pdf

    view = selected(record, job.numbers, job.selection, job.now, job.told)
    return fill_log_pdf(view, sheets(record).paper, told=job.told_drawn)
