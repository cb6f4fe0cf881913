"""What a station read while a cylinder was filled and cooled, as a table."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from blender.errors import InputError
from blender.units import MAX_GAUGE_BAR, PA_PER_BAR, PA_PER_PSI, f_to_c, parse_number

FEWEST, MOST = 6, 500
LONGEST_S = 48 * 3600.0
_LOW_C, _HIGH_C = -40.0, 220.0
_HEADER = (
    "the first line names the columns, such as time_s,gauge_bar,gas_c; allowed are time_s or "
    "time_min, gauge_bar or gauge_psi, and one of gas_c, gas_f, wall_c, wall_f"
)
_TIMES: dict[str, Callable[[float], float]] = {"time_s": float, "time_min": lambda x: 60.0 * x}
_GAUGES: dict[str, Callable[[float], float]] = {
    "gauge_bar": float,
    "gauge_psi": lambda x: x * PA_PER_PSI / PA_PER_BAR,
}
_TEMPERATURES: dict[str, Callable[[float], float]] = {
    "gas_c": float, "wall_c": float, "gas_f": f_to_c, "wall_f": f_to_c,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """One line of the table.

    Parameters
    ----------
    time_s : float
        Time since the first reading [s].
    gauge_bar : float
        Gauge pressure [bar].
    temperature_c : float
        Temperature of the gas or of the metal [degC].
    """

    time_s: float
    gauge_bar: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Readings:
    """A fill and its cooling as read.

    Parameters
    ----------
    rows : tuple of Reading
        The first before any gas goes in, with the cylinder at rest.
    of_wall : bool
        True if temperatures are of the metal, False if of the gas.
    """

    rows: tuple[Reading, ...]
    of_wall: bool

    @property
    def shut(self) -> int:
        """Which reading was taken as the valve was shut: the first of the highest pressure."""
        return max(range(len(self.rows)), key=lambda k: self.rows[k].gauge_bar)


def parse_readings(text: str, field: str = "--readings") -> Readings:
    r"""Read a table of readings, CSV with a comma, semicolon or tab between columns.

    Parameters
    ----------
    text : str
        The table: a line of column names, then a line a reading.
    field : str
        The field's name, for the error message.

    Returns
    -------
    Readings
        Time from the first reading [s], gauge [bar], temperature [degC].

    Raises
    ------
    InputError
        If a line cannot be read, there are too few or too many, or they contradict each other.

    Examples
    --------
    >>> rows = "0,1,20\n60,80,41\n120,150,50\n180,149,48\n600,130,35\n1200,125,31"
    >>> found = parse_readings("time_s,gauge_bar,gas_c\n" + rows)
    >>> found.shut, found.of_wall, found.rows[1].gauge_bar
    (2, False, 80.0)
    """
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip()]
    names, mark = _header(lines[0] if lines else "", field)
    if not FEWEST <= len(lines) - 1 <= MOST:
        allowed = f"give {FEWEST} to {MOST}: one at rest, some while filling, some while cooling"
        raise InputError(field, f"{len(lines) - 1} readings", allowed)
    rows = [_row(line, names, mark, f"{field}, line {n}") for n, line in enumerate(lines[1:], 2)]
    rows = [Reading(r.time_s - rows[0].time_s, r.gauge_bar, r.temperature_c) for r in rows]
    found = Readings(tuple(rows), names[2].startswith("wall"))
    _check(found, field)
    return found


def _header(line: str, field: str) -> tuple[list[str], str]:
    mark = next((m for m in ("\t", ";") if m in line), ",")
    names = [name.strip().lower() for name in line.split(mark)]
    kinds = (_TIMES, _GAUGES, _TEMPERATURES)
    if len(names) != 3 or not all(name in kind for name, kind in zip(names, kinds, strict=True)):
        raise InputError(field, repr(line[:80]), _HEADER)
    return names, mark


def _row(line: str, names: Sequence[str], mark: str, field: str) -> Reading:
    cells = line.split(mark)
    if len(cells) != 3:
        raise InputError(field, repr(line[:80]), f"give three numbers, for {', '.join(names)}")
    time, gauge, temperature = (parse_number(cell, field) for cell in cells)
    row = Reading(
        _TIMES[names[0]](time), _GAUGES[names[1]](gauge), _TEMPERATURES[names[2]](temperature)
    )
    if not (0.0 <= row.gauge_bar <= MAX_GAUGE_BAR and _LOW_C <= row.temperature_c <= _HIGH_C):
        allowed = f"allowed are 0 to {MAX_GAUGE_BAR:g} bar and {_LOW_C:g} to {_HIGH_C:g} degC"
        raise InputError(field, repr(line[:80]), allowed)
    return row


def _check(found: Readings, field: str) -> None:
    rows, shut = found.rows, found.shut
    for line, (one, then) in enumerate(itertools.pairwise(rows), start=3):
        place = f"{field}, line {line}"
        if not one.time_s < then.time_s <= LONGEST_S:
            raise InputError(place, f"{then.time_s:g} s", "times rise, and stay within 48 hours")
        if line - 2 <= shut and not then.gauge_bar > one.gauge_bar:
            allowed = f"the gauge rises until the valve is shut, and it was {one.gauge_bar:g} bar"
            raise InputError(place, f"{then.gauge_bar:g} bar", allowed)
    if not 0 < shut < len(rows) - 1:
        allowed = "the gauge rises while gas goes in and falls while it cools: read both"
        raise InputError(field, f"highest at reading {shut + 1} of {len(rows)}", allowed)
