"""What is asked before a plan, at the start and at handover, put together from the record."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection

from blender.gas import AIR, Mix, parse_gas
from blender.planning.request import parse_gas_at
from blender.record import read, search
from blender.record.models import CylinderRow, FillRow, FindingRow, StepRow
from blender.station import fitness
from blender.station.desk import Act
from blender.station.gates import Gate
from blender.station.gear_gates import filter_gates, oxygen_path_gates
from blender.station.steps import gas_of

HOUR_US = 3_600_000_000
MONTH_DAYS = 365.25 / 12.0
_IN = ("add", "flow", "purge")


@dataclass(frozen=True, slots=True)
class LetIn:
    """A gas that a step lets in, and from which supply; `airy` if air comes with it."""

    supply: str
    gas: Mix
    airy: bool

    @classmethod
    def of(cls, steps: Iterable[Any]) -> list[LetIn]:
        """Return what the steps of a plan, made or in the record, let in."""
        return [
            cls(step.supply or "", _gas(step), is_air(_gas(step)) or step.action == "flow")
            for step in steps
            if step.action in _IN and step.gas
        ]


def _gas(step: Any) -> Mix:
    return gas_of(step) if isinstance(step, StepRow) else step.gas


def is_air(gas: Mix) -> bool:
    """Tell whether a gas is the compressor's."""
    return gas.he == 0.0 and abs(gas.o2 - AIR.o2) < 0.002


def fitness_gates(
    act: Act,
    fill: FillRow,
    cylinder: CylinderRow,
    lets_in: Sequence[LetIn],
    *,
    method: str | None = None,
    at_us: int | None = None,
) -> list[Gate]:
    """Ask everything that rests on somebody having looked or measured.

    Parameters
    ----------
    act : Act
        The act it is asked in.
    fill, cylinder : FillRow, CylinderRow
        The fill and its cylinder.
    lets_in : sequence of LetIn
        What the recipe lets in.
    method : str or None
        By which method, where the actor is to be qualified for it.
    at_us : int or None
        When the air went in [us UTC]; None for now.
    """
    if not fill.have_typed:
        return []  # taken over from an earlier book: nothing was ever asked of it here
    when_us = act.now.us if at_us is None else at_us
    return [
        *_looks(act, fill),
        _residual(act, fill, cylinder),
        *_air(act, cylinder, lets_in, when_us),
        *_gear(act, lets_in),
        *_supplies(act, lets_in),
        *_staff(act, method),
    ]


def _looks(act: Act, fill: FillRow) -> list[Gate]:
    """Ask what was seen of the cylinder at this visit."""
    found = {what: read.finding(act.conn, what, number=fill.fill) for what in fitness.LOOKS}
    is_rule = act.rules.look == "yes"
    asked = [
        fitness.looked(what, *_seen(found[what]), is_rule=is_rule)
        for what in fitness.LOOKS
        if what != "inside"
    ]
    left_bar = parse_gas_at(fill.have_typed, "--have").gauge_bar
    return [*asked, fitness.no_pressure(left_bar, *_seen(found["inside"]), act.rules)]


def _seen(row: FindingRow | None) -> tuple[bool | None, str]:
    return (None, "") if row is None else (row.ok, row.text)


def _residual(act: Act, fill: FillRow, cylinder: CylinderRow) -> Gate:
    left = parse_gas_at(fill.have_typed, "--have")
    facts = {"clean": cylinder.clean, "left": left.mix, "gauge_bar": left.gauge_bar}
    return fitness.rich_unclean(fill.residual, **facts, rules=act.rules)  # type: ignore[arg-type]  # of each fact's own type


def _air(act: Act, cylinder: CylinderRow, lets_in: Sequence[LetIn], at_us: int) -> list[Gate]:
    """Ask about the compressor's air, where the recipe takes any."""
    if not any(one.airy for one in lets_in):
        return []
    rich = any(one.gas.o2 > act.rules.clean_above_o2 for one in lets_in)
    asked: list[list[Gate]] = []
    for name in compressors_in_use(act.conn):
        test, co = air_test_of(act, name), _last_air(act, "co", name)
        hours = (at_us - co.at_us) / HOUR_US if co else None
        gates = [
            fitness.carbon_monoxide(co.value / 1000.0 if co else None, hours, act.rules),
            fitness.air_test(test, act.rules),
            fitness.top_air(test, clean=cylinder.clean, rich=rich, rules=act.rules),
        ]
        asked.append([_named(gate, name, act) for gate in gates])
    # Nobody says which compressor's air goes in: the worst answer of any counts.
    return [_worst(one) for one in zip(*asked, strict=True)]


def _gear(act: Act, lets_in: Sequence[LetIn]) -> list[Gate]:
    """Ask about filters where air goes in, about whips and panel where rich gas does."""
    air = filter_gates(act) if any(one.airy for one in lets_in) else []
    rich = any(one.gas.o2 > act.rules.clean_above_o2 for one in lets_in)
    return [*air, *(oxygen_path_gates(act) if rich else ())]


def compressors_in_use(conn: Connection) -> list[str]:
    """Return the compressors in use; one without a name where none is on record."""
    return [row.name for row in read.compressors(conn)] or [""]


def _named(gate: Gate, name: str, act: Act) -> Gate:
    """Say which compressor is meant, where there are several."""
    if len(compressors_in_use(act.conn)) < 2:
        return gate
    return replace(gate, reason=f"{name}: {gate.reason}")


def _worst(gates: Sequence[Gate]) -> Gate:
    order = {"stop": 0, "ask": 1, "pass": 2}
    return min(gates, key=lambda gate: (order[gate.answer], not gate.caution))


def _last_air(act: Act, what: str, compressor: str) -> FindingRow | None:
    """Return what was found last of a compressor's air.

    What names none counts where there is one at most: with several nobody knows whose it was.
    """
    found = [read.finding(act.conn, what, compressor)] if compressor else []
    if len(compressors_in_use(act.conn)) < 2:
        found.append(read.finding(act.conn, what, ""))
    return max((row for row in found if row), key=lambda row: row.seq, default=None)


def last_air_test(act: Act) -> fitness.AirTest | None:
    """Return the test of the oiliest air there is, None if none was tested."""
    tests = [air_test_of(act, name) for name in compressors_in_use(act.conn)]
    return max((test for test in tests if test), key=lambda test: test.oil_mg, default=None)


def air_test_of(act: Act, compressor: str) -> fitness.AirTest | None:
    """Return what the last test of a compressor's air found, None if there was none."""
    row = _last_air(act, "air-test", compressor)
    if row is None:
        return None
    found = json.loads(row.text)
    age = act.now.local.date() - date.fromisoformat(found["sampled"])
    return fitness.AirTest(
        age.days / MONTH_DAYS,
        found["co_ppb"] / 1000.0,
        found["co2_ppb"] / 1000.0,
        found["oil_ug"] / 1000.0,
        found["water_ug"] / 1000.0,
    )


def _supplies(act: Act, lets_in: Sequence[LetIn]) -> list[Gate]:
    """Ask about every supply of the record that is drawn from: the worst answer counts."""
    asked = []
    for name in dict.fromkeys(one.supply for one in lets_in if not is_air(one.gas)):
        row = search.supply(act.conn, name)
        found = read.finding(act.conn, "supply-gas", name)
        gas = next(one.gas for one in lets_in if one.supply == name)
        if row is not None:
            gas = parse_gas(row.gas_typed, "supply")
        measured = found.value / 1e6 if found else None
        asked.append(fitness.supply_gas(name or "supply", measured, gas, act.rules))
    return [_worst(asked)] if asked else []


def _staff(act: Act, method: str | None) -> list[Gate]:
    """Ask about whoever acts."""
    who = act.actor
    has = read.finding(act.conn, "undertaking", who.person) is not None
    asked = [fitness.undertaken(who.name, has=has, rules=act.rules)]
    if method is not None:
        standing = act.station.roll.of(who.person)
        methods = standing.qualified if standing else ()
        asked.append(fitness.qualified(who.name, methods, method, act.rules))
    return asked


def end_oxygen_service(act: Act, cylinder: CylinderRow, why: str) -> None:
    """Enter that a cylinder is no longer in oxygen service, and what ended it."""
    data = {"serial": cylinder.serial, "old": {"clean": True}, "new": {"clean": False}, "why": why}
    act.enter("cylinder.changed", data, "no longer clean for oxygen")
