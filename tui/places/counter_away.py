"""A cylinder other stations of the shop know, at the Counter: registered, or taken in as filled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from blender.station import bringing, site_cylinders
from blender.station.other_site import known_text
from tui.places.counter_forms import CYLINDER
from tui.places.counter_visit import guarded
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.counter import Counter

Hit = dict[str, Any]
KINDS = ("elsewhere", "site-fill")


class Away:
    """What becomes of a cylinder that is known, or was filled, at another station.

    Parameters
    ----------
    counter : Counter
        The place that asks.
    """

    def __init__(self, counter: Counter) -> None:
        self._counter = counter

    async def choose(self, hit: Hit) -> None:
        """Go on with a line of the list."""
        if hit["kind"] == "site-fill":
            await self._whose(hit)
        else:
            await self._register(str(hit["key"]))

    def offer(self, serial: str, fills: list[Hit]) -> bool:
        """List the fills in a cylinder that another station made and nobody signed for."""
        counter = self._counter
        if not fills:
            return False
        counter.hits = [_line(serial, one) for one in fills]
        anew = {"kind": "cylinder", "key": serial, "text": f"{serial}  check it in anew"}
        counter.hits.append({**anew, "anew": True})
        counter.marked = 0
        told = f"{serial} was filled at another station, and nobody has signed for it."
        counter.say("mind", told)
        return True

    async def _register(self, serial: str) -> None:
        """Register a cylinder with the stamps read elsewhere, each to be compared with it."""
        counter = self._counter
        found = await counter.look(site_cylinders.known_away, serial)
        if found is None or not found["known_at"]:
            return
        known = found["known_at"][0]
        held = [one for one in found["known_at"] if one["hold"]]
        if held:
            told = f"{serial} is held at {held[0]['site']}: {held[0]['hold']}."
            counter.say("refused", f"{told} Ask there before anything is done with it.")
            return
        counter.unknown = serial
        counter.terminal.drafts[CYLINDER] = {
            "serial": serial,
            "size": known["size"],
            "wp": f"{known['wp_bar']:g}bar",
            "tp": f"{known['tp_bar']:g}bar",
            "tested": known["tested"],
            "inspected": known["inspected"],
            "clean": "yes" if known["clean"] else "no",
        }
        counter.say("mind", f"{known_text(known)}. Compare every stamp with the cylinder.")
        counter.action_new_cylinder()

    async def _whose(self, hit: Hit) -> None:
        """Ask whose it is, unless a customer was chosen before: names do not travel."""
        counter = self._counter
        if counter.customer is not None:
            await self._bring(hit, str(counter.customer["person"]))
            return

        async def enter(text: str) -> bool:
            whose = await counter.check_in.customer_named(text)
            return whose is not None and await self._bring(hit, str(whose["person"]))

        ask = Ask(
            f"whose-{hit['key']}", f"Whose is {hit['serial']}? A name, or a part of it",
            guarded(counter, enter), None,
            "The other station's record has the name, and names do not travel. alt+d adds a diver.",
        )  # fmt: skip
        counter.ask_first(ask)

    async def _bring(self, hit: Hit, customer: str) -> bool:
        """Take it in, and go to the Panel to analyse it."""
        counter = self._counter
        site, _, number = str(hit["key"]).rpartition("/")
        answer = await counter.perform(
            bringing.bring, site=site, number=int(number), customer=customer, at_hand=True
        )
        if answer is None:
            return False
        if not answer.done:
            counter.say("refused", answer.spoken)
            return False
        counter.leave_for_panel(answer.fill)
        return True


def _line(serial: str, one: Hit) -> Hit:
    told = f"fill {one['fill']} of {one['site']}, {one['want']}, {one['state']}: analyse it here"
    return {"kind": "site-fill", "key": f"{one['site']}/{one['fill']}", "serial": serial,
            "text": f"{serial}  {told}"}  # fmt: skip
