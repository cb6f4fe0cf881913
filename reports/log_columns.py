"""The columns of the fill log: for each its heading, its width and what a line says in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from blender.station.views import LogLine
from reports.in_units import exact, in_units
from reports.wording import (
    FIXED,
    NOT_GIVEN,
    given,
    percent,
    pressure,
    temperature,
    tenths,
    time_text,
)


@dataclass(frozen=True, slots=True)
class Column:
    """A column `width` mm wide; `says` gives its paragraphs for a line and imperial or not."""

    heading: str
    width: float
    says: Callable[[LogLine, bool], list[str]]


def _times(line: LogLine, _: bool) -> list[str]:
    return [time_text(at) for at in (line.requested_at, line.accepted_at, line.collected_at)]


def _reading(o2: float | None, he: float | None) -> list[str]:
    if o2 is None:
        return [NOT_GIVEN]
    helium = NOT_GIVEN if he is None else percent(he)
    return [f"O₂{FIXED}{percent(o2)}", f"He{FIXED}{helium}"]


def _staff(line: LogLine, _: bool) -> list[str]:
    """Return what the station read; of a set at each post."""
    if len(line.posts) < 2:
        return _reading(line.staff_o2_percent, line.staff_he_percent)
    return [
        text
        for post in line.posts
        for text in (post.serial, *_reading(post.o2_percent, post.he_percent))
    ]


def _told(text: str, line: LogLine, imperial: bool) -> str:
    return given(in_units(text, True, exact(line)) if imperial else text)


def _pressure(line: LogLine, imperial: bool) -> list[str]:
    said = [NOT_GIVEN] if line.pressure_bar is None else [pressure(line.pressure_bar, imperial)]
    if line.temperature_c is not None:
        said.append(f"at {temperature(line.temperature_c, imperial)}")
    return [*said, given(line.gauge)]


def _amounts(line: LogLine, _: bool) -> list[str]:
    amounts = (("O₂", line.oxygen_mol), ("He", line.helium_mol), ("top", line.top_mol))
    return [f"{name}{FIXED}{tenths(amount, 'amount')}" for name, amount in amounts]


def _remarks(line: LogLine, imperial: bool) -> list[str]:
    told = [_told(text, line, imperial) for text in (*line.marks, *line.exceptions)]
    return told or [NOT_GIVEN]


def _blender(line: LogLine, _: bool) -> list[str]:
    """Return who filled it, and when: a name alone is no signature."""
    when = [f"filled {time_text(line.filled_at)}"] if line.filled_at else []
    return [given(line.blender), *when]


COLUMNS = (
    Column("Fill, state, entry", 16, lambda v, _: [f"{v.fill}", v.state, f"entry{FIXED}{v.seq}"]),
    Column("Requested, accepted, collected", 29, _times),
    Column("Cylinder", 18, lambda v, _: [given(v.cylinder.replace("+", " + "))]),
    Column("Customer, accepted by", 22, lambda v, _: [given(v.customer), given(v.accepted_by)]),
    Column(
        "In it before, source", 22, lambda v, i: [_told(v.residual, v, i), given(v.residual_source)]
    ),
    Column("Wanted, method", 21, lambda v, i: [_told(v.wanted, v, i), given(v.method)]),
    Column("Station read %", 13, _staff),
    Column("Diver read %", 13, lambda v, _: _reading(v.diver_o2_percent, v.diver_he_percent)),
    Column("Analyser", 15, lambda v, _: [given(v.analyser)]),
    Column("Pressure, gauge", 16, _pressure),
    Column("Supplies", 16, lambda v, _: [given(v.supplies)]),
    Column("Let in, mol", 16, _amounts),
    Column("Blender", 17, _blender),
    Column("Exceptions, marks", 43, _remarks),
)
