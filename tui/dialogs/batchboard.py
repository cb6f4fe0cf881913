"""The board of a batch: one line a cylinder, what is next for it, and whether it was signed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import DataTable, Static

from blender.station import batch as batches
from tui.dialogs.dialog import Dialog
from tui.plain import cell, fit, plain
from tui.shown import Units

if TYPE_CHECKING:
    from tui.app import Terminal

_COLUMNS = (("#", 2), ("cylinder", 13), ("state", 12), ("next stop", 12), ("last read", 9),
            ("O2 / He %", 10), ("signed", 8))  # fmt: skip
_KEYS = "Enter: to this fill   alt+g: work tags   alt+s: sheet to sign   Esc: close"
_TAGGED = ("planned", "filling", "held", "resting", "analysed", "recheck", "correcting")


class BatchBoard(Dialog[None]):
    """The board of one batch; Enter turns to a fill at the Panel.

    Parameters
    ----------
    batch : int
        The batch.
    """

    DEFAULT_CSS = """
    BatchBoard { align: center middle; }
    BatchBoard Vertical { width: 100%; max-width: 100; height: auto; max-height: 100%;
        background: $surface; border: solid $primary; padding: 0; }
    BatchBoard Static { height: auto; padding: 0 1; }
    BatchBoard DataTable { height: auto; max-height: 17; background: $surface; overflow-x: hidden; }
    """
    HELP_TEXT = (
        "One line a cylinder of this batch. A ! is DO NOT BREATHE. Each diver analyses and signs "
        "for each cylinder: NOT YET says who has still to come."
    )
    KEYS = (
        ("up, down", "Another cylinder"),
        ("enter", "Turn to its fill at the Panel"),
        ("alt+g", "Print the work tags"),
        ("alt+s", "Print the sheet to be signed"),
        ("esc", "Close"),
    )
    BINDINGS: ClassVar[list[Binding]] = [  # type: ignore[assignment]  # narrower than the toolkit's
        Binding("escape", "leave", "Close"),
        Binding("alt+g", "tags", "Tags"),
        Binding("alt+s", "sheet", "Sheet"),
    ]

    def __init__(self, batch: int) -> None:
        super().__init__()
        self._batch = batch
        self._fills: list[int] = []
        self._tagged: list[int] = []

    def compose(self) -> ComposeResult:
        """What was asked for, the lines, the keys."""
        with Vertical():
            yield Static("", id="batch-head", markup=False)
            yield DataTable(cursor_type="row", cell_padding=0, id="batch-lines")
            yield Static("", id="batch-foot", markup=False)

    def on_mount(self) -> None:
        """Show it, and look again now and then."""
        table = self.query_one(DataTable)
        for name, width in _COLUMNS:
            table.add_column(cell(name), width=width + 1, key=name)
        table.focus()
        self.renew()
        self.set_interval(15.0, self.renew)

    @work(exclusive=True, group="board")
    async def renew(self) -> None:
        """Read the board and show it."""
        terminal = self.terminal
        found = await terminal.attempt(terminal.floor.look(batches.board, self._batch))
        if found is None:
            self.dismiss(None)
            return
        table, at = self.query_one(DataTable), self.query_one(DataTable).cursor_row
        table.clear()
        self._fills = [line["fill"] for line in found["lines"]]
        self._tagged = [line["fill"] for line in found["lines"] if line["state"] in _TAGGED]
        for number, line in enumerate(found["lines"], 1):
            table.add_row(*_row(number, line, terminal.units))
        table.move_cursor(row=at)
        wanted = terminal.units.wanted(found["want"])
        head = f"Batch {self._batch}: {found['cylinders']} of {wanted} for "
        head += f"{', '.join(found['customers'])}; {found['open']} open"
        self.query_one("#batch-head", Static).update(plain(head, "bold"))
        waiting = len(found["not_yet_analysed_by_diver"])
        foot = f"{waiting} not yet analysed by the diver. ! is DO NOT BREATHE."
        self._foot(foot)

    def on_data_table_row_selected(self, event: DataTable.RowSelected) -> None:
        """Turn to the fill at the Panel."""
        event.stop()
        if event.cursor_row < len(self._fills):
            self.dismiss(None)
            terminal, fill = self.terminal, self._fills[event.cursor_row]
            terminal.call_after_refresh(_turn, terminal, fill)

    @work
    async def action_tags(self) -> None:
        """Print the work tag of every fill that has a plan and was not signed yet."""
        from tui.papers import print_tag

        terminal, printed = self.terminal, 0
        for number in self._tagged:
            printing = terminal.floor.look(print_tag, terminal.house, number)
            printed += await terminal.attempt(printing) is not None
        self._foot(f"{printed} of {len(self._tagged)} work tags printed.")

    @work
    async def action_sheet(self) -> None:
        """Print the sheet of what no diver has analysed and signed for yet."""
        from tui.papers import print_batch_sheet

        terminal = self.terminal
        printing = terminal.floor.look(print_batch_sheet, terminal.house, self._batch)
        if path := await terminal.attempt(printing):
            self._foot(f"Sheet for the divers to sign: {path}")

    def _foot(self, told: str) -> None:
        said = Content("\n").join([plain(told), plain(_KEYS)])
        self.query_one("#batch-foot", Static).update(said)

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)


def _turn(terminal: Terminal, fill: int) -> None:
    """Go to the Panel, or turn to the fill where one is there already."""
    terminal.at_panel(fill)
    renew = getattr(terminal.screen, "renew", None)
    if terminal.current_mode == "panel" and renew is not None:
        renew()


def _row(number: int, line: Mapping[str, Any], units: Units) -> list[Text]:
    stop, last, analysed = line["next"], line["last_reading"], line["analysed"]
    unsafe = "!" if line["do_not_breathe"] else " "
    to = f"{_short(stop['action'])} {units.pressure(stop['to_bar'], 0)}" if stop else ""
    to = "PLAN AGAIN" if line["beyond_stop"] else "GAS LOST" if line["gas_lost"] else to
    helium = f"/{analysed['he'] * 100:.1f}" if analysed and analysed["he"] else ""
    says = (
        f"{number:2}",
        f"{unsafe}{fit(line['serial'], 12, 'tail').strip()}",
        line["state"],
        to,
        units.pressure(last["pressure_bar"], 0) if last else "",
        f"{analysed['o2'] * 100:.1f}{helium}" if analysed else "",
        line["accepted_by"] or ("rejected" if line["state"] == "rejected" else "NOT YET"),
    )
    styles = ("", "bold" if line["do_not_breathe"] else "")
    return [
        cell(fit(text, width), styles[at == 1])
        for at, (text, (_, width)) in enumerate(zip(says, _COLUMNS, strict=True))
    ]


def _short(action: str) -> str:
    return action if action != "add" else "to"
