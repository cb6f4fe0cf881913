"""What the record holds on one person: for them, when they ask; and what is left once erased."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from blender.errors import InputError
from blender.gas import mix, name_of
from blender.record import forgetting, private, read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import FillRow, PersonRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.record.unit import last_entry
from blender.station.copies_left import CopiesLeft, copies_of
from blender.station.numbers import fraction
from blender.station.privacy import ERASED
from blender.station.views import Proof, Stamp

RETENTION_YEARS = 10
KEPT = (
    f"The fills stay, under a random number, for at least {RETENTION_YEARS} years: they show what "
    "was in which cylinder, who made and who analysed it, should anybody come to harm or make a "
    "claim. Every entry is chained to the one before it, so none can be taken out unseen. Local "
    "law may ask for other times; ask the shop."
)
COPIES = (
    "Papers already printed and tables already taken away may still hold the name until they are "
    "destroyed"
)


@dataclass(frozen=True, slots=True)
class PersonFill:
    """One fill of a person; `signed` says how, and what is left of it."""

    fill: int
    day: str
    cylinder: str
    gas: str
    state: str
    signed: str


@dataclass(frozen=True, slots=True)
class PersonView:
    """Everything held on a person; `name` is None once they were erased.

    `named_in` are entries in which somebody typed their name; `signs` counts what they signed
    as staff.
    """

    station_name: str
    person: str
    name: str | None
    role: str
    certified: str
    phones: tuple[str, ...]
    added_at: Stamp | None
    fills: tuple[PersonFill, ...]
    named_in: tuple[int, ...]
    signs: int
    erased_at: Stamp | None
    erased_by: str
    erased_rows: int
    erased_why: str
    copies_until: str
    copies: CopiesLeft | None  # None while they are not erased
    printed_at: Stamp
    proof: Proof
    agreed: tuple[Stamp, ...] = ()  # when they signed the undertaking at the tablet


def person_view(record: Record, who: str, now: Moment) -> PersonView:
    """Return what the record holds on a person.

    Raises
    ------
    InputError
        If nobody, or more than one person, answers to the name or id.
    """
    with record.read() as conn:
        person = _one(conn, who)
        station, last = read.station(conn), last_entry(conn, record.station)
        assert station is not None
        assert last is not None
        kept = private.rows_of(conn, person.person)
        words = [str(c[n]) for *_, c in kept for n in ("name", "phone") if n in c]
        about = list(_about(conn, record.station, person.person))
        added = next((e for e in about if e.kind == "person.added"), None)
        erased = next((e for e in reversed(about) if e.kind == ERASED), None)
        data = erased.data if erased else {}
        return PersonView(
            station_name=station.name,
            person=person.person,
            name=person.name,
            role=person.role,
            certified=person.certified,
            phones=tuple(str(content["phone"]) for _, what, content in kept if what == "contact"),
            added_at=_stamp(added),
            fills=tuple(_fills(conn, record.station, person.person)),
            named_in=tuple(
                data["named_in"] if erased else forgetting.mentions(conn, record.station, words)
            ),
            signs=sum(e.person == person.person for e in read.entries(conn, record.station))
            if person.role != "customer"
            else 0,
            erased_at=_stamp(erased),
            erased_by=str((erased.sig or {}).get("name", "")) if erased else "",
            erased_rows=int(data.get("rows", 0)),
            erased_why=str(data.get("reason", "")),
            copies_until=str(data.get("copies_until", "")),
            copies=copies_of(conn, record.station, person.person, erased.seq) if erased else None,
            printed_at=Stamp.of(now),
            proof=Proof.of(last),
            agreed=tuple(Stamp.of(entry.at) for entry in about if entry.kind == "person.agreed"),
        )


def _one(conn: Connection, who: str) -> PersonRow:
    columns = table(PersonRow).c
    found = read.rows(conn, PersonRow, columns.person == who)
    found = found or read.rows(conn, PersonRow, columns.name == who)
    if len(found) == 1:
        return found[0]
    if found:
        ids = ", ".join(row.person for row in found)
        raise InputError("name", repr(who[:80]), f"several have that name; use an id: {ids}")
    raise InputError("name", repr(who[:80]), "nobody of that name or id; an erased one has an id")


def _about(conn: Connection, station: str, person: str) -> Sequence[Entry]:
    kinds = read.entries_of_kind(conn, station, "person.added", "person.contact",
                                 "person.agreed", ERASED)  # fmt: skip
    return [entry for entry in kinds if entry.data.get("person") == person]


def _stamp(entry: Entry | None) -> Stamp | None:
    return Stamp.of(entry.at) if entry else None


def _fills(conn: Connection, station: str, person: str) -> Sequence[PersonFill]:
    rows = read.rows(conn, FillRow, table(FillRow).c.customer == person)
    return [
        PersonFill(
            fill=row.fill,
            day=Moment(row.requested_us, row.offset_min).iso[:10],
            cylinder=row.serial,
            gas=_gas(row),
            state=row.state,
            signed=_signed(conn, station, row),
        )
        for row in rows
    ]


def _gas(row: FillRow) -> str:
    if row.o2_ppm < 0:
        wanted = mix(fraction(row.want_o2_ppm), fraction(row.want_he_ppm))
        return f"{name_of(wanted)} (wanted)"
    helium = f" He {row.he_ppm / 1e4:.1f} %" if row.he_ppm > 0 else ""
    return f"O2 {row.o2_ppm / 1e4:.1f} %{helium}"


def _signed(conn: Connection, station: str, row: FillRow) -> str:
    """Return how they signed for it, if they did."""
    entry = read.entry(conn, station, row.accepted_seq) if row.accepted_seq else None
    if entry is None:
        return "not signed"
    content = private.get(conn, entry.data["private"])
    if content is None:
        return "signature erased"
    if entry.data.get("person", row.customer) != row.customer:
        return "signed for by another, before the customer was amended"
    return "signed by hand" if content.get("strokes") else "signed by typing"
