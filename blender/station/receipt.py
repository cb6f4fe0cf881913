"""What a fill's gas came to: what was really drawn from each supply, at the station's prices."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from blender.errors import RefusedError
from blender.planning.supplies import TOP_NAME
from blender.realgas.coefficients import coefficients
from blender.record import read
from blender.record.journal import Record
from blender.record.models import ReadingRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station.numbers import mol
from blender.station.pricing import prices_m3
from blender.station.views import Proof, Stamp
from blender.station.wording import gas_typed
from blender.units import PA_PER_ATM, ZERO_C_K


@dataclass(frozen=True, slots=True)
class Item:
    """Gas from one supply: how much, what a cubic metre costs (None: not set), what it came to."""

    supply: str
    free_gas_m3: float
    price_m3: float | None

    @property
    def cost(self) -> float:
        """What it came to; gas without a price is not counted."""
        return self.free_gas_m3 * (self.price_m3 or 0.0)


@dataclass(frozen=True, slots=True)
class Receipt:
    """A fill's gas as it is charged for."""

    station_name: str
    fill: int
    day: str
    cylinder: str
    customer: str
    wanted: str
    items: tuple[Item, ...]
    printed_at: Stamp
    proof: Proof
    imperial: bool = False
    copy_number: int = 1
    copied_at: Stamp | None = None  # when this copy was made, None for the first print

    @property
    def total(self) -> float:
        """The sum, of unrounded amounts."""
        return sum(item.cost for item in self.items)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """The supplies nobody set a price for, air excepted: it is counted as nothing."""
        return tuple(
            item.supply for item in self.items if item.price_m3 is None and item.supply != TOP_NAME
        )


def free_gas_m3(amount_mol: float) -> float:
    """Return the volume of an amount as free gas, ideal at 0 degC and 1.01325 bar [m3].

    Examples
    --------
    >>> round(free_gas_m3(44.615), 4)
    1.0
    """
    return amount_mol * coefficients().gas_constant * ZERO_C_K / PA_PER_ATM


def receipt(record: Record, number: int, now: Moment) -> Receipt:
    """Return what a fill's gas came to, of the readings that stand.

    Raises
    ------
    InputError
        If there is no such fill.
    RefusedError
        If no gas was let in.
    """
    with record.read() as conn:
        fill = read.fill(conn, number)
        drawn = _drawn(read.readings(conn, number, standing_only=True))
        if not drawn or fill.state == "voided":
            raise RefusedError(
                f"fill {number} is {fill.state}: no gas that could be charged for was let in",
                code="nothing-drawn",
            )
        prices, station = prices_m3(conn), read.station(conn)
        people = {row.person: read.called(row) for row in read.people(conn)}
        last = last_entry(conn, record.station)
    assert last is not None
    return Receipt(
        station_name=station.name if station else "",
        fill=number,
        day=Moment(fill.requested_us, fill.offset_min).iso[:10],
        cylinder=fill.serial,
        customer=people.get(fill.customer, ""),
        wanted=gas_typed(fill.want_typed),
        items=tuple(
            Item(name, free_gas_m3(mol(amount)), prices.get(name))
            for name, amount in sorted(drawn.items())
        ),
        printed_at=Stamp.of(now),
        proof=Proof.of(last),
    )


def _drawn(readings: Sequence[ReadingRow]) -> dict[str, int]:
    """Return what each supply gave [umol]."""
    found: dict[str, int] = {}
    for row in readings:
        for name, amount, *_ in ((row.supply, row.drawn_umol), *json.loads(row.also)):
            if amount > 0:
                found[name or TOP_NAME] = found.get(name or TOP_NAME, 0) + amount
    return found
