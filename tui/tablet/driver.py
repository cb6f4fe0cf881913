"""The toolkit's driver for a browser: no size that no tablet has, and a finger finer than cells."""

from __future__ import annotations

from textual import events, messages
from textual.drivers.web_driver import WebDriver
from textual.message import Message

MOST_CELLS = 500
KEYBOARD = "keyboard"  # of a message to the page
_IN_PIXELS = "\x1b[?1016h"  # asks a terminal to say where the mouse is in pixels


class TabletDriver(WebDriver):
    """As the toolkit's, but for sizes.

    Whoever types one must not fill the memory.  One that comes with pixels, as the server gives
    it, makes the toolkit count a finger's place in them: so the page is asked to tell it so.
    """

    def start_application_mode(self) -> None:
        """Begin with the keyboard, and keep it, whatever the page says of its own."""
        super().start_application_mode()
        self._app.call_later(self._app.post_message, events.AppFocus())

    def run_input_thread(self) -> None:
        """Leave with the server: an app nobody is shown any more would hold the record open."""
        super().run_input_thread()
        self._app.post_message(messages.ExitApp())

    def process_message(self, message: Message) -> None:
        """Pass on what happened, unless it is a size that cannot be."""
        if isinstance(message, events.Resize) and not self._is_sane(message):
            return
        if isinstance(message, events.Resize) and message.pixel_size is not None:
            self.write(_IN_PIXELS)
        super().process_message(message)

    def ask_for_letters(self, *, wanted: bool) -> None:
        """Let a tablet bring its own keyboard up, or put it away."""
        self.write_meta({"type": KEYBOARD, "wanted": wanted})

    @staticmethod
    def _is_sane(message: events.Resize) -> bool:
        return all(1 <= one <= MOST_CELLS for one in message.size)
