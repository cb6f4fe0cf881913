"""Every command by its name: what the palette finds."""

from __future__ import annotations

from collections.abc import AsyncIterator, Coroutine
from functools import partial

from textual.command import DiscoveryHit, Hit, Hits, Provider

from tui.keys import Command, at


class PlaceCommands(Provider):
    """The commands that work where one stands."""

    @property
    def _known(self) -> list[Command]:
        return at(self.app.current_mode)

    async def discover(self) -> AsyncIterator[DiscoveryHit]:
        """Offer all of them."""
        for command in self._known:
            yield DiscoveryHit(self._title(command), self._run(command), help=command.label)

    async def search(self, query: str) -> Hits:
        """Offer those that fit what was typed."""
        matcher = self.matcher(query)
        for command in self._known:
            title = self._title(command)
            if (score := matcher.match(title)) > 0:
                yield Hit(score, matcher.highlight(title), self._run(command), help=command.label)

    def _title(self, command: Command) -> str:
        return f"{command.text} ({command.key})"

    def _run(self, command: Command) -> partial[Coroutine[object, object, bool]]:
        app = self.app
        return partial(app.run_action, command.action, default_namespace=self.screen)
