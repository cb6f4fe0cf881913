"""Proving the record: everything checked, in a thread, with or without a label's line."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from threading import Event
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Input, Static

from blender.errors import FillwrightError
from tui.dialogs.dialog import Dialog
from tui.plain import plain
from tui.saying import said

if TYPE_CHECKING:
    from blender.record.moment import Moment
    from blender.record.verify import Report
    from blender.station.paper_check import Paper

SHOWN = 200  # problems listed
_WHAT = (
    "Checks every entry, signature, table and guard of the record's file, and repairs nothing. "
    "Scan a label's or report's QR code to hold the record against it, or leave it empty."
)


_DONE = (
    "Scan another label and Enter verifies against it. Up and down read on, Esc closes, alt+y "
    "copies the head."
)


class _StoppedError(Exception):
    """Nobody waits for the answer any more."""


class Verify(Dialog[None]):
    """Asks for an anchor, verifies, and says in words what was found.

    Parameters
    ----------
    location : str
        The record's file.
    clock : callable
        Gives the moment.
    """

    DEFAULT_CSS = """
    Verify { align: center middle; }
    Verify #sheet { width: 76; height: auto; max-height: 22; background: $surface;
        border: solid $primary; padding: 0 1; }
    Verify Input { height: 1; border: none; background: $panel; padding: 0 1; }
    Verify Input:focus { border: none; background-tint: $foreground 8%; }
    Verify VerticalScroll { height: auto; max-height: 14; }
    Verify #state { height: auto; }
    """
    HELP_TEXT = (
        "Every entry is checked: that nothing was changed, left out or put in. The text of the QR "
        "code of a label or report shows besides that nothing was cut off after it was printed."
    )
    KEYS = (
        ("enter", "Verify, against the label if one was scanned"),
        ("up, down", "Read on in what was found"),
        ("alt+y", "Copy the head"),
        ("esc", "Stop, and close"),
    )
    BINDINGS: ClassVar[list[Binding]] = [  # type: ignore[assignment]  # narrower than the toolkit's
        Binding("escape", "leave", "Close"),
        Binding("alt+y", "copy_head", "Copy the head", id="all.copy"),
        *(Binding(f"{key},page{key}", f"read_on('{key}')", show=False) for key in ("up", "down")),
    ]

    def __init__(self, location: str, clock: Callable[[], Moment]) -> None:
        super().__init__()
        self._location, self._clock = location, clock
        self._stop = Event()
        self._entries, self._began_us = 0, 0
        self.report: Report | None = None
        self.is_working = False

    def compose(self) -> ComposeResult:
        """What it does, the anchor, how far it is, what was found."""
        with Vertical(id="sheet"):
            yield Static(plain("Verify the record", "bold"))
            yield Static(plain(_WHAT))
            yield Input(id="anchor", placeholder="QR text, or nothing", compact=True)
            yield Static(plain("Enter begins. Esc closes."), id="state")
            with VerticalScroll(id="found", can_focus=False):
                yield Static("", id="words")

    def on_mount(self) -> None:
        """Wait for the anchor."""
        self.query_one(Input).focus()
        self.set_interval(0.2, self._tell)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Begin, once."""
        event.stop()
        if not self.is_working:
            self.is_working, self.report = True, None
            self._entries, self._began_us = 0, self._clock().us
            self.query_one("#words", Static).update("")
            self._tell()
            self._check(event.value.strip())

    @work
    async def _check(self, anchor: str) -> None:
        try:
            paper = await asyncio.to_thread(self._verify, anchor or None)
            self.report = paper.report
        except FillwrightError as error:
            self._say(plain(f"NO  {said(error.text, self.terminal.units)}"))
        except _StoppedError:
            return
        else:
            self._say(words(paper))
        finally:
            self.is_working = False

    def _verify(self, anchor: str | None) -> Paper:
        from blender.station.paper_check import check_paper

        return check_paper(self._location, anchor, self._note)

    def _note(self, entries: int) -> None:
        self._entries = entries
        if self._stop.is_set():
            raise _StoppedError

    def _tell(self) -> None:
        if self.is_working:
            took = max(self._clock().us - self._began_us, 0) // 1_000_000
            told = f"Checking: {self._entries} entries, {took // 60}:{took % 60:02d}. Esc stops."
            self.query_one("#state", Static).update(plain(told))

    def _say(self, told: Content) -> None:
        if self.is_mounted:
            self.query_one("#words", Static).update(told)
            self.query_one("#state", Static).update(plain(_DONE))
            self.query_one(Input).select_all()  # the next label's text replaces this one

    def action_read_on(self, way: str) -> None:
        """Scroll through what was found; the field keeps the keyboard."""
        found = self.query_one("#found")
        found.scroll_relative(y=found.size.height * (1 if way == "down" else -1), animate=False)

    def action_leave(self) -> None:
        """Close; work that is not done is stopped."""
        self._stop.set()
        self.dismiss(None)

    def action_copy_head(self) -> None:
        """Copy the digest of the last entry."""
        if self.report is not None and self.report.head:
            self.app.copy_to_clipboard(self.report.head)
            self.query_one("#state", Static).update(plain(f"Copied: {self.report.head}"))


def words(paper: Paper) -> Content:
    """Return what a verification found, in words."""
    report = paper.report
    verdict = "OK  The record is WHOLE." if report.ok else "NO  DAMAGED OR ALTERED."
    if whole := paper.whole_but:
        verdict = f"NO  The record is whole, but {whole}."
    lines = [
        plain(verdict, "bold" if report.ok else "bold reverse"),
        plain(f"Station {report.station or '?'}, incarnation {report.incarnation}, "
              f"{report.entries} entries, head"),
        plain(report.head),
        plain(f"{paper.text.rstrip(chr(46))}."),
    ]  # fmt: skip
    lines += [plain(str(one)) for one in report.problems[:SHOWN]]
    if len(report.problems) > SHOWN:
        lines.append(plain(f"and {len(report.problems) - SHOWN} more; `verify` lists them"))
    return Content("\n").join(lines)
