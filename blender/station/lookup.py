"""At the counter: who and what is this?  Found by a part of a name, a serial, or a scan."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.gas import Mix, mix, name_of
from blender.planning.request import parse_gas_at
from blender.record import read, search, shop
from blender.record.anchor import WORD, parse_anchor
from blender.record.journal import Record
from blender.record.models import CylinderRow, FillRow, PersonRow
from blender.record.models_of_shop import SiteCylinderRow
from blender.record.moment import Moment
from blender.station.doubts import gas_lost
from blender.station.gates import PASS, Gate
from blender.station.handing import AGREED
from blender.station.numbers import bar, celsius, fraction
from blender.station.other_site import elsewhere
from blender.station.planning import analysed_mix
from blender.station.rules import Rules, in_force
from blender.station.set_apart import quarantine_gate
from blender.station.stamps import stamps_due
from blender.station.wording import gas_typed

_HANDED_OUT = ("accepted", "collected")
_ANCHOR_WORDS, _HEAD_LENGTH = 5, 52
_LAST = 50  # fills looked through for the last that was handed out


def find(record: Record, text: str, limit: int = 30) -> list[dict[str, Any]]:
    """Return cylinders and customers that a fragment means, the likeliest first.

    Parameters
    ----------
    record : Record
        The open record.
    text : str
        Any part of a serial, name or id; or the whole text of a label's or tag's QR code,
        which finds its fill and cylinder.  While such a text is still incomplete, nothing.
    limit : int
        How many at most.

    Returns
    -------
    list of dict
        Each with ``kind`` (``cylinder``, ``customer`` or ``fill``), ``key`` (serial, person's
        id or fill's number) and ``text`` for people.

    Raises
    ------
    InputError
        If a whole QR text is damaged, of another station, or of an entry this record has not.
    """
    wanted = text.strip()
    if not wanted or not wanted.isprintable() or limit < 1:
        return []
    with record.read() as conn:
        if wanted.startswith(WORD):
            return _scanned(conn, record.station, wanted)[:limit]
        return _mixed(
            [
                *[_cylinder_line(row) for row in search.cylinders_like(conn, wanted, limit)],
                *[_elsewhere_line(row) for row in shop.known_like(conn, wanted, limit)],
            ][:limit],
            [_customer_line(row) for row in search.customers_like(conn, wanted, limit)],
            limit,
        )


def _mixed(
    cylinders: list[dict[str, Any]], customers: list[dict[str, Any]], limit: int
) -> list[dict[str, Any]]:
    """Put both lists together so that neither crowds out the other."""
    half = limit // 2
    of_cylinders = max(limit - len(customers), limit - half)
    kept = cylinders[:of_cylinders]
    return kept + customers[: limit - len(kept)]


def _cylinder_line(row: CylinderRow) -> dict[str, Any]:
    service = "oxygen service" if row.clean else "NOT clean for oxygen"
    said = f"{row.serial}  {row.size_typed}, WP {bar(row.wp_mbar):.0f} bar, {service}"
    return {"kind": "cylinder", "key": row.serial, "text": said, "wp_bar": bar(row.wp_mbar)}


def _elsewhere_line(row: SiteCylinderRow) -> dict[str, Any]:
    """Return a cylinder this record has not, and another station of the shop has."""
    held = f", HELD: {row.hold}" if row.hold else ""
    said = f"{row.serial}  {row.size_typed}, WP {bar(row.wp_mbar):.0f} bar"
    return {
        "kind": "elsewhere",
        "key": row.serial,
        "text": f"{said}, not here yet: known at {row.site}{held}",
        "site": row.site,
        "wp_bar": bar(row.wp_mbar),
    }


def _customer_line(row: PersonRow) -> dict[str, Any]:
    certified = f"certified for {row.certified}" if row.certified else "no certification on record"
    said = f"{read.called(row)}  {certified}"
    return {"kind": "customer", "key": row.person, "text": said}


def _scanned(conn: Connection, station: str, text: str) -> list[dict[str, Any]]:
    words = text.split()
    if len(words) < _ANCHOR_WORDS or len(words[-1]) < _HEAD_LENGTH:
        return []
    anchor = parse_anchor(text)
    entry = read.entry(conn, anchor.station, anchor.seq) if anchor.station == station else None
    if entry is None or entry.anchor != anchor:
        said = f"{anchor.station}, incarnation {anchor.incarnation}, entry {anchor.seq}"
        raise InputError("label", said, "this record has no such entry: it is not our label")
    number = entry.data.get("fill")
    if not number:
        return []
    row = read.fill(conn, number)
    told = f"fill {number}  {row.serial}, {row.want_typed}, {row.state}"
    cylinder = _cylinder_line(read.cylinder(conn, row.serial))
    return [{"kind": "fill", "key": number, "text": told}, cylinder]


def known(record: Record, serial: str, now: Moment, rules: Rules | None = None) -> dict[str, Any]:
    """Return everything check-in wants to know of a cylinder.

    Parameters
    ----------
    record : Record
        The open record.
    serial : str
        As scanned: of the cylinder, of a set, or of one post of a set.
    now : Moment
        Now; stamps run out by it.
    rules : Rules or None
        The station's; None for those in force.

    Returns
    -------
    dict
        The stamps; ``due`` with what a gate says or will say within 60 days; ``customer``,
        ``last_fill``, ``open_fills``; ``gas_lost``, what is said of an open fill that lost its
        gas; ``same_again``, what was wanted of the fill handed out last; ``residual``, the gas
        it went out with if that fill was the last, and what its ``label_says`` where that was
        amended since; ``elsewhere``, what other stations know.
        None where there is none.

    Raises
    ------
    InputError
        If no cylinder of that serial is in the record.
    """
    with record.read() as conn:
        row = search.cylinder_of(conn, serial.strip())
        fills = [
            f for f in search.last_fills(conn, _LAST, serial=row.serial) if f.state != "voided"
        ]
        last = fills[0] if fills else None
        person = read.person(conn, last.customer) if last else None
        started = read.open_fills(conn, row.serial)
        lost = [text for one in started if (text := gas_lost(conn, read.fill(conn, one)))]
        limits = rules or in_force(conn)
        residual = _residual(conn, record.station, last)
        away = elsewhere(conn, row.serial)
        apart = quarantine_gate(conn, row.serial)
    handed = next((fill for fill in fills if fill.state in _HANDED_OUT), None)
    return {
        **_stamps(row),
        "due": [*_set_apart(apart), *_held_away(away), *_due(row, now, limits)],
        "customer": _person(person),
        "last_fill": _fill(last) if last else None,
        "open_fills": started,
        "gas_lost": lost[-1] if lost else None,
        "same_again": handed.want_typed if handed else None,
        "residual": residual,
        "elsewhere": away,
    }


def _set_apart(gate: Gate) -> list[dict[str, Any]]:
    """Return that it is in quarantine here, itself or with a set or a post of it."""
    if gate.answer == PASS:
        return []
    return [{"what": gate.gate, "answer": gate.answer, "days": None, "text": gate.reason}]


def _held_away(away: dict[str, Any]) -> list[dict[str, Any]]:
    """Return what keeps a cylinder from being filled by what another station knows."""
    return [
        {"what": "other-site", "answer": "stop", "days": None,
         "text": f"held at {one['site']}: {one['hold']}"}
        for one in away["known_at"]
        if one["hold"]
    ]  # fmt: skip


def _stamps(row: CylinderRow) -> dict[str, Any]:
    return {
        "serial": row.serial,
        "posts": row.posts,
        "size": row.size_typed,
        "size_l": row.size_ml / 1000.0,
        "wp_bar": bar(row.wp_mbar),
        "tp_bar": bar(row.tp_mbar),
        "tested": row.tested,
        "inspected": row.inspected,
        "clean": row.clean,
    }


def _due(row: CylinderRow, now: Moment, rules: Rules) -> list[dict[str, Any]]:
    """Return what will keep this cylinder from some fill, worst first."""
    near = [one for one in stamps_due(row, now, rules) if one.is_near()]
    found = [
        {"what": one.what, "answer": one.gate.answer, "days": one.days, "text": one.text}
        for one in sorted(near, key=lambda one: one.days)
    ]
    if not row.clean:
        text = f"not in oxygen service: nothing richer than {rules.clean_above_o2:.0%} oxygen"
        found.append({"what": "oxygen-clean", "answer": "stop", "days": None, "text": text})
    return found


def _person(row: PersonRow | None) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "person": row.person,
        "name": read.called(row),
        "certified": row.certified or None,
    }


def _fill(row: FillRow) -> dict[str, Any]:
    analysed = row.o2_ppm >= 0
    return {
        "fill": row.fill,
        "date": Moment(row.requested_us, row.offset_min).local.date().isoformat(),
        "cylinder": row.serial,
        "customer": row.customer,
        "want": row.want_typed,
        "o2": fraction(row.o2_ppm) if analysed else None,
        "he": fraction(row.he_ppm) if analysed and row.he_ppm >= 0 else None,
        "pressure_bar": bar(row.gauge_mbar) if row.has_gas else None,
        "temperature_c": celsius(row.temp_mk) if row.has_gas else None,
        "state": row.state,
    }


def _residual(conn: Connection, station: str, last: FillRow | None) -> dict[str, str] | None:
    """Return what went out in it: only if nothing was done to it since, as far as known."""
    if last is not None and last.state == "imported":  # nobody here analysed it
        return {"gas": gas_typed(last.want_typed), "source": "stated"}
    if last is None or last.state != "collected" or last.o2_ppm < 0:
        return None
    gas = _as_typed(last, analysed_mix(last))
    printed = _printed(conn, station, last)
    differs = {} if printed in ("", gas) else {"label_says": printed}
    return {"gas": gas, "source": "label", **differs}


def _printed(conn: Connection, station: str, fill: FillRow) -> str:
    """Return the gas its label was printed with: what was signed, whatever was amended since."""
    entry = read.entry(conn, station, fill.accepted_seq) if fill.amended_by else None
    if entry is None:
        return ""
    stated = entry.data["label"]
    return _as_typed(fill, mix(stated["o2_ppm"] / 1e6, max(stated["he_ppm"], 0) / 1e6))


def _as_typed(fill: FillRow, gas: Mix) -> str:
    """Return a fill's gas as somebody would type it, to a tenth of a percent."""
    if gas.he > 0.0:
        parts = [round(part * 100.0, 1) for part in (gas.o2, gas.he)]
        # A number up to 1 written with a point would be read as a fraction: 0.8 as 80 %.
        if min(parts) <= 1.0:
            return "/".join(f"{part / 100.0:.3f}" for part in parts)
        return "/".join(f"{part:.1f}" for part in parts)
    if parse_gas_at(fill.want_typed, "--want").oxygen_only:
        return f"oxygen{gas.o2 * 100:.1f}"
    return name_of(gas, 1) if name_of(gas, 1) == "air" else f"EAN{gas.o2 * 100:.1f}"


def customer_card(record: Record, person_id: str) -> dict[str, Any]:
    """Return what the counter wants to know of a customer.

    Returns
    -------
    dict
        ``person``, ``name``, ``certified``; ``agreed_at``, when they signed the undertaking at
        the tablet, None if never; the last ``cylinders`` and ``fills``, newest first.

    Raises
    ------
    InputError
        If there is no such customer.
    """
    with record.read() as conn:
        row = read.person(conn, person_id)
        if row is None or row.role != "customer":
            raise InputError("customer", repr(person_id[:80]), "no customer of that id")
        fills = search.last_fills(conn, _LAST, customer=person_id)
        agreed = read.finding(conn, AGREED, person_id)
    cylinders = list(dict.fromkeys(fill.serial for fill in fills))[:10]
    return {
        "person": row.person,
        "name": read.called(row),
        "certified": row.certified or None,
        "agreed_at": Moment(agreed.at_us, agreed.offset_min).iso if agreed else None,
        "cylinders": cylinders,
        "fills": [{**_fill(fill), "gas": gas_typed(fill.want_typed)} for fill in fills[:10]],
    }
