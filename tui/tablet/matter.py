"""What one customer does at the tablet, and what they have said of it so far."""

from __future__ import annotations

import asyncio
from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING

from blender.rounding import shallower
from blender.station import at_tablet, handover
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Station
from blender.station.offer import Offer, offer
from reports.wording import percent
from tui.tablet.step import Step
from tui.widgets.signpad import Stroke

if TYPE_CHECKING:
    from tui.tablet.customer import Customer


class Matter(ABC):
    """One thing: its steps in order, and how it is signed.

    Parameters
    ----------
    customer : Customer
        The app it is done in.
    station : Station
        The open station.
    actor : Actor
        Who handed it over.
    whose : str
        The customer's name on record; empty where a new one registers.
    """

    def __init__(self, customer: Customer, station: Station, actor: Actor, whose: str) -> None:
        self.customer, self.station, self.actor, self.whose = customer, station, actor, whose
        self.name = ""
        self.strokes: list[Stroke] = []

    @property
    @abstractmethod
    def steps(self) -> Sequence[type[Step]]:
        """Its screens, in order; the last is the signature."""

    @abstractmethod
    def signs_for(self) -> str:
        """Return in a sentence what the signature is put under."""

    def question(self) -> str:
        """Return what is asked once before it is signed; empty where all is plain."""
        return ""

    async def stopped(self, *, is_first: bool) -> None:
        """Tell the staff that it was stopped, where they are to know."""
        del is_first

    @abstractmethod
    async def sign(self, step: Step) -> None:
        """Sign it, and say on that step what kept it from being signed."""


class Filled(Matter):
    """A fill that waits for its signature."""

    def __init__(
        self, customer: Customer, station: Station, actor: Actor, whose: str, offered: Offer
    ) -> None:
        super().__init__(customer, station, actor, whose)
        self.offer = offered
        self.reading = self.helium = ""

    @property
    def steps(self) -> Sequence[type[Step]]:
        """Read, analyse, see what is signed for, sign."""
        from tui.tablet.fill_steps import OwnReading, Stated, WhatIsInIt
        from tui.tablet.sign_here import SignHere

        return (WhatIsInIt, OwnReading, Stated, SignHere)

    def signs_for(self) -> str:
        """Return cylinder, gas and depth in a line."""
        held, imperial = self.offer, self.customer.units.imperial
        feet, metres = f"{shallower(held.mod_agreed_ft)} ft", f"{shallower(held.mod_agreed_m)} m"
        deepest = f"{feet} / {metres}" if imperial else f"{metres} / {feet}"
        return f"{held.serial}: oxygen {percent(held.o2_percent)} %, maximum depth {deepest}"

    def question(self) -> str:
        """Ask once where the name is not the customer's."""
        if not handover.is_representative(self.name, self.whose):
            return ""
        return (
            f"{self.name} is not the name this fill is for, {self.whose}. Tap Sign again to sign "
            f"for {self.whose}; or type your own name as it is known here."
        )

    async def read_own(self, reading: str, helium: str) -> None:
        """Take what the customer's own analysis showed.

        Raises
        ------
        InputError
            If it cannot be read.
        """
        record, number = self.station.record, self.offer.fill
        found = await asyncio.to_thread(
            offer, record, number, reading=reading, helium=helium or None
        )
        self.offer, self.reading, self.helium = found, reading, helium

    async def stopped(self, *, is_first: bool) -> None:
        """Enter that it was stopped; on the first page, because it is not theirs."""
        await asyncio.to_thread(
            at_tablet.stop, self.station, self.actor, self.offer.fill, not_theirs=is_first
        )

    async def dispute(self) -> None:
        """Enter that the readings differ: nobody is asked for a signature."""
        differs = self.offer.differs
        await asyncio.to_thread(
            handover.dispute, self.station, self.actor, self.offer.fill,
            reading=self.reading, helium=self.helium or None,
        )  # fmt: skip
        told = f"The readings differ: {differs}. Nothing was signed: the gas is analysed again."
        self.customer.over(told, "Not signed")

    async def sign(self, step: Step) -> None:
        """Let the customer sign for the cylinder."""
        answer = await asyncio.to_thread(
            handover.accept, self.station, self.actor, self.offer.fill,
            name=self.name, reading=self.reading, helium=self.helium or None,
            strokes=self.strokes, at_hand=True,
        )  # fmt: skip
        self._tell(answer, step)

    def _tell(self, answer: Answer, step: Step) -> None:
        if answer.state == "recheck":
            told = "Your reading and the station's differ. Nothing was signed: the gas is analysed "
            self.customer.over(f"{told}again.", "Not signed")
        elif not answer.done:
            step.say("refused", f"{answer.spoken} Nothing was signed: ask the staff.")
        else:
            told = f"You signed for {self.signs_for()}. Analyse it again before you dive it."
            self.customer.over(told, "Thank you")


class Registering(Matter):
    """A customer registers, or one who is known reads and signs the undertaking."""

    phone = ""

    @property
    def steps(self) -> Sequence[type[Step]]:
        """Who one is, unless that is known; the undertaking; sign."""
        from tui.tablet.register_steps import Undertaking, WhoYouAre
        from tui.tablet.sign_here import SignHere

        return (Undertaking, SignHere) if self.whose else (WhoYouAre, Undertaking, SignHere)

    def signs_for(self) -> str:
        """Return what was read."""
        return "You sign what you have just read."

    async def sign(self, step: Step) -> None:
        """Enter the customer with the undertaking."""
        del step
        done = await asyncio.to_thread(
            at_tablet.register, self.station, self.actor,
            name=self.name, phone=self.phone, strokes=self.strokes,
        )  # fmt: skip
        told = f"You are registered as {done['name']}. Show your diving card to the staff."
        self.customer.over(told, "Thank you")


def matter_of(customer: Customer, station: Station, seq: int) -> Matter:
    """Return what was handed over by an entry; reads the record, so not on the screen's thread.

    Raises
    ------
    RefusedError
        If nothing was, or it is over.
    """
    actor, found = at_tablet.stand_in(station, seq)
    whose = at_tablet.whose(station, found)
    if found.fill:
        return Filled(customer, station, actor, whose, offer(station.record, found.fill))
    return Registering(customer, station, actor, whose)
