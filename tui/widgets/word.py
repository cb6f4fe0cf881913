"""The station's word: what came of the last thing done, kept until the next."""

from __future__ import annotations

from textual.content import Content

from tui.plain import plain
from tui.widgets.fitted import Fitted

# A sign and a word beside every colour: nothing hangs on colour alone.
SIGNS = {
    "done": ("OK", "bold $success"),
    "mind": ("MIND", "bold $warning"),
    "refused": ("NO", "bold reverse $error"),
    "busy": ("...", "$secondary"),
    "note": ("", ""),
}


class Word(Fitted):
    """A few lines that say what came of the last act; never taken away by time.

    There are more of them where the screen is higher.
    """

    DEFAULT_CSS = """
    Word { height: auto; max-height: 22%; min-height: 1; padding: 0 1; background: $surface; }
    """

    def __init__(self) -> None:
        super().__init__("word")
        self.kind, self.said = "note", ""

    def say(self, kind: str, text: str) -> None:
        """Say something: ``done``, ``mind``, ``refused``, ``busy`` or ``note``."""
        self.kind, self.said = kind, text
        sign, style = SIGNS[kind]
        mark = Content.assemble((f" {sign} ", style), " ") if sign else Content("")
        self.update(Content.assemble(mark, plain(text)))
