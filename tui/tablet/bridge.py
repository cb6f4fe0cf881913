"""One app in a process of its own, and what passes between it and one browser.

The toolkit's server does the talking with the app; what it starts, with which environment, and
what a browser may say are ours: no shell, no files to be fetched, no addresses to be opened.
"""

from __future__ import annotations

import asyncio
import json
from asyncio.subprocess import PIPE, Process
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from aiohttp import WSMsgType, web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

from tui.tablet.driver import KEYBOARD

MOST_BYTES = 8192  # of one message; a drawn line is sent point by point
RATE_PER_S, BURST = 400.0, 1200.0  # a mouse may tell where it is some hundred times a second
_LEAVES_S = 5.0  # what an app may take to leave before it is ended
_CELLS = range(1, 501)
_PIXELS = range(1, 20_001)
UNREADABLE, TOO_FAST, OVER, FULL = 1003, 1008, 1000, 1013  # closing codes of RFC 6455


class ForeignMessageError(Exception):
    """What came is no message of the page's."""


@dataclass(slots=True)
class Pace:
    """How much may come: so many at once, then so many a second."""

    now: Callable[[], float]
    left: float = BURST
    at_s: float = 0.0

    def allows(self) -> bool:
        """Count one message; False if there are too many."""
        now = self.now()
        self.left = min(BURST, self.left + (now - self.at_s) * RATE_PER_S)
        self.at_s = now
        self.left -= 1.0
        return self.left >= 0.0


class Bridge(AppService):
    """One app and the socket it is shown through.

    Parameters
    ----------
    command : sequence of str
        What is started, word by word.
    environment : mapping
        All of its environment.
    socket : WebSocketResponse
        The browser's.
    """

    def __init__(
        self, command: Sequence[str], environment: Mapping[str, str], socket: web.WebSocketResponse
    ) -> None:
        super().__init__(
            "",
            write_bytes=socket.send_bytes,
            write_str=socket.send_str,
            close=self._left,
            download_manager=DownloadManager(),
        )
        self._words, self._given, self._socket = tuple(command), dict(environment), socket
        self._size = (80, 24)
        self.has_left = False  # by itself: what it was for is done
        self._is_ending = False

    def _build_environment(self, width: int = 80, height: int = 24) -> dict[str, str]:
        own = {
            "TEXTUAL_DRIVER": "tui.tablet.driver:TabletDriver",
            "TEXTUAL_COLOR_SYSTEM": "truecolor",
            "TEXTUAL_ANIMATIONS": "none",
            "COLUMNS": str(width),
            "ROWS": str(height),
        }
        return self._given | own

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        environment = self._build_environment(width, height)
        self._size = (width, height)
        self._process = process = await asyncio.create_subprocess_exec(
            *self._words, stdin=PIPE, stdout=PIPE, stderr=PIPE, env=environment
        )
        assert process.stdin is not None
        self._stdin = process.stdin
        return process

    async def on_meta(self, data: bytes) -> None:
        """Take that the app has left or wants letters; it opens no pages and hands out no files."""
        told = json.loads(data)
        if told.get("type") == "exit":
            await self._left()
        elif told.get("type") == KEYBOARD:
            await self._socket.send_json([KEYBOARD, bool(told.get("wanted"))])

    async def on_packed(self, payload: bytes) -> None:
        """Pass no part of a file on."""

    async def _left(self) -> None:
        self.has_left = not self._is_ending
        await self._socket.close(code=OVER)

    async def until_gone(self) -> None:
        """Wait for the app's end, whatever it was, and close the socket then."""
        if self._task is not None:
            await asyncio.wait([self._task])
        await self._socket.close(code=OVER)

    async def end(self) -> None:
        """Ask the app to leave; end it if it does not."""
        process, self._is_ending = self._process, True
        if process is None:
            return
        with suppress(TimeoutError, ConnectionError):
            await asyncio.wait_for(self.stop(), _LEAVES_S)
        if process.returncode is None:
            with suppress(TimeoutError):
                await asyncio.wait_for(process.wait(), _LEAVES_S)
        if process.returncode is None:
            process.kill()
            await process.wait()
        self.stdin.close()

    # -- what a browser says -------------------------------------------------------------------

    async def take(self, text: str) -> bool:
        """Pass a message of the page on; return whether somebody did something by it.

        Raises
        ------
        ForeignMessageError
            If it is none.
        """
        kind, given = _message(text)
        if kind == "stdin" and isinstance(given, str):
            await self.send_bytes(given.encode("utf-8", errors="replace"))
            return True
        if kind == "resize":
            self._size = _pair(given, _CELLS)
            await self.set_terminal_size(*self._size)
        elif kind == "pixels":
            await self._in_pixels(*_pair(given, _PIXELS))
        elif kind == "ping":
            await self._socket.send_json(["pong", str(given)[:40]])
        elif kind not in ("focus", "blur"):  # the app has the keyboard always
            raise ForeignMessageError(kind)
        return False

    async def _in_pixels(self, wide: int, high: int) -> None:
        """Let the app know where in a cell the finger is: a signature needs finer than cells."""
        columns, rows = self._size
        await self.send_bytes(b"\x1b[48;%d;%d;%d;%dt" % (rows, columns, high, wide))


def _message(text: str) -> tuple[str, Any]:
    """Return kind and content of a page's message."""
    try:
        given = json.loads(text)
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, list) or not 1 <= len(given) <= 2 or not isinstance(given[0], str):
        raise ForeignMessageError("no message")
    return given[0], given[1] if len(given) == 2 else None


def _pair(given: Any, allowed: range) -> tuple[int, int]:
    """Return width and height, both whole and within what a tablet can have."""
    size = given if isinstance(given, dict) else {}
    wide, high = size.get("width"), size.get("height")
    if type(wide) is not int or type(high) is not int or wide not in allowed or high not in allowed:
        raise ForeignMessageError("size")
    return wide, high


def cells(text: str, usual: int) -> int:
    """Return a width or height from the page's address, the usual where it is none."""
    found = int(text) if text.isascii() and text.isdigit() and len(text) < 5 else usual
    return found if found in _CELLS else usual


async def relay(bridge: Bridge, socket: web.WebSocketResponse, pace: Pace,
                touched: Callable[[], None]) -> None:  # fmt: skip
    """Pass on what a browser says until it, or the app, has gone."""
    async for message in socket:
        if message.type != WSMsgType.TEXT:
            await socket.close(code=UNREADABLE)
        elif not pace.allows():
            await socket.close(code=TOO_FAST)
        else:
            try:
                if await bridge.take(message.data):
                    touched()
            except ForeignMessageError:
                await socket.close(code=UNREADABLE)
