"""What the certificate of an accepted fill states: the label's facts, and who signed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import AnalyserRow, AnalysisRow, FillRow
from blender.station.numbers import bar
from blender.station.papers import label_view
from blender.station.resting import MINUTE_US, gas_stopped_us
from blender.station.rules import in_force
from blender.station.views import LabelView, Stamp
from blender.station.wording import gas_typed

# Whose signatures a certificate carries; those of the steps between are in the record.
_KINDS = (
    "fill.requested",
    "fill.brought",
    "fill.planned",
    "fill.started",
    "fill.analysed",
    "fill.analysis-corrected",
    "fill.accepted",
    "fill.handed",
)


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
        return CertificateView(
            label=label,
            wanted=gas_typed(fill.want_typed),
            wanted_bar=bar(fill.want_mbar),
            method=fill.method,
            measured=tuple(_measured(conn, label)),
            signatures=tuple(_signed(entries)),
            exceptions=(
                *(f"{row.kind}: {row.text}" for row in read.exceptions(conn, number)),
                *_unrested(conn, fill),
            ),
        )


def _measured(conn: Connection, label: LabelView) -> Iterator[MeasuredFacts]:
    """Give the mix's analyses, those set aside too; the diver's name is the one the label has."""
    set_at = {row.name: row for row in read.analysers(conn, retired=True)}
    names = {row.person: row.name or row.person for row in read.people(conn)}
    mixed = [row for row in read.analyses(conn, label.fill) if row.party != "residual"]
    for row in mixed:
        is_diver = row.party == "customer"
        yield MeasuredFacts(
            party=row.party,
            serial=row.serial,
            o2_percent=row.o2_ppm / 1e4,
            o2_points=row.o2_u_ppm / 1e4 if row.o2_u_ppm > 0 else None,
            he_percent=None if row.he_ppm < 0 else row.he_ppm / 1e4,
            analyser=row.analyser,
            calibrated=_calibration(set_at.get(row.analyser), row),
            by=label.diver.by if is_diver else names.get(row.person, row.person),
            at=Stamp(row.at_us, row.offset_min),
            seq=row.seq,
            set_aside=not row.valid,
        )


def _unrested(conn: Connection, fill: FillRow) -> Iterator[str]:
    """Give the station's analyses that were made sooner after filling than is advised."""
    advised = in_force(conn).advised_rest_minutes
    readings = read.readings(conn, fill.fill)
    if not readings:
        return
    stopped_us = gas_stopped_us(fill, readings)
    for row in read.analyses(conn, fill.fill, valid_only=True):
        minutes = (row.at_us - stopped_us) / MINUTE_US
        if row.party == "staff" and 0.0 <= minutes < advised:
            told = f"analysed {int(minutes)} min after gas went in, {advised} min are advised"
            yield f"rest: {told} (entry {row.seq})"


def _calibration(analyser: AnalyserRow | None, row: AnalysisRow) -> Stamp | None:
    """Return when an analyser was last set, unless that was after this reading."""
    if analyser is None or not 0 < analyser.calibrated_us <= row.at_us:
        return None
    return Stamp(analyser.calibrated_us, row.offset_min)


def _signed(entries: Sequence[Entry]) -> Iterator[SignatureFacts]:
    for entry in entries:
        if entry.sig is not None and entry.kind in _KINDS:
            yield SignatureFacts(
                name=entry.sig["name"],
                role=entry.sig["role"],
                meaning=entry.sig["meaning"],
                at=Stamp.of(entry.at),
                seq=entry.seq,
                key=entry.sig["key"],
            )
