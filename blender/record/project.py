"""Turns journal entries into the read models: one small function a kind of entry.

The read models hold nothing that is not in the journal or a private row, so replaying
every entry through `apply` gives the same tables again; `verify` and `rebuild` do just
that.  Kinds that change no table are ignored here.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from blender.record import models, stock
from blender.record.entry import Entry
from blender.record.projector import Private
from blender.record.stock import table

Data = dict[str, Any]
Projection = Callable[[Connection, "Entry", Data, Private], None]


TABLES: tuple[Table, ...] = tuple(table(model) for model in models.ALL)
_station, _person, _cylinder, _supply, _analyser = TABLES[:5]
_fill, _step, _reading, _analysis, _exception = TABLES[5:10]
_day = table(models.DayRow)
_fill_entry = table(models.FillEntryRow)
_rule = table(models.RuleRow)
_copy = table(models.CopyRow)
_compressor = table(models.CompressorRow)
_price = table(models.PriceRow)
_finding, _access = table(models.FindingRow), table(models.AccessRow)
_KINDS: dict[str, Projection] = {}


def apply(conn: Connection, entry: Entry, private: Private) -> None:
    """Bring the read models up to date with one entry, in the caller's transaction.

    Parameters
    ----------
    conn : Connection
        The connection that holds the transaction.
    entry : Entry
        The entry just written or replayed.
    private : callable
        Gives the content of a private row by its id, None once erased.
    """
    if entry.kind.startswith("fill.") and type(number := entry.data.get("fill")) is int:
        conn.execute(insert(_fill_entry).values(fill=number, seq=entry.seq))
    if projection := _KINDS.get(entry.kind):
        projection(conn, entry, entry.data, private)
    for found in entry.data.get("findings", ()):
        _add_finding(conn, entry, found)
    if allowed := entry.data.get("allowed"):
        note(conn, entry, "allowed", "; ".join(allowed))


def on(*kinds: str) -> Callable[[Projection], Projection]:
    """Register the projection of some kinds of entry."""

    def keep(function: Projection) -> Projection:
        _KINDS.update(dict.fromkeys(kinds, function))
        return function

    return keep


def compact(value: object) -> str:
    """Return JSON text of a list or dictionary for a column."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def _who(entry: Entry) -> str:
    return str((entry.sig or {}).get("person", ""))


def _set_fill(conn: Connection, entry: Entry, data: Data, **values: object) -> None:
    where = _fill.c.fill == data["fill"]
    conn.execute(update(_fill).where(where).values(seq=entry.seq, **values))


def note(conn: Connection, entry: Entry, kind: str, text: str) -> None:
    """Add an exception: something a manager looks for."""
    row = {
        "seq": entry.seq,
        "fill": entry.data.get("fill", 0),
        "kind": kind,
        "text": text,
        "person": _who(entry),
        "at_us": entry.at.us,
    }
    conn.execute(insert(_exception).values(row))


def _add_finding(conn: Connection, entry: Entry, found: Data) -> None:
    """Keep what was found, whatever the entry; what was not right is an exception."""
    row = {name: found[name] for name in ("what", "about", "ok", "value", "text")}
    row |= {"seq": entry.seq, "fill": entry.data.get("fill", 0), "person": _who(entry)}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min}
    conn.execute(insert(_finding).values(row))
    if not found["ok"]:
        note(conn, entry, f"found-{found['what']}", f"{found['about']} {found['text']}".strip())


# -- the station and what belongs to it ------------------------------------------------


@on("station.founded")
def _founded(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {
        "station": entry.station,
        "name": data["name"],
        "incarnation": entry.incarnation,
        "key": data["key"],
        "founded_us": entry.at.us,
        "seq": entry.seq,
    }
    conn.execute(insert(_station).values(row))


@on("station.copied")
def _copied(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("copied_seq", "sha256", "away")}
    row |= {"seq": entry.seq, "at_us": entry.at.us, "offset_min": entry.at.offset_min}
    conn.execute(insert(_copy).values(row))


@on("station.restored")
def _restored(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(update(_station).values(incarnation=entry.incarnation, seq=entry.seq))
    told = f"from a copy that ended with entry {data['at_seq']}: {data['reason']}"
    note(conn, entry, "restored", told)


@on("clock.stepped")
def _stepped(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    minutes = (data["was_us"] - entry.at.us) / 60_000_000
    note(conn, entry, "clock", f"the clock was set back by {minutes:.0f} min or more")


@on("person.added")
def _person_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    known = private(data["private"]) or {}
    row = {
        "person": data["person"],
        "name": known.get("name"),
        "role": data["role"],
        "qualified": compact(data["qualified"]),
        "certified": data["certified"],
        "key": data.get("key", ""),
        "seq": entry.seq,
    }
    conn.execute(insert(_person).values(row))


@on("person.secret-reset")
def _secret_reset(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _person.c.person == data["person"]
    conn.execute(update(_person).where(where).values(key=data["key"], seq=entry.seq))
    conn.execute(delete(_access).where(_access.c.who == data["person"]))
    note(conn, entry, "secret-reset", f"{data['person']}: {data['reason']}")


@on("person.secret")
def _secret_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take the new key of whoever replaced a secret that a manager had given."""
    if key := data.get("key"):
        where = _person.c.person == data["person"]
        conn.execute(update(_person).where(where).values(key=key, seq=entry.seq))


@on("rule.changed")
def _rule_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("rule", "new", "old_text", "new_text", "reason")}
    row |= {"seq": entry.seq, "person": _who(entry)}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min}
    conn.execute(insert(_rule).values(row))
    change = f"{data['rule']}: {data['old_text']} -> {data['new_text']}: {data['reason']}"
    note(conn, entry, "rule-changed", change)


@on("cylinder.added")
def _cylinder_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in models.CylinderRow.model_fields if name != "seq"}
    conn.execute(insert(_cylinder).values({**row, "seq": entry.seq}))


@on("cylinder.changed")
def _cylinder_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _cylinder.c.serial == data["serial"]
    conn.execute(update(_cylinder).where(where).values({**data["new"], "seq": entry.seq}))
    if why := data.get("why"):  # what ended oxygen service, without anybody having cleaned
        note(conn, entry, "no-longer-clean", f"{data['serial']}: {why}")


@on("supply.added")
def _supply_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(insert(_supply).values({"name": data["name"], **_bottle(entry, data)}))


def _bottle(entry: Entry, data: Data) -> Data:
    """Return what a bottle just connected is known to hold; its pressure was read then."""
    was_read = bool(data.get("typed", {}).get("at"))
    row = {name: data[name] for name in ("gas_typed", "o2_ppm", "he_ppm", "size_ml")}
    row |= {"content_umol": data["content_umol"], "read_us": entry.at.us if was_read else 0}
    return {**row, "retired": False, "seq": entry.seq}


@on("supply.changed")
def _supply_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _supply.c.name == data["name"]
    conn.execute(update(_supply).where(where).values(_bottle(entry, data)))
    # Another bottle: what was analysed in the one before says nothing of it.
    stale = (_finding.c.what == "supply-gas") & (_finding.c.about == data["name"])
    conn.execute(delete(_finding).where(stale))


@on("supply.read")
def _supply_read(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"content_umol": data["content_umol"], "read_us": entry.at.us, "seq": entry.seq}
    conn.execute(update(_supply).where(_supply.c.name == data["name"]).values(values))
    if far := data.get("far"):
        note(conn, entry, "bank-far-off", far)


@on("person.certified")
def _person_certified(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _person.c.person == data["person"]
    conn.execute(update(_person).where(where).values(certified=data["new"], seq=entry.seq))


@on("supply.retired")
def _supply_retired(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _supply.c.name == data["name"]
    conn.execute(update(_supply).where(where).values(retired=True, seq=entry.seq))


@on("price.set")
def _price_set(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_price).where(_price.c.supply == data["supply"]))
    row = {"supply": data["supply"], "m3_micro": data["m3_micro"], "seq": entry.seq}
    conn.execute(insert(_price).values(row))


@on("compressor.added", "compressor.changed")
def _compressor_known(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_compressor).where(_compressor.c.name == data["name"]))
    row = {name: data[name] for name in ("name", "rated_ppm", "max_mbar", "delivery_ml_min")}
    conn.execute(insert(_compressor).values({**row, "retired": "", "seq": entry.seq}))


@on("compressor.retired")
def _compressor_retired(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _compressor.c.name == data["name"]
    values = {"retired": data["reason"], "seq": entry.seq}
    conn.execute(update(_compressor).where(where).values(values))


@on("day.opened", "day.closed")
def _day_entered(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {"seq": entry.seq, "kind": entry.kind.removeprefix("day."), "day": data["day"]}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min, "person": _who(entry)}
    conn.execute(insert(_day).values({**row, "text": compact(data)}))
    if failed := data.get("failed"):
        note(conn, entry, "day-check", "; ".join(failed))


@on("analyser.added")
def _analyser_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    blank = dict.fromkeys(("gas_typed", "reading_typed", "ambient_typed", "air_typed"), "")
    row = {"name": data["name"], "calibrated_us": 0, "calibrated_by": "", "seq": entry.seq}
    conn.execute(insert(_analyser).values({**row, **blank, "retired": ""}))


@on("analyser.retired")
def _analyser_retired(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _analyser.c.name == data["name"]
    conn.execute(update(_analyser).where(where).values(retired=data["reason"], seq=entry.seq))


@on("analyser.calibrated")
def _calibrated(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {
        "calibrated_us": entry.at.us,
        "gas_typed": data["gas_typed"],
        "reading_typed": data["reading_typed"],
        "ambient_typed": data["ambient_typed"],
        "air_typed": data["air_typed"],
        "calibrated_by": _who(entry),
        "seq": entry.seq,
    }
    where = _analyser.c.name == data["analyser"]
    conn.execute(update(_analyser).where(where).values(values))


# -- the life of a fill ----------------------------------------------------------------


@on("fill.requested")
def _requested(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = _blank_fill() | {
        "fill": data["fill"],
        "state": "requested",
        "serial": data["serial"],
        "customer": data["customer"],
        "requested_by": _who(entry),
        "have_typed": data["have_typed"],
        "residual": data["residual"],
        "want_typed": data["want_typed"],
        "ambient_typed": data["ambient_typed"],
        "want_mbar": data["want_mbar"],
        "want_o2_ppm": data["want_o2_ppm"],
        "want_he_ppm": data["want_he_ppm"],
        "contents_umol": compact(data["contents_umol"]),
        "gauge_mbar": data["gauge_mbar"],
        "temp_mk": data["temp_mk"],
        "temp_kind": "gas",
        "has_helium": data["has_helium"],
        "requested_us": entry.at.us,
        "offset_min": entry.at.offset_min,
        "batch": data.get("batch", 0),
        "seq": entry.seq,
    }
    conn.execute(insert(_fill).values(row))


def _blank_fill() -> Data:
    """Return the columns of a fill of which nothing is known."""
    fields = models.FillRow.model_fields
    blank: Data = {name: "" if field.annotation is str else 0 for name, field in fields.items()}
    blank |= {"has_gas": False, "has_helium": False, "accepted_name": None}
    return blank | {"o2_ppm": -1, "he_ppm": -1}


@on("fill.imported")
def _imported(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take over a line of an earlier book: nobody here analysed it, nobody signed for it."""
    names = ("fill", "serial", "customer", "want_typed", "want_mbar", "want_o2_ppm", "want_he_ppm")
    row = _blank_fill() | {name: data[name] for name in names}
    row |= {"state": "imported", "residual": "unknown", "temp_kind": "gas", "seq": entry.seq}
    row |= {"gauge_mbar": data["want_mbar"], "temp_mk": data["temp_mk"]}
    row |= {"contents_umol": compact(data["contents_umol"]), "has_helium": data["want_he_ppm"] > 0}
    row |= {"requested_us": data["filled_us"], "offset_min": data["filled_offset_min"]}
    conn.execute(insert(_fill).values(row))
    note(conn, entry, "imported", data["note"])


@on("fill.residual")
def _residual(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _add_analysis(conn, entry, data, party="residual", valid=False)
    values = {"contents_umol": compact(data["contents_umol"]), "has_helium": data["has_helium"]}
    if data["state"] != "held":  # else gas is in, and what was left before it stays known
        values |= {"residual": "analysed", "have_typed": data["have_typed"]}
    _set_fill(conn, entry, data, state=data["state"], **values)


_STEP_NUMBERS = (
    "from_mbar",
    "to_mbar",
    "temp_mk",
    "amount_umol",
    "holds_o2_ppm",
    "holds_he_ppm",
    "intake_ppm",
    "reading_ppm",
)
_STEP_KEYS = frozenset((*_STEP_NUMBERS, "action", "supply", "gas_ppm"))


@on("fill.planned")
def _planned(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_step).where(_step.c.fill == data["fill"]))
    for number, step in enumerate(data["steps"]):
        row = {name: step.get(name, -1) for name in _STEP_NUMBERS}
        row |= {"fill": data["fill"], "number": number, "action": step["action"]}
        row |= {"supply": step.get("supply", ""), "gas": compact(step.get("gas_ppm", []))}
        row |= {"more": compact({key: step[key] for key in sorted(step) if key not in _STEP_KEYS})}
        conn.execute(insert(_step).values({**row, "seq": entry.seq}))
    values = {"state": data["state"], "method": _methods(conn, data), "step": 0}
    values |= {"settle_mk": data["settle_mk"], "ambient_typed": data["ambient_typed"]}
    values |= {"has_helium": data["has_helium"], "warnings": compact(data["warnings"])}
    if "contents_umol" in data:  # a correction starts from what was analysed
        values |= {"contents_umol": compact(data["contents_umol"]), "residual": "analysed"}
    _set_fill(conn, entry, data, **values)


def _methods(conn: Connection, data: Data) -> str:
    """Return every method that gas was let in by: a correction does not undo the first."""
    where = _fill.c.fill == data["fill"]
    has_gas, before = conn.execute(select(_fill.c.has_gas, _fill.c.method).where(where)).one()
    known = before.split(" + ") if has_gas else []
    return " + ".join(dict.fromkeys([*known, data["method"]]))


@on("fill.started")
def _started(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"state": "filling", "blender": _who(entry), "has_gas": True}
    # Gas goes in or out: what was analysed before says nothing about the mix to come.
    old = _analysis.c.fill == data["fill"]
    conn.execute(update(_analysis).where(old).values(valid=False))
    values |= {"o2_ppm": -1, "he_ppm": -1, "decision": ""}
    _set_fill(conn, entry, data, started_us=entry.at.us, **values)


@on("fill.reading")
def _read(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _take_reading(conn, entry, data)
    known = data if data["counts"] else {}  # a wall's temperature never stands in for the gas's
    _set_fill(conn, entry, data, state=data["state"], step=data["next_step"], **_shown(known, data))


def _take_reading(conn: Connection, entry: Entry, data: Data, since_us: int = -1) -> None:
    """Add a reading, take what it drew from its supplies, note what it missed."""
    (_, _, taken), *also = stock.taken(conn, entry.seq, data, since_us)
    row = {
        "seq": entry.seq,
        "fill": data["fill"],
        "number": data["step"],
        "gauge_mbar": data["gauge_mbar"],
        "temp_mk": data["temp_mk"],
        "kind": data["kind"],
        "gauge": data["gauge"],
        "typed_at": data["typed"]["at"],
        "typed_temperature": data["typed"]["temperature"],
        "closes": data["closes"],
        "supply": data["supply"],
        "added_umol": compact(data["added_umol"]),
        "drawn_umol": data["drawn_umol"],
        "taken_umol": taken,
        "also": compact(also),
        "corrected_by": 0,
        "person": _who(entry),
        "at_us": entry.at.us,
    }
    conn.execute(insert(_reading).values(row))
    for code, text in data["notes"][:1]:
        note(conn, entry, code, text)


def _shown(known: Data, data: Data) -> Data:
    """Return what a gauge showed, as columns of a fill; nothing where nothing is known."""
    if not known:
        return {}
    values = {"gauge_mbar": known["gauge_mbar"], "temp_mk": known["temp_mk"]}
    values |= {"temp_kind": known["kind"], "gauge": known["gauge"]}
    return values | {"contents_umol": compact(data["contents_umol"])}


def _first_us(conn: Connection, reading: Any) -> int:
    """Return when a reading was first entered, before any correction of it [us UTC]."""
    before = select(_reading).where(_reading.c.corrected_by == reading.seq)
    while found := conn.execute(before).first():
        reading = found
        before = select(_reading).where(_reading.c.corrected_by == reading.seq)
    return int(reading.at_us)


@on("fill.reading-corrected")
def _reading_corrected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Undo what the mistaken reading did, then take the one that stands in its place."""
    mistaken = _reading.c.seq == data["corrects"]
    old = conn.execute(select(_reading).where(mistaken)).one()
    conn.execute(update(_reading).where(mistaken).values(corrected_by=entry.seq))
    first_us = _first_us(conn, old)
    stock.give_back(conn, entry.seq, old, first_us)
    noted = (_exception.c.seq == old.seq) & (_exception.c.kind != "reading-corrected")
    text = f"corrected by entry {entry.seq}: " + _exception.c.text
    conn.execute(update(_exception).where(noted).values(text=text))
    _take_reading(conn, entry, data, first_us)
    new = data["typed"]
    was, now = f"{old.typed_at} {old.typed_temperature}", f"{new['at']} {new['temperature']}"
    note(conn, entry, "reading-corrected", f"{was.strip()} -> {now.strip()}")
    known = data if data["counts"] else data["before"]
    values = {"state": data["state"], "resumes_to": data["resumes_to"]}
    _set_fill(conn, entry, data, step=data["next_step"], **values, **_shown(known, data))


@on("fill.held")
def _held(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _set_fill(conn, entry, data, state="held", resumes_to=data["was"])
    note(conn, entry, "held", data["reason"])


@on("fill.resumed")
def _resumed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"state": data["state"], "resumes_to": ""}
    values |= {"gauge_mbar": data["gauge_mbar"], "temp_mk": data["temp_mk"]}
    _set_fill(conn, entry, data, contents_umol=compact(data["contents_umol"]), **values)
    if data["note"]:
        note(conn, entry, "leak", data["note"])


def _add_analysis(conn: Connection, entry: Entry, data: Data, party: str, *, valid: bool) -> None:
    row = {
        "seq": entry.seq,
        "fill": data["fill"],
        "party": party,
        "serial": data["serial"],
        "analyser": data["analyser"],
        "typed_reading": data["typed"]["reading"],
        "typed_helium": data["typed"]["helium"],
        "o2_ppm": data["o2_ppm"],
        "he_ppm": data["he_ppm"],
        "o2_u_ppm": data["o2_u_ppm"],
        "decision": data["decision"],
        "valid": valid,
        "person": _who(entry),
        "at_us": entry.at.us,
        "offset_min": entry.at.offset_min,
    }
    conn.execute(insert(_analysis).values(row))


def _set_aside(conn: Connection, data: Data) -> None:
    for seq in data["set_aside"]:
        conn.execute(update(_analysis).where(_analysis.c.seq == seq).values(valid=False))


@on("fill.analysed")
def _analysed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _add_analysis(conn, entry, data, party="staff", valid=True)
    _set_aside(conn, data)
    values = {"state": data["state"], "o2_ppm": data["o2_ppm"], "he_ppm": data["he_ppm"]}
    _set_fill(conn, entry, data, decision=data["decision"], **values)
    if data["state"] == "recheck" or data["decision"] != "accept":
        note(conn, entry, data["decision"], data["note"])


@on("fill.disputed")
def _disputed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _add_analysis(conn, entry, data, party="customer", valid=True)
    _set_fill(conn, entry, data, state="recheck")
    note(conn, entry, "disputed", data["note"])


@on("fill.accepted")
def _accepted(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _add_analysis(conn, entry, data, party="customer", valid=True)
    known = private(data["private"]) or {}
    values = {"state": "accepted", "accepted_name": known.get("name")}
    values |= {"accepted_us": entry.at.us, "accepted_seq": entry.seq}
    _set_fill(conn, entry, data, **values)


@on("fill.collected")
def _collected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _set_fill(conn, entry, data, state="collected", collected_us=entry.at.us)


@on("label.printed")
def _label_printed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Belongs to its fill's story; it is no work on the fill, whenever it is done."""
    conn.execute(insert(_fill_entry).values(fill=data["fill"], seq=entry.seq))


@on("fill.rejected")
def _rejected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _set_fill(conn, entry, data, state="rejected")
    note(conn, entry, "rejected", data["reason"])


@on("fill.quarantined")
def _quarantined(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _set_fill(conn, entry, data, state="quarantined", resumes_to=data["was"])
    note(conn, entry, "quarantined", data["reason"])


@on("fill.released")
def _released(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _set_fill(conn, entry, data, state=data["state"], resumes_to="")
    note(conn, entry, "released", data["reason"])


@on("fill.refused")
def _refused(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    stops = [gate["gate"] for gate in data["gates"] if gate["answer"] == "stop"]
    if data["action"] == "resume" and stops == ["contents"]:
        given = data["given"]  # a leak: what the gauge showed counts, whatever is in it
        _set_fill(conn, entry, data, gauge_mbar=given["gauge_mbar"], temp_mk=given["temp_mk"])
    for gate in data["gates"]:
        if gate["answer"] != "pass":
            text = f"{data['action']}: {gate['gate']}: {gate['reason']}"
            note(conn, entry, "refused", text)
            break


# -- what is put right, and what is forgotten ------------------------------------------


@on("fill.amended")
def _amended(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take what a fill should have said; what it said stays in its own entry."""
    values: Data = {name: data[name] for name in ("customer", "serial") if name in data}
    if "corrects" in data:
        mistaken = _analysis.c.seq == data["corrects"]
        conn.execute(update(_analysis).where(mistaken).values(valid=False))
        _add_analysis(conn, entry, data["analysis"] | {"fill": data["fill"]}, "staff", valid=True)
        values |= {name: data["analysis"][name] for name in ("o2_ppm", "he_ppm", "decision")}
    _set_fill(conn, entry, data, amended_by=entry.seq, **values)
    change = f"{data['field']}: {data['old']} -> {data['new']}: {data['reason']}"
    note(conn, entry, "amended", change)
    for text in data["notes"][:1]:
        note(conn, entry, "amended-beyond-limits", text)


@on("fill.voided")
def _voided(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Say that a fill never was; its supplies get back what it was thought to have drawn."""
    standing = (_reading.c.fill == data["fill"]) & (_reading.c.corrected_by == 0)
    for reading in conn.execute(select(_reading).where(standing).order_by(_reading.c.seq)).all():
        stock.give_back(conn, entry.seq, reading, _first_us(conn, reading))
    _set_fill(conn, entry, data, state="voided", resumes_to=data["was"])
    note(conn, entry, "voided", data["reason"])


@on("person.erased")
def _erased(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Forget a name wherever a read model took it from a private row."""
    where = _person.c.person == data["person"]
    conn.execute(update(_person).where(where).values(name=None, seq=entry.seq))
    for number in data.get("fills", []):
        conn.execute(update(_fill).where(_fill.c.fill == number).values(accepted_name=None))


# The kinds about people and allowances register themselves in the module beside this one.
from blender.record import project_people  # noqa: E402, F401 - it needs what is above
