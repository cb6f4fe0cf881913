"""One fill of the year through the same use cases a terminal calls, on what truly happens.

Others are under way meanwhile, so each gives how long it has to wait and is gone on with then.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from blender.planning.options import Options
from blender.planning.request import parse_gas_at
from blender.station import analysing, filling, handover, looking, planning, requesting
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.units import parse_size
from blender.vessel import contents_at
from demo.clock import Clock
from demo.world import Gauge, Vessel, World
from demo.year.customers import Diver
from demo.year.troubles import COUNTER, SOUND, TOP

_SLIP_BAR = 0.25  # how well a hand stops a needle, one standard deviation
_SUPPLIES_OF_AIR = ("top", "")
_TURNS = 3  # at the valve, for who stopped short
Waits: TypeAlias = Generator[float, None, None]  # how long each time [min]


@dataclass
class Shed:
    """The station on one of its days: what is real, what is recorded, who is there."""

    station: Station
    world: World
    clock: Clock
    manager: Actor
    blenders: list[Actor]
    oxygen_gauge: Gauge
    left: dict[str, str] = field(default_factory=dict)
    counted: dict[str, int] = field(default_factory=dict)

    def count(self, what: str) -> None:
        """Count something that happened."""
        self.counted[what] = self.counted.get(what, 0) + 1


def fill(shed: Shed, diver: Diver, analyser: str) -> Generator[float, None, int]:
    """Take a cylinder in, fill, analyse and hand it over; return the fill, however it ended."""
    chance, actor = shed.world.chance, shed.world.chance.choice(shed.blenders)
    have = _brought(shed, diver)
    answer = requesting.request(
        shed.station, actor, cylinder=diver.serial, customer=diver.name, have=have,
        residual="analysed", want=f"{chance.choice((200, 210, 220))}bar:{diver.want}",
    )  # fmt: skip
    number = answer.fill
    steps = _planned(shed, actor, number, diver)
    if steps is None or not filling.start(shed.station, actor, number, serial=diver.serial).done:
        return number
    for step in steps:
        yield from _let_in(shed, actor, number, diver.serial, step)
    shed.world.rest(diver.serial)
    yield 6.0
    yield from _handed_over(shed, actor, number, diver, analyser)
    return number


def _brought(shed: Shed, diver: Diver) -> str:
    """Let the cylinder come with what a diver leaves of the fill before; return what is read."""
    world, chance = shed.world, shed.world.chance
    gas = shed.left.get(diver.serial, "air")
    truly = parse_gas_at(f"{chance.uniform(25.0, 70.0):.2f}bar:{gas}", "truly")
    volume_m3 = parse_size(diver.size, "size").volume_m3
    inside = contents_at(truly.mix, truly.gauge_bar, world.room_c, volume_m3)
    world.vessels[diver.serial] = Vessel(inside, world.room_c)
    shown, read = world.reads(diver.serial, TOP), world.cell_shows(diver.serial, COUNTER)
    return f"{shown:.1f}bar@{world.room_c:.0f}C:EAN{max(read, 21.0):.1f}"


def _planned(shed: Shed, actor: Actor, number: int, diver: Diver) -> list[dict[str, Any]] | None:
    """Plan it; where the card is short a manager looks at the case and gives leave."""
    answer = planning.plan(shed.station, actor, number, Options())
    if not answer.done and diver.certified == "air":
        looking.allow(
            shed.station, shed.manager, number, gate="certification",
            reason="on a course here, fills under instruction",
        )  # fmt: skip
        shed.count("allowed")
        answer = planning.plan(shed.station, shed.manager, number, Options())
    if not answer.done:
        shed.count("not planned")
        return None
    steps: list[dict[str, Any]] = answer.facts["plan"]["steps"]
    return steps


def _let_in(shed: Shed, actor: Actor, number: int, serial: str, step: dict[str, Any]) -> Waits:
    """Do one step at the panel and enter the reading; who stopped short goes on."""
    if step["action"] in ("rest", "analyse"):
        yield 2.0
        if step["action"] == "analyse":
            return
    is_top = step.get("supply", "") in _SUPPLIES_OF_AIR
    gauge = TOP if is_top or step["action"] != "add" else shed.oxygen_gauge
    for _ in range(_TURNS):
        _turn(shed, serial, step, gauge)
        yield 4.0
        answer = filling.reading(
            shed.station, actor, number, at=f"{shed.world.reads(serial, gauge):.1f}bar",
            temperature=f"{step.get('temperature_c', shed.world.room_c):.0f}C", gauge=gauge.name,
        )  # fmt: skip
        if step["action"] == "rest" or answer.facts.get("closes", True):
            return


def _turn(shed: Shed, serial: str, step: dict[str, Any], gauge: Gauge) -> None:
    """Open the valve until the needle stands about where it shall."""
    if step["action"] == "add":
        aimed = step["to_bar"] + shed.world.chance.gauss(0.0, _SLIP_BAR)
        mark = round(aimed / gauge.step_bar) * gauge.step_bar
        shed.world.let_in(serial, step["supply"], mark, step["temperature_c"], gauge)
    elif step["action"] == "drain":
        shed.world.let_out(serial, gauge.at_or_below(step["to_bar"]))


def _handed_over(shed: Shed, actor: Actor, number: int, diver: Diver, analyser: str) -> Waits:
    """Analyse, let the diver read and sign, and hand over; in doubt other analysers are asked."""
    state = _analyse(shed, actor, number, diver.serial, analyser)
    for _ in range(2):
        if state != "analysed":
            return
        read = shed.world.cell_shows(diver.serial, COUNTER)
        answer = handover.accept(
            shed.station, actor, number, name=diver.name, reading=f"{read:.1f}"
        )
        if answer.state != "recheck":
            break
        shed.count("disputed")
        state = _read_again(shed, actor, number, diver.serial)
    if not answer.done:
        return
    shed.left[diver.serial] = f"{shed.world.oxygen(diver.serial):.4f}/0"
    yield 3.0
    handover.collect(shed.station, actor, number, serial=diver.serial, label=answer.facts["anchor"])


def _read_again(shed: Shed, actor: Actor, number: int, serial: str) -> str:
    """Ask the sound analyser, and where its reading settles nothing the one of the counter."""
    state = _analyse(shed, actor, number, serial, SOUND)
    return _analyse(shed, actor, number, serial, COUNTER) if state == "recheck" else state


def _analyse(shed: Shed, actor: Actor, number: int, serial: str, analyser: str) -> str:
    shown = shed.world.cell_shows(serial, analyser)
    answer = analysing.analyse(
        shed.station, actor, number, serial=serial, analyser=analyser, reading=f"{shown:.1f}"
    )
    return answer.state
