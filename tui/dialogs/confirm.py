"""A question before what cannot be undone; the safe answer is the one at hand."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from tui.dialogs.dialog import Dialog
from tui.plain import plain


class Confirm(Dialog[bool]):
    """Yes by ``y`` alone; Enter, Esc and ``n`` are no.

    Parameters
    ----------
    question : str
        What will happen, and to what.
    """

    DEFAULT_CSS = """
    Confirm { align: center middle; }
    Confirm Static { width: 64; height: auto; padding: 1 2; background: $surface;
        border: solid $warning; }
    """

    HELP_TEXT = "What stands there is done only if y is pressed."
    KEYS = (("y", "Do it"), ("n, enter, esc", "Do nothing"))

    def __init__(self, question: str) -> None:
        super().__init__()
        self._question = question

    def compose(self) -> ComposeResult:
        """The question."""
        told = (self._question, "", "y  yes", "n, Enter or Esc  no")
        yield Static(Content("\n").join(plain(line) for line in told))

    def on_key(self, event: Key) -> None:
        """Take the answer."""
        if event.key == "f1":
            return
        event.stop()
        if event.key in ("y", "n", "enter", "escape"):
            self.dismiss(event.key == "y")
