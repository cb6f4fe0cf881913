"""The toolkit's driver for a browser: takes no size that no tablet has, and draws finer than cells."""

from __future__ import annotations

from textual import events
from textual.drivers.web_driver import WebDriver
from textual.message import Message

MOST_CELLS = 500
_IN_PIXELS = "\x1b[?1016h"  # asks a terminal to say where the mouse is in pixels


class TabletDriver(WebDriver):
    """As the toolkit's, but for sizes.

    Whoever types one must not fill the memory.  One that comes with pixels, as the server gives
    it, makes the toolkit count a finger's place in them: so the page is asked to tell it so.
    """

    def process_message(self, message: Message) -> None:
        """Pass on what happened, unless it is a size that cannot be."""
        if isinstance(message, events.Resize) and not self._is_sane(message):
            return
        if isinstance(message, events.Resize) and message.pixel_size is not None:
            self.write(_IN_PIXELS)
        super().process_message(message)

    @staticmethod
    def _is_sane(message: events.Resize) -> bool:
        return all(1 <= one <= MOST_CELLS for one in message.size)
