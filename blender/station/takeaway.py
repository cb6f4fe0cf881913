"""The record to be taken away: its journal to be verified elsewhere, and everything as tables."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any

from blender.record import contacts, read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import FillRow, PersonRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station import export, register
from blender.station.views import LogLine, Stamp

FORMAT = "fillwright journal 1"
Cell = str | int | float | bool | None


def verifier() -> bytes:
    """Return the script that verifies an exported journal, for somebody who has only that."""
    return resources.files("blender.record").joinpath("inspector.py").read_bytes()


def journal_lines(record: Record) -> Iterator[bytes]:
    """Give the exported journal line by line, from one state of the record: heading, entries."""
    with record.read() as conn:
        last = last_entry(conn, record.station)
        assert last is not None
        heading = [FORMAT, record.station, record.public_key.hex(), last.seq, last.digest.hex()]
        yield _line(heading)
        for entry in read.entries(conn, record.station):
            yield _line([entry.seq, entry.prev.hex(), entry.digest.hex(), entry.body.decode()])


def _line(content: list[Any]) -> bytes:
    return json.dumps(content, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"


@dataclass(frozen=True, slots=True)
class Table:
    """A table to be taken away.

    Parameters
    ----------
    name : str
        What it is of, and its file's name.
    columns : sequence of str
        With their units.
    rows : callable
        Gives the rows of a record, cells of plain types.
    personal : str
        What personal data is in it, empty if none.
    """

    name: str
    columns: Sequence[str]
    rows: Callable[[Record, Moment], Iterator[Sequence[Cell]]]
    personal: str = ""


_CYLINDER = ("serial", "size", "wp_bar", "tp_bar", "tested", "inspected", "clean")
_SUPPLY = ("name", "gas", "o2", "he", "size_l", "pressure_bar", "retired")


def _cylinders(record: Record, now: Moment) -> Iterator[Sequence[Cell]]:  # noqa: ARG001 - one signature for all
    for row in register.cylinders(record)["cylinders"]:
        yield [row[name] for name in _CYLINDER]


def _supplies(record: Record, now: Moment) -> Iterator[Sequence[Cell]]:  # noqa: ARG001 - one signature for all
    for row in register.supplies(record)["supplies"]:
        yield [row[name] for name in _SUPPLY]


def _people(record: Record, now: Moment) -> Iterator[Sequence[Cell]]:  # noqa: ARG001 - one signature for all
    with record.read() as conn:
        for row in read.people(conn):
            phone = contacts.phone(conn, row.person)
            qualified = ", ".join(json.loads(row.qualified))
            yield [row.person, *_shown(row), row.role, qualified, row.certified, phone]


def _shown(row: PersonRow) -> list[Cell]:
    return [row.name or "", row.name is None]


def _analysers(record: Record, now: Moment) -> Iterator[Sequence[Cell]]:
    with record.read() as conn:
        names = {row.person: read.called(row) for row in read.people(conn)}
        for row in read.analysers(conn, retired=True):
            set_at = Moment(row.calibrated_us, now.offset_min).iso if row.calibrated_us else None
            setting = [row.gas_typed, row.reading_typed, row.ambient_typed, row.air_typed]
            by = names.get(row.calibrated_by)
            yield [row.name, set_at, *setting, by, row.retired or None]


_FILL: tuple[tuple[str, Callable[[LogLine], Cell]], ...] = (
    ("fill", lambda v: v.fill),
    ("state", lambda v: v.state),
    ("marks", lambda v: "; ".join(v.marks)),
    ("requested_at", lambda v: _time(v.requested_at)),
    ("accepted_at", lambda v: _time(v.accepted_at)),
    ("collected_at", lambda v: _time(v.collected_at)),
    ("cylinder", lambda v: v.cylinder),
    ("customer", lambda v: v.customer),
    ("accepted_by", lambda v: v.accepted_by),
    ("blender", lambda v: v.blender),
    ("residual", lambda v: v.residual),
    ("residual_source", lambda v: v.residual_source),
    ("wanted", lambda v: v.wanted),
    ("method", lambda v: v.method),
    ("station_o2_percent", lambda v: v.staff_o2_percent),
    ("station_he_percent", lambda v: v.staff_he_percent),
    ("diver_o2_percent", lambda v: v.diver_o2_percent),
    ("diver_he_percent", lambda v: v.diver_he_percent),
    ("analyser", lambda v: v.analyser),
    ("pressure_bar_gauge", lambda v: v.pressure_bar),
    ("temperature_c", lambda v: v.temperature_c),
    ("supplies", lambda v: v.supplies),
    ("oxygen_mol", lambda v: v.oxygen_mol),
    ("helium_mol", lambda v: v.helium_mol),
    ("top_mol", lambda v: v.top_mol),
    ("exceptions", lambda v: "; ".join(v.exceptions)),
    ("entry_seq", lambda v: v.seq),
)


def _time(stamp: Stamp | None) -> str | None:
    return Moment(stamp.us, stamp.offset_min).iso if stamp else None


def _fills(record: Record, now: Moment) -> Iterator[Sequence[Cell]]:
    with record.read() as conn:
        numbers = [row.fill for row in read.rows(conn, FillRow)]
    for part in export.parts(record, numbers, "", now):
        for line in part.lines:
            yield [says(line) for _, says in _FILL]


_ENTRY = ("seq", "at", "kind", "incarnation", "signed_by", "role", "meaning", "sealed", "prev",
          "digest", "body")  # fmt: skip


def _entries(record: Record, now: Moment) -> Iterator[Sequence[Cell]]:  # noqa: ARG001 - one signature for all
    with record.read() as conn:
        for entry in read.entries(conn, record.station):
            yield _entry(entry)


def _entry(entry: Entry) -> list[Cell]:
    signed = entry.sig or {}
    by: list[Cell] = [signed.get(name) for name in ("name", "role", "meaning")]
    where: list[Cell] = [entry.seq, entry.at.iso, entry.kind, entry.incarnation]
    proof: list[Cell] = [
        entry.seal is not None,
        entry.prev.hex(),
        entry.digest.hex(),
        entry.body.decode(),
    ]
    return [*where, *by, *proof]


_SETTING = ("name", "set_at", "set_on", "reading", "ambient", "air", "set_by", "retired")
TABLES = (
    Table("cylinders", _CYLINDER, _cylinders, "serials, which a customer is known by"),
    Table(
        "people",
        ("person", "name", "erased", "role", "qualified", "certified", "phone"),
        _people,
        "names, certifications and telephone numbers of customers and staff",
    ),
    Table("fills", tuple(name for name, _ in _FILL), _fills, "who had which gas, and who made it"),
    Table("supplies", _SUPPLY, _supplies),
    Table("analysers", _SETTING, _analysers, "who set them"),
    Table("entries", _ENTRY, _entries, "names of staff in their signatures, and typed reasons"),
)


def about(record: Record, counts: dict[str, int]) -> str:
    """Return what goes with the tables, for people: what each is, what personal data it holds."""
    head = record.head()
    said = [
        f"Taken from the record of station {head.station}. At its end then: {head.text}",
        "",
        "Each table is there twice: .csv (UTF-8, commas, a heading) for people and spreadsheets,",
        ".jsonl (one JSON object a line) for programs. Texts that a spreadsheet would take for a",
        "formula have an apostrophe before them in .csv; numbers are numbers in both.",
        "",
    ]
    for table in TABLES:
        personal = f"PERSONAL DATA: {table.personal}" if table.personal else "no personal data"
        said.append(f"{table.name}: {counts[table.name]} rows; {personal}.")
    return "\n".join(
        [
            *said,
            "",
            "Drawn signatures and keys are not in it. Whoever is erased in the record later is",
            "still in this copy: keep it as you keep the record, and delete it when it has served.",
            "These tables prove nothing; `fillwright export journal` writes what can be verified.",
            "",
        ]
    )
