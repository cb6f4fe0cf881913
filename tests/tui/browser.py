"""A real browser on this machine, if there is one, as a customer uses it at the counter.

`FILLWRIGHT_TEST_BROWSER` names another than the usual ones; it must speak Chromium's protocol.
What stands on the terminal in its page is read from what the page was sent: a canvas has no text.
"""

from __future__ import annotations

import asyncio
import json
import os
import re
import shutil
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from functools import cache
from typing import TYPE_CHECKING, Any

import pytest
from rich.cells import cell_len

from tests.patience import PATIENCE_S
from tests.tui.idle import AT_REST

if TYPE_CHECKING:  # asked for by every test run, and loaded only where a browser is driven
    from playwright.async_api import Browser, CDPSession, Page

USUAL = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
_STILL = 4  # looks in a row at which words stand in one place
_PART = re.compile(r"\x1b\[(?P<given>[?0-9;]*)[\x20-\x2f]*(?P<end>[@-~])"
                   r"|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b[78=>]|(?P<text>[^\x1b]+)")  # fmt: skip


@cache
def found() -> tuple[str, str]:
    """The browser the tests may use, or why there is none."""
    given = os.environ.get("FILLWRIGHT_TEST_BROWSER")
    names = (given,) if given else USUAL
    for name in names:
        if path := shutil.which(name):
            return path, ""
    return "", f"no browser here: none of {', '.join(names)}"


def is_required() -> bool:
    """Whether `make test BROWSER=required` asked that nothing be left out."""
    return os.environ.get("BROWSER") == "required"


def needed() -> pytest.MarkDecorator:
    """What marks a test that needs a browser: without one it is left out, and says why."""
    path, why = found()
    return pytest.mark.skipif(not path, reason=why or "there is a browser")


class Shown:
    """The cells of a terminal, from what was written to it."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], str] = {}
        self._x = self._y = 0
        self.is_at_rest = False  # the app has nothing more to write by itself

    def write(self, text: str) -> None:
        self.is_at_rest = text.endswith(AT_REST)
        for part in _PART.finditer(text):
            if part["text"]:
                self._put(part["text"])
            elif part["end"] == "H":
                row, _, column = part["given"].partition(";")
                self._y, self._x = int(row or 1) - 1, int(column or 1) - 1

    def _put(self, text: str) -> None:
        for char in text:
            if char == "\n":
                self._y, self._x = self._y + 1, 0
            elif char == "\r":
                self._x = 0
            elif char.isprintable():
                self._cells[self._x, self._y] = char
                self._x += cell_len(char)

    def text(self) -> str:
        high = max((y for _, y in self._cells), default=-1) + 1
        wide = max((x for x, _ in self._cells), default=-1) + 1
        return "\n".join(
            "".join(self._cells.get((x, y), " ") for x in range(wide)).rstrip() for y in range(high)
        )

    def where(self, words: str) -> tuple[float, int] | None:
        """The middle of the last place some words stand at, in cells."""
        for y, line in reversed([*enumerate(self.text().split("\n"))]):
            if (x := line.find(words)) >= 0:
                return x + len(words) / 2.0, y
        return None


class Tab:
    """One page of a browser, and the terminal in it."""

    def __init__(self, page: Page) -> None:
        self.page, self.shown = page, Shown()
        self.errors: list[str] = []
        self.size = (0, 0)
        self.is_open = False
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on(
            "console", lambda said: self.errors.append(said.text) if said.type == "error" else None
        )
        page.on("websocket", self._listen)

    def _listen(self, socket: Any) -> None:
        self.is_open, self.shown = True, Shown()
        socket.on("framereceived", self._received)
        socket.on("framesent", self._sent)
        socket.on("close", lambda _: setattr(self, "is_open", False))

    def _received(self, frame: Any) -> None:
        if isinstance(frame, bytes):
            self.shown.write(frame.decode(errors="replace"))

    def _sent(self, frame: Any) -> None:
        if isinstance(frame, str) and frame.startswith('["resize"'):
            given = json.loads(frame)[1]
            self.size = (given["width"], given["height"])

    async def sees(self, words: str, most_s: float = PATIENCE_S) -> None:
        """Wait until words stand on the terminal."""
        await self.until(lambda: self.shown.where(words) is not None, words, most_s)

    async def until(self, is_so: Any, what: str, most_s: float = PATIENCE_S) -> None:
        loop = asyncio.get_running_loop()
        ends = loop.time() + most_s
        while not is_so():
            assert loop.time() < ends, f"{what!r} never came; there is\n{self.shown.text()}"
            await asyncio.sleep(0.02)

    async def pixels(self, cells: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        """Places given in cells, in pixels of the page."""
        box = await self.page.locator(".xterm-screen").bounding_box()
        assert box is not None
        wide, high = box["width"] / self.size[0], box["height"] / self.size[1]
        return [(box["x"] + column * wide, box["y"] + row * high) for column, row in cells]

    async def tap(self, words: str, right: float = 0.0) -> None:
        """Tap what has these words on it, or so many cells to their right, with a finger."""
        await self.until(lambda: self.shown.is_at_rest and self.shown.where(words), words)
        seen: list[tuple[float, int] | None] = []
        while len(seen) < _STILL or len(set(seen[-_STILL:])) > 1:  # until nothing moves any more
            seen.append(self.shown.where(words))
            await asyncio.sleep(0.02)
        found = seen[-1]
        assert found is not None
        (place,) = await self.pixels([(found[0] + right, found[1] + 0.5)])
        await self.page.touchscreen.tap(*place)

    async def draw(self, points: list[tuple[float, float]]) -> None:
        """Draw a stroke with a finger, through points in cells."""
        session = await self.page.context.new_cdp_session(self.page)
        kinds = ["touchStart", *["touchMove"] * (len(points) - 1)]
        for kind, (x, y) in zip(kinds, await self.pixels(points), strict=True):
            await _touch(session, kind, [{"x": x, "y": y}])
        await _touch(session, "touchEnd", [])


async def _touch(session: CDPSession, kind: str, points: list[dict[str, float]]) -> None:
    given = {"type": kind, "touchPoints": points}
    await session.send("Input.dispatchTouchEvent", given)


@asynccontextmanager
async def browser() -> AsyncIterator[Browser]:
    from playwright.async_api import async_playwright

    async with async_playwright() as drives:
        # Without its sandbox, which root cannot have: it sees our own pages alone.
        made = await drives.chromium.launch(
            executable_path=found()[0], chromium_sandbox=False, timeout=PATIENCE_S * 1000
        )
        try:
            yield made
        finally:
            await made.close()


@asynccontextmanager
async def tab(made: Browser, width: int = 1024, height: int = 768) -> AsyncIterator[Tab]:
    """A tablet of its own: its cookies are nobody else's."""
    context = await made.new_context(viewport={"width": width, "height": height}, has_touch=True)
    context.set_default_timeout(PATIENCE_S * 1000)  # and of a page's own way somewhere, too
    try:
        yield Tab(await context.new_page())
    finally:
        await context.close()
