"""F1: what the field wants, and every key that works here."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.keys import at
from tui.plain import plain

CAUTION = (
    "For qualified blenders. Oxygen burns; a wrong mix kills. Local codes and the cylinder's "
    "own markings come first, and every cylinder is analysed before use."
)


class Explain(ModalScreen[None]):
    """Help for where one stands.

    Parameters
    ----------
    text : str
        About the field that had the keyboard.
    place : str
        Whose keys are listed.
    note : str
        Where record and settings are.
    """

    DEFAULT_CSS = """
    Explain { align: center middle; }
    Explain VerticalScroll { width: 76; max-height: 22; height: auto; padding: 0 2;
        background: $surface; border: solid $primary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,f1,enter", "dismiss", "Close")]

    def __init__(self, text: str, place: str, note: str) -> None:
        super().__init__()
        self._text, self._place, self._note = text, place, note

    def compose(self) -> ComposeResult:
        """The field, the keys, the caution."""
        with VerticalScroll(can_focus=True) as page:
            page.border_subtitle = "Esc closes this"
            if self._text:
                yield Static(plain(self._text))
                yield Static("")
            yield Static(self._keys())
            yield Static("")
            yield Static(plain(f"{CAUTION}\n{self._note}"))

    def _keys(self) -> Content:
        keymap = self.app._keymap  # noqa: SLF001 - the toolkit has no door to it
        lines = []
        for command in at(self._place):
            key = keymap.get(command.ident, command.key)
            lines.append(Content.assemble((f"{key:9}", "bold"), " ", plain(command.text)))
        return Content("\n").join(lines)
