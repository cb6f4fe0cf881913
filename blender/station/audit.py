"""What an inspector is handed: a span of days gone through for all that is out of the usual.

Nothing is judged here that was not judged when it was entered; what is counted is read from the
record as it stands, and the charts and the gas balance are worked out anew.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Any

from sqlalchemy import ColumnElement, Connection

from blender.record import read, search, shop
from blender.record.journal import Record
from blender.record.models import ExceptionRow, FillRow, ReadingRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.record.unit import last_entry
from blender.record.verify import Report
from blender.station import drift_words, drifting, duties, staff
from blender.station.accounts import gas_let_in
from blender.station.days import days_of
from blender.station.gas_balance import Balance, balances
from blender.station.marks import is_mark
from blender.station.printing import PRINTED
from blender.station.states import do_not_breathe
from blender.station.views import Proof, Stamp

OVERRIDES = ("allowed", "manager-allowed", "released", "rule-changed", "qualified")
UNDONE = ("amended", "amended-beyond-limits", "voided", "reading-corrected",
          "analysis-corrected", "residual-corrected")  # fmt: skip
ACCESS = ("locked-out", "secret-reset", "clock", "restored", "moved", "site-refused",
          "site-restored")  # fmt: skip
SIGNED = ("accepted", "collected", "elsewhere")  # the last at another station
_PERSON = re.compile(r"P-[0-9A-F]{6,}")
_CHARTED = 120  # of each cause's last fills of the span: as many as can be told apart


@dataclass(frozen=True, slots=True)
class Noted:
    """Something out of the usual; `fill` is 0 where it is of no fill.

    `known` is the entry it stands in, from whose figures its text was made.
    """

    at: Stamp
    fill: int
    kind: str
    text: str
    by: str
    seq: int
    known: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Alarm:
    """What an alarm says and what it rests on; `biases_bar` are its figures of gauges."""

    text: str
    evidence: str
    biases_bar: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class AuditView:
    """Everything the report of an audit states.

    `noted` are all exceptions of the span by what they are: overrides, undone figures, access to
    the record, and the rest.  `unsigned` are fills whose gas nobody has signed for.  `due` is
    what fell due by `due_on`, the last day or today.  `imperial`: whether it is told in psi.
    """

    station_name: str
    first_day: str
    last_day: str
    fills: int
    by_state: tuple[tuple[str, int], ...]
    let_in_mol: tuple[float, float, float]
    noted: dict[str, tuple[Noted, ...]]
    unsigned: tuple[str, ...]
    copies: int
    due_on: str
    due: tuple[str, ...]
    accounts: tuple[str, ...]
    alarms: tuple[Alarm, ...]
    corrections: tuple[dict[str, Any], ...]
    charts: tuple[dict[str, Any], ...]
    balances: tuple[Balance, ...]
    verified: Report
    printed_at: Stamp
    proof: Proof
    imperial: bool = False
    key: str = ""
    root: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return it JSON-ready."""
        return {
            "first_day": self.first_day,
            "last_day": self.last_day,
            "fills": self.fills,
            "by_state": dict(self.by_state),
            "noted": {
                group: [
                    {"fill": one.fill or None, "kind": one.kind, "text": one.text, "by": one.by,
                     "seq": one.seq}
                    for one in found
                ]
                for group, found in self.noted.items()
            },
            "unsigned": list(self.unsigned),
            "reprints": self.copies,
            "due_on": self.due_on,
            "due": list(self.due),
            "alarms": [one.text for one in self.alarms],
            "balances": [one.as_dict() for one in self.balances],
            "verified": {"ok": self.verified.ok, "entries": self.verified.entries},
            "anchor": self.proof.anchor,
            "root": self.root or None,
        }  # fmt: skip


def audit(
    record: Record, first_day: str, last_day: str, now: Moment, verified: Report
) -> AuditView:
    """Return a span of days gone through, both days included.

    Parameters
    ----------
    record : Record
        The open record.
    first_day, last_day : str
        The days, as ``2026-11-25``.
    now : Moment
        When.
    verified : Report
        What verifying the whole record said just now.

    Raises
    ------
    InputError
        If a day cannot be read, or the last is before the first.
    """
    span = days_of(first_day, last_day, now)
    first, last, since, until = span.first, span.last, span.since_us, span.until_us
    drift = drifting.of_span(record, since, until, _CHARTED)
    due_at = Moment(min(now.us, until - 1), now.offset_min)
    accounts = tuple(_accounts(staff.standing(record, now)))
    with record.read() as conn:
        fills = read.fills(conn, since, until)
        head, station = last_entry(conn, record.station), read.station(conn)
        assert head is not None
        return AuditView(
            station_name=station.name if station else "",
            first_day=first,
            last_day=last,
            fills=len(fills),
            by_state=tuple(sorted(Counter(row.state for row in fills).items())),
            let_in_mol=_let_in(conn, fills),
            noted=_noted(conn, record.station, since, until, now.offset_min),
            unsigned=tuple(_unsigned(fills)),
            copies=_copies(conn, record.station, since, until),
            due_on=due_at.iso[:10],
            due=tuple(_due(record, due_at)),
            accounts=accounts,
            alarms=tuple(_alarms(drift["alarms"])),
            corrections=tuple(drift["corrections"]),
            charts=tuple(drift["charts"]),
            balances=tuple(balances(conn, record.station, since, until)),
            verified=verified,
            printed_at=Stamp.of(now),
            proof=Proof.of(head),
            key=station.key if station else "",
            root=shop.root_text(conn, head.seq),
        )  # fmt: skip


def _let_in(conn: Connection, fills: Sequence[FillRow]) -> tuple[float, float, float]:
    filled = [row.fill for row in fills if row.state != "voided"]
    rows = read.of_fills(conn, ReadingRow, filled)
    return gas_let_in(one for found in rows.values() for one in found if not one.corrected_by)


def _noted(
    conn: Connection, station: str, since: int, until: int, offset_min: int
) -> dict[str, tuple[Noted, ...]]:
    """Return the exceptions of a span in four groups, each in the order of the record."""
    columns = table(ExceptionRow).c
    within = (columns.at_us >= since) & (columns.at_us < until)
    rows = read.rows(conn, ExceptionRow, within, [columns.seq])
    names = search.names(conn, {row.person for row in rows} - {""})
    groups: dict[str, list[Noted]] = {"overrides": [], "undone": [], "access": [], "exceptions": []}
    named = {row.person: read.called(row) for row in read.people(conn)}
    zones = {row.fill: row.offset_min for row in read.rows(conn, FillRow, _of(rows))}
    for row in _each_once(rows):
        by = names.get(row.person, row.person)
        entry = read.entry(conn, station, row.seq)
        own = offset_min if entry is None else entry.at.offset_min
        stamp = Stamp(row.at_us, zones.get(row.fill, own))
        facts = entry.data if entry is not None else {}
        groups[_group(row)].append(
            Noted(stamp, row.fill, row.kind, _named(row.text, named), by, row.seq, facts)
        )
    return {name: tuple(found) for name, found in groups.items()}


def _of(rows: Sequence[ExceptionRow]) -> ColumnElement[bool]:
    """Return the condition for the fills that exceptions are of."""
    return table(FillRow).c.fill.in_({row.fill for row in rows if row.fill})


def _each_once(rows: Sequence[ExceptionRow]) -> Iterator[ExceptionRow]:
    """Give each exception of a fill once.

    A manager's leave is one of its own; that the plan, the start and the handover went by it is
    no other.
    """
    given = {row.fill for row in rows if row.kind == "manager-allowed"}
    seen = set()
    for row in rows:
        key = (row.fill, row.kind, row.text)
        if row.fill and (key in seen or (row.kind == "allowed" and row.fill in given)):
            continue
        seen.add(key)
        yield row


def _named(text: str, names: dict[str, str]) -> str:
    """Return a text with the ids of people in it as names."""
    return _PERSON.sub(lambda found: names.get(found[0], found[0]), text)


def _group(row: ExceptionRow) -> str:
    for name, kinds in (("overrides", OVERRIDES), ("undone", UNDONE), ("access", ACCESS)):
        if row.kind in kinds:
            return name
    return "undone" if is_mark(row) else "exceptions"


def _unsigned(fills: Sequence[FillRow]) -> Iterator[str]:
    """Give the fills whose gas nobody signed for, and why that is so."""
    for row in fills:
        if row.state == "imported":
            yield f"fill {row.fill}, {row.serial}: from an earlier book, not signed"
        elif row.has_gas and row.state not in (*SIGNED, "voided"):
            danger = do_not_breathe(row.state, has_gas=row.has_gas)
            said = " - DO NOT BREATHE" if danger else ""
            yield f"fill {row.fill}, {row.serial}: {row.state}{said}"


def _accounts(known: dict[str, Any]) -> Iterator[str]:
    """Give what is to be said of the accounts."""
    if known["reviewed_at"]:
        yield f"gone through last on {known['reviewed_at'][:10]}"
    else:
        yield "never gone through (`person review`)"
    if known["review_due"]:
        yield "a review is due by the rules of the station"
    if known["not_undertaken"]:
        yield f"has not signed what signing means: {', '.join(known['not_undertaken'])}"


def _due(record: Record, at: Moment) -> Iterator[str]:
    """Give what fell due by a moment, as far as nobody has seen to it since."""
    with record.read() as conn:
        set_since = {row.name for row in read.analysers(conn) if row.calibrated_us > at.us}
    for one in duties.due(record, at)["due"]:
        if one["kind"] == "analyser" and one["what"] == "calibration" and one["name"] in set_since:
            continue
        yield duties.named(one)


def _alarms(found: Sequence[dict[str, Any]]) -> Iterator[Alarm]:
    """Give what the alarms of a span say, and what each rests on."""
    for one, raised in drift_words.in_a_row(found):
        gauges = [each for each in one["suspects"] if each["unit"] == "bar"]
        figures = [(each["bias"], abs(each["bias"]), each["half_width"]) for each in gauges]
        yield Alarm(one["text"], f"{raised}; {one['evidence']}", tuple(chain(*figures)))


def _copies(conn: Connection, station: str, since: int, until: int) -> int:
    """Return how many labels, certificates and receipts were printed again."""
    printed = read.entries_of_kind(conn, station, *PRINTED)
    return sum(one.data["copy"] > 1 for one in printed if since <= one.at.us < until)
