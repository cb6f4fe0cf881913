"""A recall: cylinders that had a gas or were read with an analyser, and whom to call."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, time, timedelta, timezone
from typing import Any

from sqlalchemy import Connection, and_

from blender.errors import InputError
from blender.planning.request import parse_gas_at
from blender.planning.supplies import TOP_NAME
from blender.record import contacts, read, search
from blender.record.journal import Record
from blender.record.models import AnalysisRow, FillRow, ReadingRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.record.unit import last_entry
from blender.station.numbers import mol
from blender.station.privacy import date_of
from blender.station.views import Proof, Stamp

_NEVER = 2**62
CARRIED = "left in it by fill {}"
LIMITS = (
    "Gas left in a cylinder goes on into its next fill: later fills of the same cylinder are "
    "listed too, until one that found it empty. Gas that went on into other cylinders or a bank "
    "outside the record is not known. Fills from an earlier book name no supply or analyser."
)


@dataclass(frozen=True, slots=True)
class RecallLine:
    """One fill that is meant.

    `how` says why, `is_out` that its cylinder left the station with it, and `later` what became
    of the cylinder since, empty where this is its newest fill.
    """

    fill: int
    day: str
    cylinder: str
    state: str
    is_out: bool
    person: str
    customer: str
    phone: str | None
    how: str
    later: str = ""

    @property
    def is_urgent(self) -> bool:
        """Whether somebody may be breathing it still."""
        return self.is_out and not self.later


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody to be called; `name` is empty where they were erased."""

    person: str
    name: str
    phone: str | None
    cylinders: tuple[str, ...]
    fills: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RecallView:
    """A recall, as a page or a screen shows it."""

    station_name: str
    what: str
    since: str
    until: str
    lines: tuple[RecallLine, ...]
    calls: tuple[Call, ...]
    printed_at: Stamp
    proof: Proof

    def as_dict(self) -> dict[str, Any]:
        """Return it JSON-ready."""
        kept = asdict(self)
        kept["fills"], kept["anchor"] = kept.pop("lines"), self.proof.anchor
        kept["cylinders"] = sorted({line.cylinder for line in self.lines})
        return kept


@dataclass(frozen=True, slots=True)
class _Span:
    """What was drawn on: a supply's name between two entries."""

    supply: str
    first_seq: int
    last_seq: int


def recall(
    record: Record,
    now: Moment,
    *,
    supply: str = "",
    lot: str = "",
    analyser: str = "",
    since: str = "",
    until: str = "",
) -> RecallView:
    """Return the fills that had gas of a supply or lot, or were read with an analyser.

    Parameters
    ----------
    record : Record
        The open record.
    now : Moment
        When it is asked.
    supply, lot, analyser : str
        Exactly one: a supply's name (``top`` for top gas), the lot of a bottle as it was
        entered, or an analyser's name.
    since, until : str
        First and last day, both included; empty for from the beginning, and until now.

    Raises
    ------
    InputError
        If not exactly one is named, or nothing is called so.
    """
    named = {"--supply": supply, "--lot": lot, "--analyser": analyser}
    given = [(flag, text.strip()) for flag, text in named.items() if text.strip()]
    if len(given) != 1:
        raise InputError("recall", f"{len(given)} of them", "name one: " + ", ".join(named))
    (flag, name) = given[0]
    span_us = _between(since, until, now)
    with record.read() as conn:
        if flag == "--analyser":
            how = _read_with(conn, name, span_us)
        elif flag == "--lot":
            how = _drawn(conn, _spans_of_lot(conn, record.station, name), span_us)
        else:
            how = _drawn(conn, [_span_of(conn, name)], span_us)
        if flag != "--analyser":
            how = dict(_with_later(conn, how))
        lines = _lines(conn, how)
        station, last = read.station(conn), last_entry(conn, record.station)
    assert station is not None
    assert last is not None
    proof = Proof.of(last)
    return RecallView(
        station_name=station.name,
        what=f"{flag.removeprefix('--')} {name}",
        since=since.strip() or "the beginning",
        until=until.strip() or now.iso[:10],
        lines=tuple(lines),
        calls=tuple(_calls(lines)),
        printed_at=Stamp.of(now),
        proof=proof,
    )


def _between(since: str, until: str, now: Moment) -> tuple[int, int]:
    """Return the span of some days of the station's zone [us UTC]."""
    zone = timezone(timedelta(minutes=now.offset_min))

    def midnight_us(day: str, field: str, days: int) -> int:
        start = date.fromisoformat(date_of(day, field))
        if not 1971 <= start.year <= 9000:
            raise InputError(field, repr(day[:40]), "years are 1971 to 9000")
        at = datetime.combine(start, time(), zone) + timedelta(days=days)
        return int(at.timestamp()) * 1_000_000

    first = midnight_us(since, "--since", 0) if since.strip() else -_NEVER
    last = midnight_us(until, "--until", 1) if until.strip() else _NEVER
    if last <= first:
        raise InputError("--until", repr(until[:40]), "the last day is not before the first")
    return first, last


def _span_of(conn: Connection, name: str) -> _Span:
    if name.lower() == TOP_NAME:
        return _Span("", 0, _NEVER)
    if search.supply(conn, name) is None:
        known = ", ".join(row.name for row in read.supplies(conn)) or "none yet"
        raise InputError("--supply", repr(name[:80]), f"supplies are {TOP_NAME}, {known}")
    return _Span(name, 0, _NEVER)


def _spans_of_lot(conn: Connection, station: str, lot: str) -> list[_Span]:
    """Return while which bottle of that lot was connected as what."""
    found: list[_Span] = []
    lots: set[str] = set()
    now_on: dict[str, tuple[int, str]] = {}
    for entry in read.entries_of_kind(conn, station, "supply.added", "supply.changed"):
        name, number = str(entry.data["name"]), str(entry.data.get("lot", ""))
        first, before = now_on.get(name, (0, ""))
        if before == lot:
            found.append(_Span(name, first, entry.seq))
        now_on[name] = (entry.seq, number)
        lots.add(number)
    found += [_Span(name, seq, _NEVER) for name, (seq, number) in now_on.items() if number == lot]
    if not found:
        known = ", ".join(sorted(lots - {""})[:20]) or "none: enter them with `supply add --lot`"
        raise InputError("--lot", repr(lot[:80]), f"lots in the record are {known}")
    return found


_How = dict[int, str]  # by fill: why it is meant


def _drawn(conn: Connection, spans: Sequence[_Span], span_us: tuple[int, int]) -> _How:
    """Return the fills that drew on a supply, and how much [mol]."""
    columns, drew = table(ReadingRow).c, dict[int, float]()
    for span in spans:
        where = and_(
            columns.supply.in_(("", TOP_NAME) if not span.supply else (span.supply,)),
            columns.seq > span.first_seq,
            columns.seq < span.last_seq,
            columns.corrected_by == 0,
            columns.drawn_umol > 0,
            columns.at_us >= span_us[0],
            columns.at_us < span_us[1],
        )
        for row in read.rows(conn, ReadingRow, where):
            drew[row.fill] = drew.get(row.fill, 0.0) + mol(row.drawn_umol)
    return {fill: f"had {amount:.1f} mol of it" for fill, amount in drew.items()}


def _read_with(conn: Connection, name: str, span_us: tuple[int, int]) -> _How:
    meter, columns = read.analyser(conn, name), table(AnalysisRow).c
    where = and_(
        columns.analyser == meter.name, columns.at_us >= span_us[0], columns.at_us < span_us[1]
    )
    said: dict[int, list[str]] = {}
    for row in read.rows(conn, AnalysisRow, where, [columns.seq]):
        what = "what was left read" if row.party == "residual" else "read"
        said.setdefault(row.fill, []).append(f"{what} O2 {row.o2_ppm / 1e4:.1f} %")
    return {fill: "; ".join(texts) for fill, texts in said.items()}


def _with_later(conn: Connection, how: _How) -> Iterator[tuple[int, str]]:
    """Add the fills that a cylinder's gas went on into, until one found it empty."""
    yield from how.items()
    seen = set(how)
    columns = table(FillRow).c
    for first in read.rows(conn, FillRow, columns.fill.in_(sorted(how))):
        later = and_(columns.serial == first.serial, columns.fill > first.fill)
        for fill in read.rows(conn, FillRow, later, [columns.fill]):
            if _was_empty(fill):
                break
            if fill.fill not in seen:
                seen.add(fill.fill)
                yield fill.fill, CARRIED.format(first.fill)


def _was_empty(fill: FillRow) -> bool:
    if not fill.have_typed:  # from an earlier book: nobody knows
        return False
    return parse_gas_at(fill.have_typed, "--have").gauge_bar <= 0.0


def _lines(conn: Connection, how: _How) -> list[RecallLine]:
    columns = table(FillRow).c
    found = read.rows(conn, FillRow, columns.fill.in_(sorted(how)), [columns.fill])
    names = {row.person: row.name or "" for row in read.people(conn)}
    later = _later(conn, {row.serial for row in found})
    lines = [
        RecallLine(
            fill=row.fill,
            day=_day(row),
            cylinder=row.serial,
            state=row.state,
            is_out=_is_out(row),
            person=row.customer,
            customer=names.get(row.customer, ""),
            phone=contacts.phone(conn, row.customer),
            how=how[row.fill],
            later=_became(row, later[row.serial]),
        )
        for row in found
    ]
    return sorted(lines, key=lambda line: not line.is_urgent)


def _later(conn: Connection, serials: set[str]) -> dict[str, list[FillRow]]:
    """Return every fill of some cylinders that was not undone, the newest first."""
    columns = table(FillRow).c
    where = and_(columns.serial.in_(sorted(serials)), columns.state != "voided")
    found: dict[str, list[FillRow]] = {serial: [] for serial in serials}
    for row in read.rows(conn, FillRow, where, [columns.fill.desc()]):
        found[row.serial].append(row)
    return found


def _became(row: FillRow, fills: Sequence[FillRow]) -> str:
    """Say what became of a cylinder after a fill: refilled and analysed, or brought back."""
    since = [one for one in fills if one.fill > row.fill]
    for one in since:
        if one.o2_ppm >= 0:
            at = f"on {_day(one)} (fill {one.fill})"
            return f"refilled since, analysed {one.o2_ppm / 1e4:.1f} % {at}"
    if since and _is_out(row):
        return f"brought back on {_day(since[0])} (fill {since[0].fill}, {since[0].state})"
    return ""


def _day(row: FillRow) -> str:
    return Moment(row.requested_us, row.offset_min).iso[:10]


def _is_out(row: FillRow) -> bool:
    """Tell whether a cylinder left the station; voiding its fill does not bring it back."""
    where = row.resumes_to if row.state == "voided" else row.state
    return where in ("collected", "imported", "elsewhere")


def _calls(lines: Iterable[RecallLine]) -> list[Call]:
    """Gather the lines by whom they concern, but for voided fills whose cylinder is here."""
    found: dict[str, Call] = {}
    for line in lines:
        if line.state == "voided" and not line.is_out:
            continue
        known = found.get(line.person)
        call = known or Call(line.person, line.customer, line.phone, (), ())
        cylinders = tuple(dict.fromkeys((*call.cylinders, line.cylinder)))
        found[line.person] = replace(call, cylinders=cylinders, fills=(*call.fills, line.fill))
    return list(found.values())


def line_text(line: RecallLine) -> str:
    """Return a fill of a recall in a line."""
    where = line.later or ("WITH THE CUSTOMER" if line.is_out else f"here, {line.state}")
    where += ", voided" if line.is_out and line.state == "voided" else ""
    return f"fill {line.fill}, {line.day}, {line.cylinder}: {line.how}; {where}"


def call_text(call: Call) -> str:
    """Return whom to call about what."""
    name = call.name or f"erased ({call.person}): nobody knows whom to call"
    phone = f", {call.phone}" if call.phone else ", no telephone number known" if call.name else ""
    return f"{name}{phone}: {', '.join(call.cylinders)}"
