"""What every dialog has: it stands over a place, knows the app, and explains itself by F1."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, TypeVar, cast

from textual.binding import Binding, BindingType
from textual.screen import ModalScreen

if TYPE_CHECKING:
    from tui.app import Terminal

Answer = TypeVar("Answer")


class Dialog(ModalScreen[Answer]):
    """A dialog; its answer is None if it was left."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f1", "app.explain", "Help", id="all.help")]
    HELP_TEXT: ClassVar[str] = ""
    KEYS: ClassVar[tuple[tuple[str, str], ...]] = (("esc", "Leave this"),)

    @property
    def terminal(self) -> Terminal:
        """The app."""
        return cast("Terminal", self.app)

    def let_go(self) -> None:
        """Leave it because somebody else may come: nothing is done."""
        self.dismiss(None)

    def explain(self) -> str:
        """Return what F1 says of what has the keyboard."""
        return self.HELP_TEXT
