"""Several cylinders opened together on one manifold: they must hold alike, or gas flows over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy import Connection

from blender.errors import InputError
from blender.levelling import level
from blender.record import read
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.station import filling
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.contents import ambient_bar, contents, holds_text
from blender.station.desk import Act, Station, refusal
from blender.station.gates import PASS, STOP, Gate
from blender.station.planning import pressure_gates
from blender.station.wording import gas_typed, pressure_text
from blender.vessel import Contents

LEVEL_C = 20.0  # pressures are compared at one temperature; the room's differs little
ALIKE_POINTS = 0.5
ALIKE_BAR = 1.0
_KNOWN = ("analysed", "calculated")


@dataclass(frozen=True, slots=True)
class _Opened:
    """A fill on the manifold: what its cylinder holds, and how that is known."""

    fill: FillRow
    inside: Contents
    source: str


def check_together(record: Record, numbers: Sequence[int]) -> list[Gate]:
    """Ask whether fills may be opened together on one manifold; nothing is entered.

    Parameters
    ----------
    record : Record
        The open record.
    numbers : sequence of int
        The fills, two or more, in any order.

    Returns
    -------
    list of Gate
        ``known-contents``, ``same-wanted``, ``same-mix`` and ``same-pressure``.

    Raises
    ------
    InputError
        If there is no such fill, fewer than two, or one cylinder twice.
    """
    with record.read() as conn:
        return _together(_opened(conn, numbers))


def start_together(
    station: Station,
    actor: Actor,
    numbers: Sequence[int],
    serials: Sequence[str],
    isolator: str = "",
) -> list[Answer]:
    """Start fills that are opened together, all of them or none; every gate is asked first.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who opens them.
    numbers : sequence of int
        The fills, two or more.
    serials : sequence of str
        The serials of the cylinders on the manifold, as scanned, in any order.
    isolator : str
        ``open`` or ``closed``, of every set among them; empty if nobody said.

    Returns
    -------
    list of Answer
        One a fill, in the order given; where one is refused, none is done.

    Raises
    ------
    InputError
        If there is no such fill, or not as many serials as fills.
    """
    with station.act(actor, "start") as act:
        opened = _opened(act.conn, numbers)
        scanned = _scanned(opened, serials)
        shared = _together(opened)
        _, after = _levelled(opened)
        asked = {
            one.fill.fill: [*_alone(act, one.fill, scanned, inside, isolator), *shared]
            for one, inside in zip(opened, after, strict=True)
        }
        fills = {one.fill.fill: one.fill for one in opened}
        if any(act.would_refuse(fills[number], answers) for number, answers in asked.items()):
            return [_refused(act, number, asked) for number in numbers]
    answers, under_key = [], station
    for number in numbers:  # the first alone carries the key: it stands for all of them
        serial = scanned[number]
        started = filling.start(under_key, actor, number, serial=serial, isolator=isolator)
        answers.append(replace(started, gates=[*started.gates, *shared]))
        under_key = replace(station, key=None)
    return answers


def _alone(
    act: Act, fill: FillRow, scanned: dict[int, str], after: Contents, isolator: str
) -> list[Gate]:
    """Ask what is asked of each by itself, its rating at what levelling will make of it too."""
    _, where = act.fill(fill.fill)
    cylinder = read.cylinder(act.conn, fill.serial)
    return [
        where,
        *filling.start_gates(act, fill, scanned[fill.fill], isolator),
        *pressure_gates(act, cylinder, after, ambient_bar(fill)),
    ]


def _refused(act: Act, number: int, asked: dict[int, list[Gate]]) -> Answer:
    """Enter a fill's refusal; one that only waits for another says which."""
    fill, _ = act.fill(number)
    others = [str(n) for n in sorted(asked) if n != number and _stops(act, n, asked[n])]
    answers = asked[number]
    if not act.would_refuse(fill, answers):
        why = f"opened together with fill {', '.join(others)}, which was refused"
        answers = [*answers, Gate("together", STOP, why)]
    return act.refused(fill, answers) or refusal(fill, answers)


def _stops(act: Act, number: int, answers: list[Gate]) -> bool:
    fill, _ = act.fill(number)
    return act.would_refuse(fill, answers)


def _opened(conn: Connection, numbers: Sequence[int]) -> list[_Opened]:
    """Return the fills in the order of their numbers, whatever order they were named in."""
    if len(numbers) < 2 or len(set(numbers)) < len(numbers):
        named = ", ".join(map(str, numbers)) or "none"
        raise InputError("fills", named, "name two or more fills, each once")
    opened = [_one(conn, number) for number in sorted(numbers)]
    serials = [one.fill.serial for one in opened]
    if twice := [serial for serial in serials if serials.count(serial) > 1]:
        raise InputError("fills", twice[0], "two of these fills are of this one cylinder")
    return opened


def _one(conn: Connection, number: int) -> _Opened:
    fill = read.fill(conn, number)
    inside = contents(fill, read.cylinder(conn, fill.serial))
    analysed = bool(read.analyses(conn, number))
    return _Opened(fill, inside, "analysed" if analysed else fill.residual)


def _scanned(opened: Sequence[_Opened], serials: Sequence[str]) -> dict[int, str]:
    """Return for each fill the serial scanned for it: its own if it was among them."""
    if len(serials) != len(opened):
        allowed = f"scan the {len(opened)} cylinders on the manifold, each once"
        raise InputError("--serial", f"{len(serials)} serials", allowed)
    left = [serial.strip() for serial in serials]
    found: dict[int, str] = {}
    for one in opened:
        if one.fill.serial in left:
            left.remove(one.fill.serial)
            found[one.fill.fill] = one.fill.serial
    missing = [one.fill.fill for one in opened if one.fill.fill not in found]
    return found | dict(zip(missing, left, strict=True))


def _together(opened: Sequence[_Opened]) -> list[Gate]:
    """Ask everything that concerns the cylinders only as they stand beside each other."""
    level_bar, after = _levelled(opened)
    return [
        _known(opened),
        _wanted(opened),
        _mix(opened, level_bar, after),
        _pressure(opened, level_bar),
    ]


def _levelled(opened: Sequence[_Opened]) -> tuple[float, list[Contents]]:
    """Return what all would show [bar], and hold, once they have levelled."""
    return level([one.inside for one in opened], LEVEL_C, ambient_bar(opened[0].fill))


def _known(opened: Sequence[_Opened]) -> Gate:
    guessed = [f"{one.fill.serial} ({one.source})" for one in opened if one.source not in _KNOWN]
    if guessed:
        why = f"what is left was never analysed in {', '.join(guessed)}; analyse it first"
        return Gate("known-contents", STOP, why)
    return Gate("known-contents", PASS, "what is in each is analysed or calculated")


def _wanted(opened: Sequence[_Opened]) -> Gate:
    asked = ", ".join(f"{one.fill.serial} {one.fill.want_typed}" for one in opened)
    if len({(one.fill.want_o2_ppm, one.fill.want_he_ppm) for one in opened}) > 1:
        return Gate("same-wanted", STOP, f"not the same mix is wanted: {asked}")
    first = opened[0].fill
    if len({one.fill.want_mbar for one in opened}) > 1:
        why = f"the same mix, but to different pressures; close each at its own: {asked}"
        return Gate("same-wanted", PASS, why)
    return Gate("same-wanted", PASS, f"{gas_typed(first.want_typed)} is wanted in each")


def _mix(opened: Sequence[_Opened], gauge_bar: float, after: Sequence[Contents]) -> Gate:
    now = _each(opened, [one.inside for one in opened])
    mixes = [one.inside.mix for one in opened]
    apart = max(_spread([gas.o2 for gas in mixes]), _spread([gas.he for gas in mixes]))
    if apart <= ALIKE_POINTS + 1e-6:
        return Gate("same-mix", PASS, f"they hold alike: {now}")
    would = (
        f"opened together they would level to {pressure_text(opened[0].fill, gauge_bar)} at "
        f"{LEVEL_C:g} degC and then hold: {_each(opened, after)}"
    )
    return Gate("same-mix", STOP, f"they hold unlike gas: {now}; {would}; fill them one by one")


def _pressure(opened: Sequence[_Opened], level_bar: float) -> Gate:
    first, around = opened[0].fill, ambient_bar(opened[0].fill)
    shown = [one.inside.gauge_bar(LEVEL_C, around) for one in opened]
    now = ", ".join(
        f"{one.fill.serial} {pressure_text(one.fill, gauge)}"
        for one, gauge in zip(opened, shown, strict=True)
    )
    fact = f"at {LEVEL_C:g} degC: {now}"
    if max(shown) - min(shown) <= ALIKE_BAR:
        return Gate("same-pressure", PASS, fact)
    why = (
        f"{fact}: opened together, gas would go over from the fuller to the emptier until all show "
        f"{pressure_text(first, level_bar)}, and be taken for what is let in; let them level "
        "first and check them in with the gauge they then show, or fill them one by one"
    )
    return Gate("same-pressure", STOP, why)


def _each(opened: Sequence[_Opened], spaces: Sequence[Contents]) -> str:
    return ", ".join(
        f"{one.fill.serial} {holds_text(inside)}"
        for one, inside in zip(opened, spaces, strict=True)
    )


def _spread(parts: Sequence[float]) -> float:
    """Return how far fractions lie apart [percentage points]."""
    return (max(parts) - min(parts)) * 100.0
