"""The start of a fill: what the customer brings, and what they want."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.planning.request import GasAt, parse_gas_at, parse_want
from blender.record import read, search
from blender.record.models import CylinderRow, PersonRow
from blender.record.moment import Moment
from blender.station import gates
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.asking import end_oxygen_service
from blender.station.contents import as_umol
from blender.station.desk import Act, Station
from blender.station.equipment import serial_of, yes_no
from blender.station.numbers import bar, fraction, mbar, millikelvin, ppm
from blender.station.set_apart import open_fills_of, quarantine_gate
from blender.station.unlike import WentOut, unlike
from blender.units import parse_ambient
from blender.vessel import STANDARD_AMBIENT_BAR, contents_at

RESIDUAL_SOURCES = ("analysed", "label", "stated", "unknown")
DEFAULT_RESIDUAL_C = 20.0


def request(
    station: Station,
    actor: Actor,
    *,
    cylinder: str,
    customer: str,
    have: str,
    residual: str,
    want: str,
    ambient: str | None = None,
    filled_elsewhere: str = "",
) -> Answer:
    """Take in a cylinder: whose it is, what is left in it, and what is wanted.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who takes it in.
    cylinder : str
        Serial, or both serials of a set joined by ``+``.
    customer : str
        Name or id.
    have : str
        What is left, as typed: ``60bar@20C:EAN28``.
    residual : str
        How that is known: ``analysed``, ``label``, ``stated`` or ``unknown``.
    want : str
        As typed: ``230bar:EAN32``.
    ambient : str or None
        Ambient pressure gauges count from here; None for the standard one.
    filled_elsewhere : str
        ``yes`` if it was filled anywhere else since it was here: that ends oxygen service,
        for nobody knows which air went in; empty if nobody said.

    Raises
    ------
    InputError
        If something cannot be read or is not in the record.
    """
    taken = TakenIn.typed(cylinder, customer, have, residual, want, ambient)
    elsewhere = yes_no(filled_elsewhere, "--filled-elsewhere") if filled_elsewhere else False
    with station.act(actor, "request") as act:
        answer = taken.enter(act)
        vessel = read.cylinder(act.conn, taken.cylinder.strip())
        if elsewhere and vessel.clean:
            why = "it was filled elsewhere, with air nobody here knows"
            end_oxygen_service(act, vessel, why)
            answer = replace(answer, text=f"{answer.text} Oxygen service has ended: {why}.")
    return answer


_NOTHING_DONE = ("voided", "requested", "planned")


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A cylinder as taken in: what was typed, and what is left and wanted as understood."""

    cylinder: str
    customer: str
    have: str
    residual: str
    want: str
    ambient: str
    left: GasAt
    wanted: GasAt

    @classmethod
    def typed(
        cls, cylinder: str, customer: str, have: str, residual: str, want: str, ambient: str | None
    ) -> TakenIn:
        """Understand what was typed.

        Raises
        ------
        InputError
            If something cannot be read.
        """
        left, wanted = parse_gas_at(have, "--have"), parse_want(want, "--want")
        if residual not in RESIDUAL_SOURCES:
            allowed = ", ".join(RESIDUAL_SOURCES)
            raise InputError("--residual", repr(residual), f"how is it known: {allowed}")
        around = (ambient or "").strip()
        if ambient:
            parse_ambient(ambient, "--ambient")
        return cls(cylinder, customer, have.strip(), residual, want.strip(), around, left, wanted)

    def enter(self, act: Act, **more: Any) -> Answer:
        """Enter it as a new fill; `more` goes with it.

        Raises
        ------
        InputError
            If cylinder or customer is not in the record.
        """
        vessel = read.cylinder(act.conn, serial_of(self.cylinder))
        person = read.customer(act.conn, self.customer)
        number = read.next_fill_number(act.conn)
        around = parse_ambient(self.ambient) if self.ambient else STANDARD_AMBIENT_BAR
        known = known_by(act, vessel.serial, self.residual)
        data = {
            "fill": number,
            "serial": vessel.serial,
            "customer": person.person,
            "have_typed": self.have,
            "residual": known,
            "want_typed": self.want,
            "ambient_typed": self.ambient,
            **understood(self.left, self.wanted, vessel.size_ml / 1e6, around),
            **more,
        }
        others = read.open_fills(act.conn, vessel.serial)
        act.enter("fill.requested", data, "requested")
        left = f"{self.have} left ({known})"
        text = f"Fill {number}: {vessel.serial}, {self.want} wanted, {left}."
        if known != self.residual:
            text += " Its last fill is from an earlier book, unsigned: its label counts as stated."
        if shared := _of_a_shared_cylinder(act.conn, vessel.serial):
            text += f" Mind: it shares a cylinder with {shared}, still open."
        if others:
            listed = ", ".join(str(other) for other in others)
            text += f" Mind: this cylinder has other fills open: {listed}."
        if (apart := quarantine_gate(act.conn, vessel.serial)).answer != gates.PASS:
            text += f" Mind: {apart.reason}; until then no gas goes in."
        minds = _minds(act, vessel, person, self, around, number)
        text += "".join(f" Mind: {mind}." for mind in minds)
        facts = {
            "minds": minds,
            "cylinder": vessel.serial,
            "customer": person.person,
            "open_fills": others,
        }
        return Answer(number, "requested", text=text, facts=facts)


def _of_a_shared_cylinder(conn: Connection, serial: str) -> str:
    """Name the open fills of other serials that mean the same cylinder; not those set apart."""
    found = [one for one in open_fills_of(conn, serial) if one.serial != serial]
    return ", ".join(
        f"fill {one.fill} of {one.serial}" for one in found if one.state != "quarantined"
    )


def _minds(
    act: Act, vessel: CylinderRow, person: PersonRow, taken: TakenIn, around: float, number: int
) -> list[str]:
    """Say what the plan's gates will ask or stop, and what contradicts the record."""
    rules, wanted = act.rules, taken.wanted
    end = contents_at(
        wanted.mix, wanted.gauge_bar, DEFAULT_RESIDUAL_C, vessel.size_ml / 1e6, around
    )
    asked = [
        gates.working_pressure(
            end.gauge_bar(rules.reference_c, around), bar(vessel.wp_mbar), rules
        ),
        gates.certification(person.certified, wanted.mix),
    ]
    told = [
        f"{gate.gate}: {gate.reason}" for gate in asked if gate.answer != gates.PASS or gate.caution
    ]
    o2 = None if taken.residual == "unknown" else taken.left.mix.o2
    out = _went_out(act, vessel.serial, number)
    return [*told, *filter(None, [unlike(out, taken.left.gauge_bar, o2).rstrip("?")])]


def _went_out(act: Act, serial: str, number: int) -> WentOut | None:
    """Return how a cylinder last left, if that was the last thing done with it here."""
    past = search.last_fills(act.conn, 10, serial=serial)
    rows = [row for row in past if row.state not in _NOTHING_DONE]
    last = next((row for row in rows if row.fill != number), None)
    if last is None or last.state not in ("collected", "accepted") or last.o2_ppm < 0:
        return None
    day = Moment(last.requested_us, last.offset_min).iso[:10]
    is_collected = last.state == "collected"
    return WentOut(last.fill, day, fraction(last.o2_ppm), bar(last.gauge_mbar), is_collected)


def known_by(act: Act, serial: str, residual: str) -> str:
    """Return how far a residual is to be believed: no label stands behind an imported fill."""
    last = search.last_fills(act.conn, 1, serial=serial)
    is_imported = bool(last) and last[0].state == "imported"
    return "stated" if is_imported and residual == "label" else residual


def understood(left: GasAt, wanted: GasAt, volume_m3: float, around: float) -> dict[str, Any]:
    """Return what is left and wanted in the journal's whole numbers."""
    at_c = DEFAULT_RESIDUAL_C if left.temperature_c is None else left.temperature_c
    inside = contents_at(left.mix, left.gauge_bar, at_c, volume_m3, around)
    return {
        "gauge_mbar": mbar(left.gauge_bar),
        "temp_mk": millikelvin(at_c),
        "have_o2_ppm": ppm(left.mix.o2),
        "have_he_ppm": ppm(left.mix.he),
        "contents_umol": as_umol(inside),
        "want_mbar": mbar(wanted.gauge_bar),
        "want_o2_ppm": ppm(wanted.mix.o2),
        "want_he_ppm": ppm(wanted.mix.he),
        "has_helium": left.mix.he > 0.0 or wanted.mix.he > 0.0,
    }
