"""The plant behind the fills: banks, gauges, compressor, air tests, and what is done to them."""

from __future__ import annotations

from datetime import date, timedelta

from blender.gas import parse_gas
from blender.station import compressors, deliveries, equipment, items, measuring, supplies, upkeep
from blender.station import day as days
from blender.vessel import contents_at
from demo.world import Vessel
from demo.year.one_fill import Shed
from demo.year.troubles import (
    BANKS,
    FIRST_DAY,
    LEAKING,
    METERS,
    OXYGEN_GAUGE,
    TOP,
    TOP_GAUGE,
    Troubles,
)

_BANK_L = 150.0
_GAS, _TRULY = "oxygen99.5", "oxygen99.6"
_SWAP_BAR = 100.0  # below this it does not lift a cylinder's oxygen stop any more
_FULL_BAR = 195.0
_FIRST_HOURS, _HOURS_A_WEEK = 2100.0, 3.0


def equip(shed: Shed) -> None:
    """Register what the station has, and connect its banks."""
    station, manager = shed.station, shed.manager
    for name in BANKS:
        shown = _connected(shed, name)
        equipment.add_supply(
            station, manager, name=name, gas=_GAS, size=f"{_BANK_L:.0f}L", at=f"{shown:.0f}bar"
        )
    for gauge, serves in ((OXYGEN_GAUGE, "oxygen"), (TOP_GAUGE, "top")):
        items.add(station, manager, "gauge", gauge, range="1.0@315bar", serves=serves)
    items.add(station, manager, "whip", "W-1", serves="oxygen")
    items.add(station, manager, "monitor", "ROOM-O2")
    compressors.add_compressor(
        station, manager, name="K-SHED", rated_intake="40%", maximum="330bar"
    )
    items.add(station, manager, "filter", "F-1", on="K-SHED", life="40h", at="20C")
    for meter in METERS:
        equipment.add_analyser(station, manager, name=meter.name)


def _connected(shed: Shed, name: str) -> float:
    """Connect a full bank and return what its gauge shows [bar]."""
    full = _FULL_BAR + shed.world.chance.uniform(-3.0, 3.0)
    inside = contents_at(parse_gas(_TRULY), full, 20.0, _BANK_L / 1000.0)
    shed.world.sources[name] = Vessel(inside, 20.0)
    return TOP.shows(full)


def morning(shed: Shed, day: int) -> None:
    """Open the day and set every analyser."""
    read = {}
    if day % 7 == 0:
        read = {name: f"{TOP.shows(bank.gauge_bar):.1f}bar" for name, bank in _banks(shed)}
    days.open_day(
        shed.station, shed.blenders[0], gauges_zero="yes", room="yes, 20.9 %", intake="yes",
        supplies=read,
    )  # fmt: skip
    for meter in METERS:
        shed.world.cells[meter.name].set_on_its_gas()
        equipment.calibrate(
            shed.station, shed.blenders[0], name=meter.name, gas=meter.gas, reading=meter.shown,
            air=meter.air,
        )  # fmt: skip


def see_to_banks(shed: Shed) -> None:
    """Swap a bank that has become too weak for the next fill."""
    for name, bank in _banks(shed):
        if bank.gauge_bar < _SWAP_BAR:
            _swapped(shed, name)


def _banks(shed: Shed) -> list[tuple[str, Vessel]]:
    return [(name, shed.world.sources[name]) for name in BANKS]


def _swapped(shed: Shed, name: str) -> None:
    """Read the bottle that goes, take a delivery in, and connect the one that comes."""
    left = TOP.shows(shed.world.sources[name].gauge_bar)
    supplies.read_supply(shed.station, shed.manager, name, at=f"{left:.1f}bar")
    shed.count("banks swapped")
    lot = f"L{shed.counted['banks swapped']:03}"
    deliveries.deliver(
        shed.station, shed.manager, gas=_GAS, size=f"{_BANK_L:.0f}L", lot=lot,
        certificate=f"C-{lot}", supplier="gas works of the county",
    )  # fmt: skip
    shown = _connected(shed, name)
    supplies.change_supply(
        shed.station, shed.manager, name, at=f"{shown:.1f}bar",
        delivery=shed.counted["banks swapped"],
    )  # fmt: skip


def night(shed: Shed, troubles: Troubles, day: int) -> None:
    """Let a night pass over the banks: one may leak."""
    bank = shed.world.sources[LEAKING]
    if lost := troubles.leaks(day):
        bank.contents = bank.contents.kept(1.0 - lost / max(bank.gauge_bar, 1.0))


def weekly(shed: Shed, day: int) -> None:
    """Enter the compressor's hours and its air; change the filter and test the air in season."""
    station, actor = shed.station, shed.blenders[0]
    hours = f"{_FIRST_HOURS + _HOURS_A_WEEK * (1 + day // 7):.1f}h"
    upkeep.did(station, actor, "compressor", "K-SHED", "ran", hours=hours, temperature="18C")
    measuring.read_co(station, actor, reading="0.6ppm", meter="hand meter")
    upkeep.did(station, actor, "monitor", "ROOM-O2", "tested")
    if day % (7 * 8) == 0 and day:
        upkeep.did(station, actor, "filter", "F-1", "changed", hours=hours)
    if day % (7 * 26) == 0:
        _air_tested(shed, day)


def _air_tested(shed: Shed, day: int) -> None:
    sampled = date(*FIRST_DAY) + timedelta(days=day)
    measuring.enter_air_test(
        shed.station, shed.manager, sampled=sampled.isoformat(), co="0.8ppm", co2="420ppm",
        oil="0.05mg/m3", water="20mg/m3", by="coast laboratory",
    )  # fmt: skip
