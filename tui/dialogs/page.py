"""A page to be read through over a place, and what can be done with it by one key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from tui.dialogs.dialog import Dialog
from tui.plain import fit, plain

_CAPTION = 15  # cells of a caption, as papers have them
_EDGES = 6  # border, padding and the scroll bar of a page


@dataclass(frozen=True, slots=True)
class Captioned:
    """A line of a paper: its caption, its text, whether it stands out; what is long hangs below."""

    caption: str
    text: str
    strong: bool = False

    def drawn(self, width: int) -> Content:
        """Return it in so many cells."""
        style = "bold" if self.strong else ""
        head = plain(f"{fit(self.caption, _CAPTION)} ", style)
        parts = plain(self.text, style).wrap(max(width - _CAPTION - 1, 1))
        heads = [head, *[Content(" " * (_CAPTION + 1))] * len(parts)]
        pairs = zip(heads, parts or [Content("")], strict=False)
        return Content("\n").join(Content.assemble(*pair) for pair in pairs)


class Page(Dialog[str | None]):
    """A page; its answer is the key that was pressed of those offered, None if it was left.

    Parameters
    ----------
    title : str
        What it is.
    lines : sequence of str, Content or Captioned
        What it says.
    offers : mapping
        What can be done with it: key and words, such as ``{"p": "Print it"}``.
    """

    DEFAULT_CSS = """
    Page { align: center middle; }
    Page #sheet-of-it { width: 100%; max-width: 100; height: auto; max-height: 100%;
        padding: 0 1; background: $surface; border: solid $primary; }
    Page #offers { dock: bottom; width: 100%; height: auto; padding: 0 2; background: $panel; }
    Page Static { height: auto; }
    """
    WIDEST: ClassVar[int] = 100  # as the style sheet above has it
    KEYS: ClassVar[tuple[tuple[str, str], ...]] = (
        ("up, down", "Read on"),
        ("PgUp, PgDn", "Read on by pages"),
        ("esc", "Leave it"),
    )
    HELP_TEXT = "Read it with up, down, PgUp and PgDn; what can be done with it stands below."

    def __init__(
        self,
        title: str,
        lines: Sequence[str | Content | Captioned],
        offers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__()
        self._title, self._lines, self._offers = title, lines, dict(offers or {})
        self.KEYS = (*self._offers.items(), *Page.KEYS)  # type: ignore[misc]  # of this page

    def compose(self) -> ComposeResult:
        """The page, and what can be done."""
        with VerticalScroll(id="sheet-of-it"):
            yield Static(plain(self._title, "bold"))
            yield Static(Content("\n").join(map(self._drawn, self._lines)))
        offered = [f"{key}: {words}" for key, words in self._offers.items()]
        yield Static(plain("   ".join([*offered, "up, down: read on", "Esc: leave"])), id="offers")

    def _drawn(self, line: str | Content | Captioned) -> Content:
        if isinstance(line, Captioned):
            return line.drawn(min(self.app.size.width, self.WIDEST) - _EDGES)
        return plain(line) if isinstance(line, str) else line

    def on_mount(self) -> None:
        """Scroll by the keyboard."""
        self.query_one("#sheet-of-it").focus()

    def on_key(self, event: Key) -> None:
        """Take one of the keys offered."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)
        elif event.key in self._offers:
            event.stop()
            self.dismiss(event.key)
