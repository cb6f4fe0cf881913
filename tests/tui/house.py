"""A terminal in a house of the tests: the shop's station, a clock to turn, papers in a list."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, TypeVar

from textual.pilot import Pilot
from textual.widgets import Input

from blender.record.journal import Record
from blender.record.keys import StationKeys, key_path
from blender.station import people
from blender.station.desk import Station
from tests.patience import PATIENCE_S
from tests.station.shop import CHEAP, NAMES, SECRET, Clock, Shop
from tui.app import Terminal
from tui.house import House
from tui.widgets.asking import AskField
from tui.widgets.word import Word

Result = TypeVar("Result")


class Rig:
    """A terminal to be driven, and what it did to the outside."""

    def __init__(self, location: Path, clock: Clock | None = None) -> None:
        self.location = location
        self.clock = clock or Clock()
        self.demo_at = location
        self.papers: dict[str, bytes] = {}
        self.files: dict[str, str] = {}
        self.tables: dict[str, bytes] = {}
        self.away: dict[str, dict[str, bytes]] = {}
        self.terminal = Terminal(self.house())

    def house(self) -> House:
        return House(
            location=str(self.location),
            clock=self.clock,
            open_station=self._open,
            found=self._found,
            load_settings=lambda name: self.files.get(name, ""),
            save_settings=self.files.__setitem__,
            put_paper=self._put,
            is_founded=self.location.exists,
            demo=self._demo,
            take_away=self._take_away,
            read_table=self.tables.__getitem__,
            report_bug=repr,
        )

    def _found(self, **facts: str) -> dict[str, str]:
        keys = StationKeys.create(key_path(self.location))
        people.found(
            str(self.location), keys, self.clock(), ident=facts["ident"], name=facts["name"],
            manager=facts["manager"], secret=facts["first_secret"], cost=CHEAP,
        ).close()  # fmt: skip
        where = {"record": str(self.location), "keys": str(key_path(self.location))}
        return {"station": facts["ident"], **where}

    def _open(self) -> Station:
        keys = StationKeys.load(key_path(self.location))
        return Station(Record.open(self.location), keys, self.clock)

    def _demo(self) -> tuple[House, dict[str, str]]:
        """Another station stands for the demonstration's."""
        return Rig(self.demo_at, self.clock).house(), {NAMES["manager"]: SECRET}

    def _take_away(self, name: str, files: Iterable[tuple[str, Iterable[bytes]]]) -> str:
        self.away[name] = {file: b"".join(parts) for file, parts in files}
        return f"beside/{name}"

    def _put(self, name: str, content: bytes) -> str:
        self.papers[name] = content
        return f"papers/{name}"

    @asynccontextmanager
    async def run(
        self, size: tuple[int, int] = (80, 24), who: str = "blender", place: str = "panel"
    ) -> AsyncIterator[Pilot[int]]:
        """Run the terminal with somebody signed in, standing at a place."""
        async with self.terminal.run_test(size=size, notifications=True, tooltips=True) as pilot:
            if who:
                await self.settle(pilot)
                await self.terminal.floor.sign_in(NAMES[who], SECRET)
                self.terminal.signed_in()
                await self.settle(pilot)
                if place != "panel":
                    self.terminal.action_place(place)
                await self.settle(pilot)
            yield pilot
            self.terminal.floor.close()

    async def sign_in(self, pilot: Pilot[int], name: str) -> None:
        """Sign somebody in at the door by the keyboard."""
        await self.settle(pilot)
        await self.type(pilot, name)
        await pilot.press("enter")
        await self.settle(pilot)
        await self.type(pilot, SECRET)
        await pilot.press("enter")
        await self.until(pilot, lambda: self.terminal.current_mode != "door")
        await self.settle(pilot)

    async def settle(self, pilot: Pilot[int]) -> None:
        """Wait until everything that was begun has come to its end."""
        await self.terminal.floor.ready()
        for _ in range(2):
            await pilot.pause()
            await self._work_done()
        await pilot.pause()

    async def settle_quietly(self, pilot: Pilot[int]) -> None:
        """Wait for what is being done, where there is no station to wait for."""
        for _ in range(2):
            await pilot.pause()
            await self._work_done()
        await pilot.pause()

    async def _work_done(self) -> None:
        """Wait for what is being done; a dialog waits for its person, and is not waited for."""
        doing = [work for work in self.terminal.workers if work.group != "dialog"]
        if doing:
            await self.terminal.workers.wait_for_complete(doing)

    async def until(self, pilot: Pilot[int], is_so: Callable[[], object]) -> None:
        """Wait for a condition, not for a time."""
        ends = time.monotonic() + PATIENCE_S
        while not is_so():
            assert time.monotonic() < ends, f"it never became so:\n{self.screen_text()}"
            await pilot.pause()
            await asyncio.sleep(0.002)

    async def type(self, pilot: Pilot[int], text: str) -> None:
        """Type a text key by key, as a keyboard or a scanner would."""
        for char in text:
            await pilot.press(_KEYS.get(char, char))

    async def put(self, pilot: Pilot[int], text: str) -> None:
        """Put a text in at once, over what is selected; each key would cost a tenth of a second."""
        focused = self.terminal.screen.focused
        assert isinstance(focused, Input), f"{focused} takes no text"
        focused.replace(text, *focused.selection)
        await pilot.pause()

    async def enter(self, pilot: Pilot[int], text: str) -> None:
        """Put a text into the field and press Enter, and wait for what comes of it."""
        if text:
            await self.put(pilot, text)
        await pilot.press("enter")
        await self.settle(pilot)

    def said(self) -> tuple[str, str]:
        """What the station said last, where one stands."""
        word = self.terminal.screen.query_one(Word)
        return word.kind, word.said

    def prompt(self) -> str:
        """What the field asks now."""
        ask = self.terminal.screen.query_one(AskField).ask
        return ask.prompt if ask else ""

    def screen_text(self) -> str:
        """Everything on the screen, as text."""
        strips = self.terminal.screen._compositor.render_strips()
        return "\n".join("".join(part.text for part in strip) for strip in strips)


_KEYS = {" ": "space", ",": "comma", ".": "full_stop", "+": "plus", "-": "minus", "/": "slash"}


def run(main: Callable[[], Awaitable[Result]]) -> Result:
    """Run an async test."""
    return asyncio.run(_await(main))


async def _await(main: Callable[[], Awaitable[Any]]) -> Any:
    return await main()


def shop_at(folder: Path) -> Shop:
    """Open the shop's station beside the terminal, to prepare what a test starts from."""
    return Shop.open(folder / "station.db")
