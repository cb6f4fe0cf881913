"""What every place of the terminal stands on: the open station and who is signed in.

Opening it loads the database's and the physics' rooms, which takes longer than a first
picture may; so it happens in a thread, and whoever needs it waits for `ready`.
"""

from __future__ import annotations

import asyncio
import importlib
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from blender.errors import FillwrightError, RefusedError
from blender.record.roll_call import staff, the_one
from tui.house import House

if TYPE_CHECKING:
    from blender.station.actor import Actor
    from blender.station.desk import Station

Result = TypeVar("Result")
# What the places are made of; loaded beside the station, so that turning to one is quick.
ASK_AGAIN = "secret-again"  # the refusal after which the door asks for the secret
_ROOMS = ("counter", "panel", "store", "book", "office")


class Floor:
    """The station as the places use it.

    Parameters
    ----------
    house : House
        The outside.
    """

    def __init__(self, house: House) -> None:
        self.house = house
        self.actor: Actor | None = None
        self._has_signed = False  # something, since the secret was typed
        self.newcomer: Actor | None = None  # came with a secret for once; has yet to choose one
        self.fault: FillwrightError | None = None
        self._station: Station | None = None
        self._opening: asyncio.Task[None] | None = None

    @property
    def station(self) -> Station:
        """The open station.

        Raises
        ------
        FillwrightError
            Why it could not be opened.
        """
        if self._station is None:
            raise self.fault or FillwrightError("the station is still being opened")
        return self._station

    @property
    def is_open(self) -> bool:
        """Whether the station is there to be worked with."""
        return self._station is not None

    async def ready(self) -> None:
        """Wait until the station is open, opening it if nobody has."""
        if self._station is None:
            if self._opening is None or self._opening.done():
                self._opening = asyncio.create_task(self._open())
            await asyncio.shield(self._opening)

    async def _open(self) -> None:
        try:
            self._station = await asyncio.to_thread(self._load)
            self.fault = None
        except FillwrightError as error:
            self.fault = error

    def _load(self) -> Station:
        station = replace(self.house.open_station(), asks_first=True)
        for room in _ROOMS:
            importlib.import_module(f"tui.places.{room}")
        return station

    async def act(self, use_case: Callable[..., Result], *args: Any, **facts: Any) -> Result:
        """Run a use case as the one signed in, off the screen's thread."""
        actor = self.actor
        if actor is None:
            raise FillwrightError("nobody is signed in; sign in first")
        if self._has_signed and await asyncio.to_thread(self._asks_each_time):
            told = "Sign in for each signature here, then press Enter again."
            raise RefusedError(told, code=ASK_AGAIN)
        done = await asyncio.to_thread(use_case, self.station, actor, *args, **facts)
        self._has_signed = True
        return done

    def _asks_each_time(self) -> bool:
        return self.station.rules.sign_each == "yes"

    async def act_as(
        self,
        name: str,
        secret: str,
        use_case: Callable[..., Result],
        /,
        *args: Any,
        **facts: Any,
    ) -> Result:
        """Run one use case as somebody who signs it here and now; who is signed in stays so.

        Raises
        ------
        FillwrightError
            If name and secret do not belong together, or the use case refuses.
        """

        def signed() -> Result:
            return use_case(self.station, self._sign_in(name.strip(), secret), *args, **facts)

        return await asyncio.to_thread(signed)

    async def look(self, question: Callable[..., Result], *args: Any, **facts: Any) -> Result:
        """Ask the record a question, off the screen's thread."""
        return await asyncio.to_thread(question, self.station.record, *args, **facts)

    async def sign_in(self, name: str, secret: str) -> None:
        """Sign a member of staff in, by an id or a part of a name that is nobody else's.

        Where only one can sign, no name is needed.

        Raises
        ------
        FillwrightError
            If name and secret do not belong together, or the name may be several people's.
        """
        await self.ready()
        self.newcomer, self._has_signed = None, False
        actor = await asyncio.to_thread(self._sign_in, name, secret)
        if actor.one_time:
            self.newcomer = actor
        else:
            self.actor = actor

    async def choose_secret(self, given: str, chosen: str) -> None:
        """Put a secret of their own in the place of the one a newcomer was given, and go in.

        Raises
        ------
        FillwrightError
            If it cannot be used.
        """
        self.actor = await asyncio.to_thread(self._choose_secret, given, chosen)
        self.newcomer = None

    def _choose_secret(self, given: str, chosen: str) -> Actor:
        from blender.station import people

        newcomer = self.newcomer
        if newcomer is None:
            raise FillwrightError("nobody came with a secret for once; sign in first")
        people.change_secret(self.station, newcomer, given, chosen)
        return self.station.sign_in(newcomer.person, chosen)

    def _sign_in(self, name: str, secret: str) -> Actor:
        """Try a secret on the one a name means, and on nobody where it may mean several."""
        known = the_one(name, staff(self.house.location))
        return self.station.sign_in(known.person if known else name, secret)

    def sign_out(self) -> None:
        """Let go of the key of whoever was signed in."""
        self.actor = self.newcomer = None

    def close(self) -> None:
        """Let the record go."""
        if self._station is not None:
            self._station.record.close()
            self._station = None
