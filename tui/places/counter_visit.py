"""One cylinder at the Counter, and what is asked of it before anything is entered."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any

from blender.errors import FillwrightError, InputError
from blender.planning.request import parse_gas_at, parse_want
from blender.record import read
from blender.record.journal import Record
from blender.station.unlike import WentOut, unlike
from blender.units import parse_gauge_pressure
from tui.places import counter_typed as typed
from tui.places.place import Place

Enter = Callable[[str], Awaitable[bool]]


@dataclass
class Visit:
    """One cylinder at the counter, from the scan until it goes to the Panel.

    Parameters
    ----------
    known : dict
        What the record knows of it.
    scanned : str
        Its serial as scanned: of the whole, or of one post of a set.
    customer : dict or None
        Whose fill it will be.
    """

    known: dict[str, Any]
    scanned: str
    customer: dict[str, Any] | None
    left: typed.Left | None = None
    want: str = ""
    fill: int = 0
    state: str = ""
    plan: dict[str, Any] | None = None
    needs_analysis: bool = False

    @property
    def serial(self) -> str:
        """The cylinder's own serial, or both of a set."""
        return str(self.known["serial"])

    @property
    def label_gas(self) -> str:
        """The gas of its last label, if nothing was done to it since."""
        residual = self.known["residual"]
        return residual["gas"] if residual and residual["source"] == "label" else ""

    @property
    def label_words(self) -> str:
        """What is said of that gas: what its label says, or that it was amended since."""
        residual = self.known["residual"] or {}
        if printed := residual.get("label_says"):
            return f"amended to {self.label_gas}, its label still says {printed}"
        return f"its label says {self.label_gas}" if self.label_gas else ""

    @property
    def had_helium(self) -> bool:
        """Whether what was in it last had helium."""
        last = self.known["last_fill"]
        if last is None:
            return False
        return bool(last["he"]) or parse_want(last["want"]).mix.he > 0.0


def guarded(place: Place, enter: Enter) -> Enter:
    """Say what cannot be read, and keep it in the field."""

    async def caught(text: str) -> bool:
        try:
            return await enter(text)
        except FillwrightError as error:
            place.say("refused", error.text)
            return False

    return caught


def states_of(record: Record, numbers: list[int]) -> dict[int, str]:
    """Return where some fills stand."""
    with record.read() as conn:
        return {number: read.fill(conn, number).state for number in numbers}


def card_needed(given: typed.Want) -> str:
    """Return the card a gas needs, empty for air."""
    gas = parse_want(given.want).mix
    if gas.he > 0.005:
        return "trimix"
    return "nitrox" if gas.o2 > 0.22 else ""


_LEVELS = ("", "air", "nitrox", "trimix")


def is_enough(certified: str | None, needed: str) -> bool:
    """Tell whether the card on record covers the card a gas needs.

    Examples
    --------
    >>> is_enough("air", "nitrox"), is_enough("trimix", "nitrox"), is_enough(None, "")
    (False, True, True)
    """
    return not needed or _LEVELS.index(certified or "") >= _LEVELS.index(needed)


def card_known(customer: dict[str, Any]) -> str:
    """Say which card of a customer is on record."""
    name, level = customer.get("name"), customer.get("certified")
    return (
        f"{name}'s card on record is for {level} only" if level else f"No card on record for {name}"
    )


def unlike_record(visit: Visit, given: typed.Left) -> str:
    """Say where what is left contradicts what the record says the cylinder last held."""
    last = visit.known["last_fill"]
    if last is None or last["state"] not in ("collected", "accepted") or last["o2"] is None:
        return ""
    out = WentOut(last["fill"], last["date"], last["o2"], last["pressure_bar"])
    is_known = given.source in ("analysed", "stated")
    o2 = parse_gas_at(given.have, "left").mix.o2 if is_known else None
    told = unlike(out, parse_gauge_pressure(given.pressure), o2)
    return f"{told} Esc goes back to it." if told else ""


def check_helium(visit: Visit, given: typed.Want) -> None:
    """Refuse an oxygen reading alone where helium goes in: it has to be measured."""
    left = visit.left
    if (
        left is not None
        and left.is_analysed
        and not left.he
        and parse_want(given.want).mix.he > 0.0
    ):
        raise InputError(
            "want", given.want, "with helium wanted, what is left needs a helium reading too: "
            "Esc, then type it as 60 28.1 0",
        )  # fmt: skip
