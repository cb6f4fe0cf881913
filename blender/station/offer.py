"""What a diver is shown before signing: what the label will state, with their own reading in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from sqlalchemy import Connection

from blender import analysis
from blender.decision import Reading, decide
from blender.errors import RefusedError
from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import AnalysisRow, CylinderRow, FillRow, PersonRow
from blender.rounding import deeper
from blender.station.analysing import Measured, measure, wanted_mix
from blender.station.doubts import gas_lost, unrested
from blender.station.numbers import bar, celsius, ppm
from blender.station.outdone import reading_of
from blender.station.posts import large, missing, post_facts
from blender.station.rules import Rules, in_force
from blender.station.sheets import leads_imperial
from blender.station.stated import Basis, basis, depths, signed_basis
from blender.station.views import PostFacts
from blender.station.wording import gas_typed
from blender.units import STANDARD_AMBIENT_PA

_SIGNED = ("accepted", "collected")


@dataclass(frozen=True, slots=True)
class Offer:
    """One cylinder as it is offered; depths unrounded, percentages as analysed."""

    fill: int
    state: str
    serial: str
    posts: int
    person: str
    customer: str
    wanted: str
    want_bar: float
    has_helium: bool
    o2_percent: float
    he_percent: float | None
    analyser: str
    own_o2_percent: float | None
    own_he_percent: float | None
    accepted_by: str
    pressure_bar: float
    temperature_c: float
    agreed_ppo2_bar: float
    mod_agreed_m: float
    mod_agreed_ft: float
    high_ppo2_bar: float
    mod_high_m: float
    mod_high_ft: float
    floor_m: float
    floor_ft: float
    imperial: bool
    posts_read: tuple[PostFacts, ...] = ()
    posts_left: tuple[str, ...] = ()
    unrested: str = ""
    lost: str = ""
    differs: str = ""

    @property
    def hypoxic(self) -> bool:
        """Whether it must not be breathed at the surface."""
        return deeper(self.floor_m) > 0


def offer(
    record: Record,
    number: int,
    rules: Rules | None = None,
    reading: str = "",
    helium: str | None = None,
) -> Offer:
    """Return what the label of an analysed fill will state.

    Parameters
    ----------
    record : Record
        The open record.
    number : int
        The fill.
    rules : Rules or None
        The station's; None for those in force.
    reading, helium : str
        What the diver read [%]; without it, what the readings so far allow.

    Raises
    ------
    InputError
        If there is no such fill, or a reading cannot be read.
    RefusedError
        If it was not analysed.
    """
    own = None
    if reading:
        own = measure(reading, helium, analysis.unstated_calibration(), STANDARD_AMBIENT_PA)
    with record.read() as conn:
        basics = _basics(conn, record.station, number, rules)
    _check_offered(basics.fill, basics.standing)
    return _offered(basics, own)


@dataclass(frozen=True, slots=True)
class _Basics:
    """What the record has of a fill that is offered."""

    fill: FillRow
    cylinder: CylinderRow
    customer: PersonRow | None
    standing: Sequence[AnalysisRow]
    limits: Rules
    signed: Entry | None
    unrested: str
    lost: str
    in_imperial: bool

    @property
    def is_signed(self) -> bool:
        return self.fill.state in _SIGNED

    def rests_on(self, own: Measured | None) -> Basis:
        """What the label's depths rest on: what was signed for, else every reading there is."""
        if self.signed and self.is_signed:
            return signed_basis(self.signed.data["label"], self.standing)
        typed = [ppm(own.o2)] if own else []
        return basis([*typed, *(row.o2_ppm for row in self.standing)], self.limits)


def _basics(conn: Connection, station: str, number: int, rules: Rules | None) -> _Basics:
    fill = read.fill(conn, number)
    return _Basics(
        fill,
        read.cylinder(conn, fill.serial),
        read.person(conn, fill.customer),
        read.analyses(conn, number, valid_only=True),
        rules or in_force(conn),
        read.entry(conn, station, fill.accepted_seq),
        unrested(conn, station, number),
        gas_lost(conn, fill),
        leads_imperial(conn, fill),
    )


def _check_offered(fill: FillRow, standing: Sequence[AnalysisRow]) -> None:
    """Refuse a fill the station did not analyse, or whose analysis rejects it."""
    if fill.state == "analysed" and fill.decision == "reject":
        text = f"fill {fill.fill}: its analysis rejects it; nobody signs for it. Analyse it again,"
        raise RefusedError(f"{text} or put it right at the Panel", code="analysis")
    if all(row.party != "staff" for row in standing):
        raise RefusedError(f"fill {fill.fill} is {fill.state}: it was not analysed yet")


def _offered(basics: _Basics, own: Measured | None) -> Offer:
    fill, standing = basics.fill, basics.standing
    is_open = fill.state == "analysed"
    own_o2, own_he = _own(own, standing if basics.is_signed else ())
    last = large(fill.serial, standing)
    return Offer(
        fill=fill.fill,
        state=fill.state,
        serial=fill.serial,
        posts=basics.cylinder.posts,
        person=fill.customer,
        customer=(basics.customer.name or "") if basics.customer else "",
        wanted=f"{gas_typed(fill.want_typed)} to {bar(fill.want_mbar):.0f} bar",
        want_bar=bar(fill.want_mbar),
        has_helium=fill.has_helium,
        o2_percent=last.o2_ppm / 1e4,
        he_percent=None if last.he_ppm < 0 else last.he_ppm / 1e4,
        analyser=last.analyser,
        own_o2_percent=own_o2,
        own_he_percent=own_he,
        accepted_by=(fill.accepted_name or "") if basics.is_signed else "",
        pressure_bar=bar(fill.gauge_mbar),
        temperature_c=celsius(fill.temp_mk),
        **asdict(depths(basics.rests_on(own))),
        imperial=basics.in_imperial,
        posts_read=post_facts(fill.serial, standing),
        posts_left=missing(fill.serial, standing) if is_open else (),
        unrested=basics.unrested,
        lost=basics.lost,
        differs=_differs(fill, own, standing) if is_open else "",
    )


def _differs(fill: FillRow, own: Measured | None, standing: Sequence[AnalysisRow]) -> str:
    """Return both readings where the diver's does not agree with the station's; else empty."""
    if own is None:
        return ""
    theirs = Reading(own.o2, own.he)
    station = [reading_of(row) for row in standing]
    if decide([*station, theirs], wanted_mix(fill)).decision != "recheck":
        return ""
    return f"the station read {_words(station[-1])}, you read {_words(theirs)}"


def _words(one: Reading) -> str:
    helium = "" if one.he is None else f" and {one.he * 100:.1f} % helium"
    return f"{one.o2 * 100:.1f} % oxygen{helium}"


def _own(own: Measured | None, signed: Sequence[AnalysisRow]) -> tuple[float | None, float | None]:
    """Return the diver's reading [%]: the one just typed, else the one signed with."""
    if own is not None:
        return own.o2 * 100.0, None if own.he is None else own.he * 100.0
    theirs = [row for row in signed if row.party != "staff"]
    if not theirs:
        return None, None
    last = theirs[-1]
    return last.o2_ppm / 1e4, None if last.he_ppm < 0 else last.he_ppm / 1e4
