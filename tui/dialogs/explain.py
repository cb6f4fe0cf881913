"""F1: what the field wants, and every key that works here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

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
    keys : sequence of (str, str)
        The keys that work there, and what each does.
    note : str
        Where record and settings are.
    """

    DEFAULT_CSS = """
    Explain { align: center middle; }
    Explain VerticalScroll { width: 76; max-height: 22; height: auto; padding: 0 2;
        background: $surface; border: solid $primary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,f1,enter", "dismiss", "Close")]

    def __init__(self, text: str, keys: Sequence[tuple[str, str]], note: str) -> None:
        super().__init__()
        self._text, self._keys, self._note = text, keys, note

    def compose(self) -> ComposeResult:
        """The field, the keys, the caution."""
        with VerticalScroll(can_focus=True) as page:
            page.border_subtitle = "Esc closes this"
            if self._text:
                yield Static(_lines(self._text))
                yield Static("")
            yield Static(self._listed())
            yield Static("")
            yield Static(_lines(f"{CAUTION}\n{self._note}"))

    def _listed(self) -> Content:
        made = [
            Content.assemble((f"{key:9}", "bold"), " ", plain(text)) for key, text in self._keys
        ]
        return Content("\n").join(made)


def _lines(text: str) -> Content:
    return Content("\n").join(plain(line) for line in text.split("\n"))
