"""The open fills of a station in a few milliseconds, for a terminal that must start at once.

Only the standard library is loaded here, and only what has been in the read models since
their first version is asked for.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from blender.errors import RecordError
from blender.gas import Mix, name_of
from blender.record.place import MUST_WRITE, check_header, check_there, explain, locate
from blender.record.server import Server
from blender.record.states import LOST_IN, OPEN, do_not_breathe
from blender.record.trouble import BEYOND, LOST, Trouble, trouble

BUSY_S = 5.0
Ask = Callable[[str, Sequence[Any]], Any]  # a question with its values, marked "?"; rows by name
Found = TypeVar("Found")


_ANALYSED = ("analysed", "recheck", "accepted")


@dataclass(frozen=True, slots=True)
class GlanceFill:
    """One open fill and the stop it is on.

    Parameters
    ----------
    fill : int
        Its number.
    state, serial, customer : str
        Where it stands, its cylinder, and the customer's name, or that it was erased.
    gas_text : str
        What is calculated to be in the cylinder: ``O2 49.1 % He 12.0 %``.
    holds : tuple of float
        The same as mole fractions of oxygen and helium [1].
    do_not_breathe : bool
        Whether it must be said.
    want_text : str
        What was asked for, as typed.
    want_mbar : int
        Wanted gauge pressure [mbar].
    step : int
        Number of the step it is on, from 0.
    action, supply, step_gas : str
        What that step does, from which supply, and the name of its gas; empty if none.
    stop_mbar, stop_temp_mk : int
        Where the step stops [mbar gauge] and at which temperature [mK]; -1 if it has no stop.
    last_mbar, last_temp_mk : int
        The gauge reading that counts [mbar] and its temperature [mK].
    last_us : int
        When that was read, else when the fill was started or requested [us UTC].
    imperial : bool
        Whether it was asked for in psi.
    batch : int
        Which fills are done together, 0 for one by itself.
    posts_left : int
        At how many posts of a set nobody has analysed it yet, once the first was.
    trouble : Trouble or None
        A stop that the last reading was beyond, until it is planned again or gone on with; or gas
        that was lost since the fill was started.
    """

    fill: int
    state: str
    serial: str
    customer: str
    gas_text: str
    holds: tuple[float, float]
    do_not_breathe: bool
    want_text: str
    want_mbar: int
    step: int
    action: str
    supply: str
    step_gas: str
    stop_mbar: int
    stop_temp_mk: int
    last_mbar: int
    last_temp_mk: int
    last_us: int
    imperial: bool
    batch: int
    posts_left: int = 0
    trouble: Trouble | None = None


@dataclass(frozen=True, slots=True)
class Glance:
    """A station and its open fills, oldest first."""

    station: str
    name: str
    incarnation: int
    fills: tuple[GlanceFill, ...]


def glance(location: str) -> Glance:
    """Read a station's open fills from its file, and let the file go.

    Parameters
    ----------
    location : str
        The record's SQLite file, or its place on a server.

    Raises
    ------
    InputError
        If there is no such file.
    RecordError
        If it is not a station's record, or cannot be read.
    """
    return look(location, _glance)


def look(location: str, question: Callable[[Ask], Found]) -> Found:
    """Ask one state of a station's record something, and let the record go; raises as `glance`."""
    place = locate(location)
    if isinstance(place, Server):
        return _look_there(place, question)
    path = place.absolute()
    check_there(path)
    try:
        return _look(path, "ro", question)
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorcode", 0) not in MUST_WRITE:
            raise explain(error, "it was not read") from error
    try:
        return _look(path, "rw", question)  # what a crash left unfinished is rolled back
    except sqlite3.Error as error:
        raise explain(error, "it was not read") from error


def _look_there(place: Server, question: Callable[[Ask], Found]) -> Found:
    """Read everything from one state of a record on a server."""
    from blender.record.postgres import glimpse  # noqa: PLC0415 - its driver is an extra

    with glimpse(place) as ask:
        try:
            return question(ask)
        except (ArithmeticError, IndexError, KeyError, TypeError, ValueError) as error:
            raise RecordError("the record's tables are damaged; verify it now") from error


def _look(path: Path, mode: str, question: Callable[[Ask], Found]) -> Found:
    """Read everything from one state of the file."""
    uri = f"{path.as_uri()}?mode={mode}"
    with closing(sqlite3.connect(uri, uri=True, isolation_level=None, timeout=BUSY_S)) as conn:
        conn.row_factory = sqlite3.Row
        try:
            conn.execute("PRAGMA query_only=1")
            conn.execute("PRAGMA trusted_schema=0")
            conn.execute("BEGIN")
            _check_ours(conn)
            return question(conn.execute)
        except (ArithmeticError, IndexError, KeyError, TypeError, ValueError) as error:
            raise RecordError("the record's tables are damaged; verify it now") from error


def _check_ours(conn: sqlite3.Connection) -> None:
    application, version = (
        conn.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version")
    )
    found = conn.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    check_header(application, version, empty=not found)


def _glance(ask: Ask) -> Glance:
    station = ask("SELECT station, name FROM station", []).fetchone()
    if station is None:
        raise RecordError("the read models are empty; run `rebuild`")
    last = "SELECT body FROM entry WHERE station = ? ORDER BY seq DESC LIMIT 1"
    body = json.loads(ask(last, [station["station"]]).fetchone()["body"])
    lost = _lost(ask)
    fills = tuple(_fill(row, lost.get(row["fill"], "")) for row in _open_rows(ask))
    return Glance(station["station"], station["name"], body["incarnation"], fills)


def _open_rows(ask: Ask) -> list[Any]:
    """Find the open fills by the index of states; the plus keeps SQLite from scanning them all."""
    marks = ",".join("?" * len(OPEN))
    query = f"""
SELECT f.*, p.name, s.action, s.supply, s.gas, s.to_mbar, s.temp_mk AS stop_mk,
  (SELECT r.at_us FROM reading r WHERE r.fill = f.fill AND r.gauge_mbar = f.gauge_mbar
    AND r.temp_mk = f.temp_mk ORDER BY r.seq DESC LIMIT 1) AS read_us,
  (SELECT COUNT(DISTINCT a.serial) FROM analysis a WHERE a.fill = f.fill AND a.valid
    AND a.party = 'staff') AS posts_read,
  o.gas AS over_gas,
  (SELECT x.text FROM exception x WHERE x.fill = f.fill AND x.kind = 'beyond-stop'
    AND x.seq > COALESCE((SELECT MAX(n.seq) FROM fill_step n WHERE n.fill = f.fill), 0)
    AND x.seq = (SELECT MAX(r.seq) FROM reading r WHERE r.fill = f.fill)) AS over_text
FROM fill f LEFT JOIN person p ON p.person = f.customer
  LEFT JOIN fill_step s ON s.fill = f.fill AND s.number = f.step
  LEFT JOIN fill_step o ON o.fill = f.fill AND o.number = f.step - 1
WHERE f.state IN ({marks}) ORDER BY +f.fill"""  # noqa: S608 - only question marks go in
    found: list[Any] = ask(query, OPEN).fetchall()
    return found


def _lost(ask: Ask) -> dict[int, str]:
    """Return what the last note of lost gas that still stands says, by fill."""
    marks = ",".join("?" * len(LOST_IN))
    query = f"""
SELECT x.text AS said, r.* FROM fill f JOIN exception x ON x.fill = f.fill
  JOIN reading r ON r.seq = x.seq
WHERE f.state IN ({marks}) AND x.kind = 'lost-gas' AND x.at_us >= f.started_us
ORDER BY x.seq"""  # noqa: S608 - only question marks go in
    rows = ask(query, LOST_IN).fetchall()
    return {row["fill"]: row["said"] for row in rows if not _later(row, "corrected_by")}


def _later(row: Any, column: str) -> int:
    """Return the value of a column that the tables of an earlier release do not have; 0 there."""
    return int(row[column]) if column in row.keys() else 0  # noqa: SIM118 - no __contains__


def _fill(row: Any, lost: str) -> GlanceFill:
    o2, he = _inside(row)
    stops = row["to_mbar"] is not None and row["to_mbar"] >= 0
    return GlanceFill(
        fill=row["fill"],
        state=row["state"],
        serial=row["serial"],
        customer=row["name"] or f"erased ({row['customer']})",
        gas_text=_gas_text(o2, he),
        holds=(o2, he),
        do_not_breathe=do_not_breathe(row["state"], has_gas=bool(row["has_gas"])),
        want_text=row["want_typed"],
        want_mbar=row["want_mbar"],
        step=row["step"],
        action=row["action"] or "",
        supply=row["supply"] or "",
        step_gas=_step_gas(row["gas"]),
        stop_mbar=row["to_mbar"] if stops else -1,
        stop_temp_mk=row["stop_mk"] if stops else -1,
        last_mbar=row["gauge_mbar"],
        last_temp_mk=row["temp_mk"],
        last_us=row["read_us"] or row["started_us"] or row["requested_us"],
        imperial="psi" in row["want_typed"].lower(),
        batch=_later(row, "batch"),
        posts_left=_posts_left(row),
        trouble=_trouble(row, lost),
    )


def _trouble(row: Any, lost: str) -> Trouble | None:
    """Return gas that was lost, else a stop that was passed."""
    if lost:
        return trouble(LOST, lost)
    if row["state"] in ("filling", "resting") and row["over_text"]:
        return trouble(BEYOND, row["over_text"], _step_gas(row["over_gas"]) or "gas")
    return None


def _posts_left(row: Any) -> int:
    posts = int(row["serial"].count("+")) + 1
    return max(posts - int(row["posts_read"]), 0) if row["state"] == "analysed" else 0


def _inside(row: Any) -> tuple[float, float]:
    """Return oxygen and helium in a cylinder [1]: as analysed once it was, else as calculated."""
    calculated = _holds(row["contents_umol"])
    if row["state"] not in _ANALYSED or row["o2_ppm"] < 0:
        return calculated
    helium = calculated[1] if row["he_ppm"] < 0 else row["he_ppm"] / 1e6
    return row["o2_ppm"] / 1e6, helium


def _holds(contents_umol: str) -> tuple[float, float]:
    """Return the fractions of oxygen and helium in a cylinder [1]."""
    amounts: list[Any] = json.loads(contents_umol)
    total = sum(amounts)
    return amounts[0] / total, amounts[1] / total


def _gas_text(o2: float, he: float) -> str:
    helium = f" He {he * 100:.1f} %" if he > 0.0005 else ""
    return f"O2 {o2 * 100:.1f} %{helium}"


def _step_gas(gas: str | None) -> str:
    """Return the name of a step's gas, empty where the step lets none in."""
    parts = json.loads(gas or "[]")
    if not parts:
        return ""
    o2, he, n2, ar = (part / sum(parts) for part in parts)
    return name_of(Mix(o2, he, n2, ar), 1)
