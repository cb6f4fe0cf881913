"""The tablet's app as the server starts it, by the clock of the tests; it says when it rests.

After what it writes comes a word that no terminal shows, once nothing more is under way in it. A
test that taps with a finger waits for that: what is at rest moves no more.
"""

from __future__ import annotations

import asyncio
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import textual.screen
from textual.drivers.web_driver import WebDriver

import tui.wiring
from tests.station.shop import Clock
from tests.tui.idle import AT_REST, FRAME, at_rest
from tui.tablet import child

clock = Clock()
clock.us = int(os.environ["TEST_CLOCK_US"])
tui.wiring.clock = clock
textual.screen.UPDATE_PERIOD = FRAME

_write = WebDriver.write
_telling: list[object] = []


def write(driver: WebDriver, data: str) -> None:
    """Write, and tell later that the app rests, if that is not about to be told.

    The thread that reads what the page sends writes, too.
    """
    _write(driver, data)
    if not _telling and not driver._loop.is_closed():
        _telling.append(asyncio.run_coroutine_threadsafe(_tell(driver), driver._loop))


async def _tell(driver: WebDriver) -> None:
    await at_rest()
    _telling.clear()
    _write(driver, AT_REST)


WebDriver.write = write
sys.exit(child.main())
