"""The toolkit's driver for a browser, which takes no size for true that no tablet has."""

from __future__ import annotations

from textual import events
from textual.drivers.web_driver import WebDriver
from textual.message import Message

MOST_CELLS = 500


class TabletDriver(WebDriver):
    """As the toolkit's, but for sizes: whoever types them must not fill the memory."""

    def process_message(self, message: Message) -> None:
        """Pass on what happened, unless it is a size that cannot be."""
        if isinstance(message, events.Resize) and not self._is_sane(message):
            return
        super().process_message(message)

    @staticmethod
    def _is_sane(message: events.Resize) -> bool:
        return all(1 <= one <= MOST_CELLS for one in message.size)
