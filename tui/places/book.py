"""The Book: the record searched as one types, read, exported and proved."""

from __future__ import annotations

import asyncio
from array import array
from collections.abc import Sequence
from threading import Event
from typing import Any, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.timer import Timer
from textual.widgets import Input, Static

from blender.errors import FillwrightError
from blender.record import read
from blender.record.journal import Record
from blender.station import search
from tui.dialogs import export, jump
from tui.dialogs.export import Job
from tui.keys import bindings
from tui.places.book_away import TakingAway
from tui.places.book_papers import Papers
from tui.plain import plain
from tui.saying import said
from tui.shown import Units
from tui.widgets.fitted import Fitted
from tui.widgets.ledger import Ledger, place_of
from tui.widgets.ledger_columns import Line

PAUSE = 0.15  # somebody who types is not searched for before this [s]
LONGEST = 200  # characters of a search
EVERY = "Every fill, newest first. Type a serial, name, date, mix, state, number ..."


class Book(Papers, TakingAway):
    """Where the record is searched, read and proved."""

    NAME = "book"
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("book"),
        Binding("down,pagedown", "to_list", show=False),
        Binding("escape", "back", show=False),
    ]
    DEFAULT_CSS = """
    Book #search { height: 1; padding: 0 1; }
    Book #find { width: 8; text-style: bold; }
    Book #field { width: 1fr; height: 1; border: none; padding: 0 1; background: $panel; }
    Book #field:focus { border: none; background-tint: $foreground 8%; }
    Book #count { width: 27; padding: 0 0 0 2; }
    Book #understood { height: 1; padding: 0 1; color: $secondary; }
    Book #marked { height: 1; padding: 0 1; background: $panel; }
    Book #job { height: 1; padding: 0 1; display: none; }
    """
    HELP_TEXT = (
        "Type what you look for: a serial, a customer, a day, a mix, a state, an analyser, a "
        "fill's number. Down or Enter goes to the list, Enter there opens a fill's story, and "
        "typing goes on with the search. alt+e prints papers of the marked fill, alt+i shows the "
        "history of its cylinder, alt+q prints the fill log of a cylinder, customer or blender."
    )

    def __init__(self) -> None:
        super().__init__()
        self._asked = 0  # searches asked for; the answer to an earlier one is dropped
        self._cancel = Event()
        self._soon: Timer | None = None
        self._seq = 0  # the entry the list is as of
        self.searched = ""  # what the list was searched by
        self._all = 0
        self._job: Job | None = None

    def middle(self) -> ComposeResult:
        """The search, how it is understood, the list, and the marked line in full."""
        with Horizontal(id="search"):
            yield Static("Search", id="find", markup=False)
            yield Input(id="field", compact=True, select_on_focus=False, max_length=LONGEST)
            yield Static("", id="count", markup=False)
        yield Fitted("understood")
        yield Ledger(self._lines, self._typed)
        yield Fitted("marked")
        yield Fitted("job")

    @property
    def ledger(self) -> Ledger:
        """The list."""
        return self.query_one(Ledger)

    @property
    def field(self) -> Input:
        """What is searched for."""
        return self.query_one("#field", Input)

    def on_mount(self) -> None:
        """Tell how far an export is."""
        super().on_mount()
        self.set_interval(0.25, self._tell_job)

    def take_keys(self) -> None:
        """Type at once; a list one stood in keeps the keyboard."""
        if self.focused is None:
            self.set_focus(self.field)

    # -- searching -------------------------------------------------------------------------

    def renew(self) -> None:
        """Search again if something was entered meanwhile."""
        if self.ledger.units != self.terminal.units:
            self.ledger.units = self.terminal.units
            self.ledger.refresh()
            self.on_ledger_moved()
        self._renew()

    @work(exclusive=True, group="renew")
    async def _renew(self) -> None:
        seq = await self.look(_last_seq)
        if seq is not None and seq != self._seq and (self._soon is None):
            self._ask(pause=0.0)

    def on_input_changed(self, event: Input.Changed) -> None:
        """Search when the typing pauses; what is searched for still is given up."""
        event.stop()
        self._ask(PAUSE)

    def _ask(self, pause: float) -> None:
        self._asked += 1
        self._cancel.set()
        self._cancel = Event()
        if self._soon is not None:
            self._soon.stop()
        if pause:
            self._put("count", "...")
        self._soon = self.set_timer(pause or 0.001, self._search)

    @work(exclusive=True, group="search")
    async def _search(self) -> None:
        """Find; an answer that comes after another question is dropped."""
        self._soon = None
        asked, text, cancel = self._asked, self.field.value, self._cancel
        floor = self.terminal.floor
        try:
            meant = await floor.look(search.understood, text)
            if asked == self._asked:
                self._put("understood", meant or EVERY)
            found, every, seq = await floor.look(_found, text, cancel)
        except FillwrightError as error:
            if asked == self._asked:
                self._say_flaw(error.text)
            return
        if asked == self._asked and self.is_mounted:
            self._all, self._seq = every, seq
            self._show(found, text)

    def _say_flaw(self, text: str) -> None:
        self._put("understood", f"! {said(text, self.terminal.units)}")
        self._tell_count()

    def _show(self, found: array[int], text: str) -> None:
        ledger, at = self.ledger, 0
        if text == self.searched and ledger.cursor:
            at = place_of(found, ledger.number)
        self.searched = text
        ledger.show(found, at)
        self._tell_count()

    def _tell_count(self) -> None:
        shown = grouped(len(self.ledger.numbers))
        count = shown if not self.searched.strip() else f"{shown} of {grouped(self._all)}"
        self._put("count", f"{count} {'fill' if count == '1' else 'fills'}")

    def _put(self, ident: str, text: str) -> None:
        """Say something in a line of fixed size, without laying the screen out again."""
        self.query_one(f"#{ident}", Static).update(plain(text), layout=False)

    async def _lines(self, numbers: list[int]) -> Sequence[Line] | None:
        if not self.terminal.floor.is_open:
            return None
        return await self.look(search.lines, numbers)

    # -- field and list --------------------------------------------------------------------

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Open the story of the marked fill; while a search is under way, go to the list."""
        event.stop()
        if self.searched == event.value and self.ledger.number:
            self.on_ledger_chosen()
        else:
            self.action_to_list()

    def action_to_list(self) -> None:
        """Go from the field to the list, before the next key is looked at."""
        self.set_focus(self.ledger)

    def action_back(self) -> None:
        """Stop an export, else go back to the field; what was typed stays."""
        if self._job is not None:
            self._job.stop.set()
        else:
            self.set_focus(self.field)

    def _typed(self, char: str) -> None:
        """Go on with the search where the cursor of the field stood."""
        self.set_focus(self.field)
        self.field.insert_text_at_cursor(char)

    def on_ledger_moved(self) -> None:
        """Say of the marked fill what has no room in its line."""
        self.query_one("#marked", Static).update(
            _marked(self.ledger.line, self.terminal.units), layout=False
        )

    def on_ledger_chosen(self) -> None:
        """Open the story of the marked fill."""
        from tui.places.story import Story

        ledger = self.ledger
        self.app.push_screen(Story(ledger.numbers, ledger.cursor, self._turned(ledger.numbers)))

    def _turned(self, numbers: array[int]) -> Any:
        def turned(at: int) -> None:
            self.ledger.turn(place_of(self.ledger.numbers, numbers[at]))

        return turned

    def fill_shown(self) -> int:
        """Return the marked fill."""
        return self.ledger.number

    def action_step(self, by: int) -> None:
        """Mark the next or previous fill."""
        self.ledger.turn(self.ledger.cursor + by)

    @work
    async def action_label(self) -> None:
        """Print the label of the marked fill again."""
        from tui.papers import print_label

        if not self.ledger.number:
            self.say("note", "There is no fill here.")
        elif path := await self.look(print_label, self.terminal.house, self.ledger.number):
            self.say("done", f"Label: {path}")

    def value_to_copy(self) -> str:
        """Return the marked fill's number."""
        return str(self.ledger.number or "")

    # -- jumping, exporting, proving -------------------------------------------------------

    def action_jump(self) -> None:
        """Ask for a date or number and go there."""

        def begin(answers: dict[str, str] | None) -> None:
            if answers is not None:
                self._jump(answers["to"].strip())

        self.app.push_screen(jump.form(self.terminal.drafts), begin)

    @work
    async def _jump(self, wanted: str) -> None:
        numbers = self.ledger.numbers
        at = await self.look(jump.place, numbers, wanted)
        self.terminal.drafts.pop(jump.TITLE, None)
        if at is None or numbers is not self.ledger.numbers:
            return
        self.ledger.turn(at)
        self.set_focus(self.ledger)
        if wanted.isdigit() and self.ledger.number != int(wanted):
            self.say("mind", f"Fill {wanted} is not among those shown; this is the nearest.")

    def action_export(self) -> None:
        """Ask for a name and make the paper, while the screen stays alive."""
        if self._job is not None:
            self.say("note", f"{self._job.name} is being made; Esc stops it.")
            return
        numbers, words, now = (
            self.ledger.numbers,
            self.searched.strip(),
            self.terminal.house.clock(),
        )

        def begin(answers: dict[str, str] | None) -> None:
            if answers is not None:
                self.terminal.drafts.pop(export.TITLE, None)
                self._job = Job(answers["name"].strip(), numbers, words, now)
                self._export(self._job)

        initial = f"fills-{now.local:%Y-%m-%d-%H%M}.csv"
        self.app.push_screen(export.form(initial, len(numbers), self.terminal.drafts), begin)

    @work
    async def _export(self, job: Job) -> None:
        try:
            path = await self._made(job)
            count = len(job.numbers)
            self.say("done", f"{grouped(count)} fill{'s' * (count != 1)}: {path}")
        except FillwrightError as error:
            self.say("note" if job.stop.is_set() else "refused", error.text)
        finally:
            self._job = None
            self._tell_job()

    async def _made(self, job: Job) -> str:
        content = await self.terminal.floor.look(export.make, job)
        return await asyncio.to_thread(self.terminal.house.put_paper, job.name, content)

    def _tell_job(self) -> None:
        line, job = self.query_one("#job", Static), self._job
        line.display = job is not None
        if job is not None:
            line.update(plain(f"... {job.name}: {_how_far(job)}. Esc stops it."))

    def action_verify(self) -> None:
        """Verify the whole record."""
        from tui.dialogs.verify import Verify

        house = self.terminal.house
        self.app.push_screen(Verify(house.location, house.clock))


def grouped(count: int) -> str:
    """Return a count with its thousands apart: 1 000 000."""
    return f"{count:,}".replace(",", " ")


def _how_far(job: Job) -> str:
    if job.done >= len(job.numbers):
        return f"every fill is read, {grouped(job.drawn)} of {grouped(len(job.numbers))} are drawn"
    return f"{grouped(job.done)} of {grouped(len(job.numbers))} fills read"


def _last_seq(record: Record) -> int:
    return record.head().seq


def _found(record: Record, text: str, cancel: Event) -> tuple[array[int], int, int]:
    """Return the fills found, how many there are at all, and the entry this is as of."""
    seq = record.head().seq
    found = search.find(record, text, cancelled=cancel.is_set)
    with record.read() as conn:
        every = read.next_fill_number(conn) - 1  # fills are numbered without a gap
    return found, every, seq


def _marked(line: Line | None, units: Units) -> Content:
    """Return the marked fill in words; what nobody may breathe says so, and what is in it."""
    if line is None:
        return Content("")
    amended = f"  AMENDED by entry {line['amended_by']}" if line["amended_by"] else ""
    stands = f"{line['state']}{amended}"
    who = plain(f"{line['fill']}  {line['cylinder']}  {line['customer']}  {stands}")
    if not line["do_not_breathe"]:
        return Content.assemble(who, plain("  Enter: its story"))
    inside = said(line.get("holds_text", "").removesuffix(" - DO NOT BREATHE"), units)
    return Content.assemble(
        ("! DO NOT BREATHE ", "bold $warning"), plain(f"{inside}  "), who
    )  # fmt: skip
