"""The tablet at the Counter: what it can be handed, what it has, and what came of it."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from blender.station import handing, handover, tablet
from tui.dialogs.choice import Choice
from tui.dialogs.on_tablet import WITHDRAW, OnTablet

if TYPE_CHECKING:
    from tui.places.counter import Counter

_WHAT = {handing.SIGN: "fill {fill}, to be signed for", handing.REGISTER: "a customer registers",
         handing.STAFF: "the terminal, for staff"}  # fmt: skip

_MOST = 9  # numbers of a choice


class AtTablet:
    """Hands something over, from the Counter.

    Parameters
    ----------
    counter : Counter
        The place that asks.
    """

    def __init__(self, counter: Counter) -> None:
        self._counter = counter

    async def begin(self) -> None:
        """Ask what the tablet shall have, or what it shall give back."""
        counter = self._counter
        terminal = counter.terminal
        has = await terminal.attempt(asyncio.to_thread(tablet.with_tablet, terminal.floor.station))
        if has is None:
            return
        if has["address"] is None:
            told = (
                "No tablet is served. On this machine start `fillwright serve`; then alt+q again."
            )
            counter.say("note", told)
            return
        offers = self._offers(has["handed"])
        chosen = await counter.over(Choice("The tablet", [words for words, *_ in offers]))
        if chosen is not None:
            _, purpose, about = offers[chosen]
            await (self._hand(purpose, **about) if purpose else self._withdraw(**about))

    def _offers(self, there: list[dict[str, Any]]) -> list[tuple[str, str, dict[str, Any]]]:
        """Return what can be done: its words, its purpose (empty: take it back), its facts."""
        counter, found = self._counter, list[tuple[str, str, dict[str, Any]]]()
        offer = counter.signing.offer
        if offer is not None and offer.state == "analysed":
            words = f"Fill {offer.fill}: {offer.customer} reads and signs on the tablet"
            found.append((words, handing.SIGN, {"fill": offer.fill}))
        found.append(("A new customer registers on the tablet", handing.REGISTER, {}))
        known = counter.customer or (counter.visit.customer if counter.visit else None)
        if known:
            words = f"{known['name']} reads and signs the undertaking on the tablet"
            found.append((words, handing.REGISTER, {"customer": known["person"]}))
        found.append(("The terminal itself, for staff to sign in there", handing.STAFF, {}))
        return found + [
            (f"Take back: {_words(one)}", "", {"number": one["handed"]}) for one in there
        ]

    async def _hand(self, purpose: str, **about: Any) -> None:
        counter = self._counter
        if "fill" in about and await counter.perform(handover.ask_leave, about["fill"]) is None:
            return
        handed = await counter.perform(tablet.hand, purpose, **about)
        if handed is None:
            return
        how_far = await counter.over(OnTablet(_words(handed), handed))
        if how_far == WITHDRAW:
            await self._withdraw(handed["handed"])
        elif how_far == tablet.DONE and handed["fill"]:
            await self._signed(handed["fill"])
        elif how_far is not None:
            counter.say(*_SAID[how_far])
            counter.show()

    async def _signed(self, fill: int) -> None:
        """Go on with a fill that was signed for, or not, on the tablet."""
        counter = self._counter
        await counter.take_fill(fill)
        offer = counter.signing.offer
        counter.show()
        if offer is not None and offer.state == "accepted":
            counter.count_unsafe()
            told = f"Signed on the tablet by {offer.accepted_by}."
            await counter.signing.print_label(fill, told)

    async def _withdraw(self, number: int) -> None:
        gone = await self._counter.perform(tablet.withdraw, number)
        if gone is not None:
            self._counter.say("done", "Taken back from the tablet. Nothing more can be done there.")


_SAID = {
    tablet.DONE: ("done", "It is done on the tablet. A new customer's card is yet to be seen."),
    tablet.OPEN: ("note", "It stays with the tablet; alt+q takes it back."),
    tablet.STOPPED: (
        "mind",
        "The customer stopped at the tablet: not theirs, or not right. Nothing was signed; ask "
        "them, and compare the serial.",
    ),
    tablet.OVER: ("mind", "Its time on the tablet is over, or it was taken back."),
}


def _words(handed: dict[str, Any]) -> str:
    return _WHAT[handed["purpose"]].format(fill=handed["fill"])
