"""A tablet served in the test's own loop, on loopback, at the shop's station."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import aiohttp

from blender.station import tablet
from tests.patience import PATIENCE_S
from tests.station.shop import Shop
from tui.tablet import address
from tui.tablet import wiring as own
from tui.tablet.address import Address
from tui.tablet.server import Outside, Tablet, serve

CHILD = Path(__file__).with_name("tablet_child.py")


@dataclass
class Served:
    """A tablet that is served, and how one comes to it."""

    shop: Shop
    tablet: Tablet
    address: Address
    bugs: list[BaseException]
    port: int

    @property
    def url(self) -> str:
        return self.address.url

    def hand(self, purpose: str, **about: Any) -> str:
        """Hand something over; return the token."""
        handed = tablet.hand(self.shop.station, self.shop.jo, purpose, **about)
        return str(handed["url"]).partition("#")[2]

    def ours(self, **more: str) -> dict[str, str]:
        """What a page of ours says of where it comes from."""
        return {"Origin": self.url, **more}

    async def begin(
        self, client: aiohttp.ClientSession, token: str, headers: Mapping[str, str] | None = None
    ) -> tuple[int, str]:
        given = self.ours() if headers is None else headers
        async with client.post(f"{self.url}/begin", data=token, headers=given) as answer:
            return answer.status, await answer.text()

    async def get(
        self, client: aiohttp.ClientSession, path: str, **headers: str
    ) -> tuple[int, str]:
        async with client.get(f"{self.url}{path}", headers=headers) as answer:
            return answer.status, await answer.text(errors="replace")


@asynccontextmanager
async def served(
    shop: Shop, public: str = "", now: Callable[[], float] = own.monotonic
) -> AsyncIterator[Served]:
    """Serve a tablet at any free port."""
    bugs: list[BaseException] = []

    def environment(seq: int) -> dict[str, str]:
        made = own.environment(str(shop.path), seq)
        return made | {"TEST_CLOCK_US": str(shop.clock.us)}

    def report(error: BaseException) -> str:
        bugs.append(error)
        return "bug.txt"

    with address.bound(address.LOOPBACK, 0) as taken:
        port = taken.getsockname()[1]
        here = address.reached(address.LOOPBACK, port, is_loopback=True, names=(), public=public)
        outside = Outside(shop.station, (sys.executable, str(CHILD)), environment, report)
        held = Tablet(outside, here, now)
        tablet.serve_at(shop.station, here.url)
        runner = await serve(taken, held)
        try:
            yield Served(shop, held, here, bugs, port)
        finally:
            await runner.cleanup()
    assert bugs == []


@asynccontextmanager
async def client() -> AsyncIterator[aiohttp.ClientSession]:
    """A client with a jar of its own that takes cookies of an address too."""
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session:
        yield session


async def until(is_so: Callable[[], object], most_s: float = PATIENCE_S) -> None:
    """Wait for a condition, not for a time."""
    ends = asyncio.get_running_loop().time() + most_s
    while not is_so():
        assert asyncio.get_running_loop().time() < ends, "it never became so"
        await asyncio.sleep(0.02)
