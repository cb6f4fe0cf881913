"""What the certificate of an accepted fill states: the label's facts, and who signed.

It lists what stands, not what was tried: see `still_standing`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import AnalyserRow, AnalysisRow, ExceptionRow, FillRow
from blender.station.doubts import unrested
from blender.station.numbers import bar
from blender.station.papers import AMENDED, label_view
from blender.station.still_standing import (
    shown_exceptions,
    shown_readings,
    shown_signatures,
)
from blender.station.views import LabelView, Stamp
from blender.station.wording import gas_typed


@dataclass(frozen=True, slots=True)
class SignatureFacts:
    """One signature of staff: printed name, role, meaning, when, entry and key."""

    name: str
    role: str
    meaning: str
    at: Stamp
    seq: int
    key: str


@dataclass(frozen=True, slots=True)
class MeasuredFacts:
    """One standing analysis; `o2_points` is its expanded uncertainty, k = 2, where known."""

    party: str
    serial: str
    o2_percent: float
    o2_points: float | None
    he_percent: float | None
    analyser: str
    calibrated: Stamp | None
    by: str
    at: Stamp
    seq: int
    set_aside: bool = False


@dataclass(frozen=True, slots=True)
class CertificateView:
    """A certificate; `label` has everything that stands on the label too."""

    label: LabelView
    wanted: str
    wanted_bar: float
    method: str
    measured: tuple[MeasuredFacts, ...]
    signatures: tuple[SignatureFacts, ...]
    exceptions: tuple[str, ...]


def certificate_view(record: Record, number: int) -> CertificateView:
    """Return the certificate of an accepted fill.

    Raises
    ------
    InputError
        If there is no such fill.
    RefusedError
        If it was not accepted.
    """
    label = label_view(record, number)
    with record.read() as conn:
        fill = read.fill(conn, number)
        entries = read.entries_of_fill(conn, record.station, number)
        rows = read.analyses(conn, number)
        shown = shown_readings(entries, rows)
        rows = [row for row in rows if row.seq in shown]
        signed = shown_signatures(entries, shown, fill.accepted_seq)
        noted = read.exceptions(conn, number)
        noted = shown_exceptions(entries, noted, shown, fill.accepted_seq)
        return CertificateView(
            label=label,
            wanted=gas_typed(fill.want_typed),
            wanted_bar=bar(fill.want_mbar),
            method=fill.method,
            measured=tuple(_measured(conn, label, rows, _amended(entries))),
            signatures=tuple(_signed(signed)),
            exceptions=tuple(_unusual(conn, record.station, fill, noted, label.accepted_by)),
        )


def _amended(entries: Sequence[Entry]) -> set[int]:
    return {entry.seq for entry in entries if entry.kind == AMENDED}


def _unusual(
    conn: Connection, station: str, fill: FillRow, noted: Sequence[ExceptionRow], signer: str
) -> Iterator[str]:
    """Give what was out of the usual; who signed for whom with both names, while they are kept."""
    customer = read.person(conn, fill.customer)
    whose = (customer.name if customer else "") or "the customer"
    for row in noted:
        if row.kind == "representative" and row.seq == fill.accepted_seq:
            yield f"{row.kind}: signed for {whose} by {signer}"
        else:
            yield f"{row.kind}: {row.text}"
    if too_soon := unrested(conn, station, fill.fill):
        yield f"rest: {too_soon}"


def _measured(
    conn: Connection, label: LabelView, rows: Sequence[AnalysisRow], amended: set[int]
) -> Iterator[MeasuredFacts]:
    """Give the mix's analyses; the diver's name is the one the label has.

    Of an amended one it is known who amended it, not that they read it.
    """
    set_at = {row.name: row for row in read.analysers(conn, retired=True)}
    names = {row.person: row.name or row.person for row in read.people(conn)}
    for row in rows:
        is_diver = row.party == "customer"
        by = label.diver.by if is_diver else names.get(row.person, row.person)
        yield MeasuredFacts(
            party=row.party,
            serial=row.serial,
            o2_percent=row.o2_ppm / 1e4,
            o2_points=row.o2_u_ppm / 1e4 if row.o2_u_ppm > 0 else None,
            he_percent=None if row.he_ppm < 0 else row.he_ppm / 1e4,
            analyser=row.analyser,
            calibrated=_calibration(set_at.get(row.analyser), row),
            by=f"amended by {by}" if row.seq in amended else by,
            at=Stamp(row.at_us, row.offset_min),
            seq=row.seq,
            set_aside=not row.valid,
        )


def _calibration(analyser: AnalyserRow | None, row: AnalysisRow) -> Stamp | None:
    """Return when an analyser was last set, unless that was after this reading."""
    if analyser is None or not 0 < analyser.calibrated_us <= row.at_us:
        return None
    return Stamp(analyser.calibrated_us, row.offset_min)


def _signed(entries: Sequence[Entry]) -> Iterator[SignatureFacts]:
    for entry in entries:
        if entry.sig is not None:
            yield SignatureFacts(
                name=entry.sig["name"],
                role=entry.sig["role"],
                meaning=entry.sig["meaning"],
                at=Stamp.of(entry.at),
                seq=entry.seq,
                key=entry.sig["key"],
            )
