"""Read models of the station and what belongs to it: cylinders, supplies, machines, days."""

from __future__ import annotations

from sqlalchemy import Connection, delete, update

from blender.record import models
from blender.record.entry import Entry
from blender.record.project_plant import connected
from blender.record.projection import Data, add, change, compact, note, on, table, who
from blender.record.projector import Private

_station = table(models.StationRow)
_cylinder = table(models.CylinderRow)
_supply = table(models.SupplyRow)
_analyser = table(models.AnalyserRow)
_day = table(models.DayRow)
_fill_entry = table(models.FillEntryRow)
_rule = table(models.RuleRow)
_copy = table(models.CopyRow)
_compressor = table(models.CompressorRow)
_price = table(models.PriceRow)
_finding = table(models.FindingRow)


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
    add(conn, _station, row)


@on("station.copied")
def _copied(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("copied_seq", "sha256", "away")}
    row |= {"seq": entry.seq, "at_us": entry.at.us, "offset_min": entry.at.offset_min}
    add(conn, _copy, row)


@on("station.restored")
def _restored(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(update(_station).values(incarnation=entry.incarnation, seq=entry.seq))
    told = f"from a copy that ended with entry {data['at_seq']}: {data['reason']}"
    note(conn, entry, "restored", told)


@on("station.moved")
def _moved(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    note(conn, entry, "moved", f"from {data['from']} to {data['to']}")


@on("clock.stepped")
def _stepped(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    minutes = (data["was_us"] - entry.at.us) / 60_000_000
    note(conn, entry, "clock", f"the clock was set back by {minutes:.0f} min or more")


@on("rule.changed")
def _rule_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("rule", "new", "old_text", "new_text", "reason")}
    row |= {"seq": entry.seq, "person": who(entry)}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min}
    add(conn, _rule, row)
    told = f"{data['rule']}: {data['old_text']} -> {data['new_text']}: {data['reason']}"
    note(conn, entry, "rule-changed", told)


@on("cylinder.added")
def _cylinder_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in models.CylinderRow.model_fields if name != "seq"}
    add(conn, _cylinder, {**row, "seq": entry.seq})


@on("cylinder.changed")
def _cylinder_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _cylinder.c.serial, data["serial"], {**data["new"], "seq": entry.seq})
    if why := data.get("why"):  # what ended oxygen service, without anybody having cleaned
        note(conn, entry, "no-longer-clean", f"{data['serial']}: {why}")


@on("supply.added")
def _supply_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    add(conn, _supply, {"name": data["name"], **_bottle(entry, data)})
    connected(conn, entry, data)


def _bottle(entry: Entry, data: Data) -> Data:
    """Return what a bottle just connected is known to hold; its pressure was read then."""
    was_read = bool(data.get("typed", {}).get("at"))
    row = {name: data[name] for name in ("gas_typed", "o2_ppm", "he_ppm", "size_ml")}
    row |= {"content_umol": data["content_umol"], "read_us": entry.at.us if was_read else 0}
    row |= {"lot": data.get("lot", ""), "certificate": data.get("certificate", "")}
    row |= {"delivery": data.get("delivery", 0)}
    return {**row, "retired": False, "seq": entry.seq}


@on("supply.changed")
def _supply_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _supply.c.name, data["name"], _bottle(entry, data))
    connected(conn, entry, data)
    # Another bottle: what was analysed in the one before says nothing of it.
    stale = (_finding.c.what == "supply-gas") & (_finding.c.about == data["name"])
    conn.execute(delete(_finding).where(stale))


@on("supply.read")
def _supply_read(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"content_umol": data["content_umol"], "read_us": entry.at.us, "seq": entry.seq}
    change(conn, _supply.c.name, data["name"], values)
    if far := data.get("far"):
        note(conn, entry, "bank-far-off", far)


@on("supply.retired")
def _supply_retired(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _supply.c.name, data["name"], {"retired": True, "seq": entry.seq})


@on("price.set")
def _price_set(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_price).where(_price.c.supply == data["supply"]))
    row = {"supply": data["supply"], "m3_micro": data["m3_micro"], "seq": entry.seq}
    add(conn, _price, row)


@on("compressor.added", "compressor.changed")
def _compressor_known(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_compressor).where(_compressor.c.name == data["name"]))
    row = {name: data[name] for name in ("name", "rated_ppm", "max_mbar", "delivery_ml_min")}
    add(conn, _compressor, {**row, "retired": "", "seq": entry.seq})


@on("compressor.retired")
def _compressor_retired(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"retired": data["reason"], "seq": entry.seq}
    change(conn, _compressor.c.name, data["name"], values)


@on("day.opened", "day.closed")
def _day_entered(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {"seq": entry.seq, "kind": entry.kind.removeprefix("day."), "day": data["day"]}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min, "person": who(entry)}
    add(conn, _day, {**row, "text": compact(data)})
    if failed := data.get("failed"):
        note(conn, entry, "day-check", "; ".join(failed))


@on("analyser.added")
def _analyser_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    blank = dict.fromkeys(("gas_typed", "reading_typed", "ambient_typed", "air_typed"), "")
    row = {"name": data["name"], "calibrated_us": 0, "calibrated_by": "", "seq": entry.seq}
    add(conn, _analyser, {**row, **blank, "retired": ""})


@on("analyser.retired")
def _analyser_retired(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _analyser.c.name, data["name"], {"retired": data["reason"], "seq": entry.seq})


@on("analyser.calibrated")
def _calibrated(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {
        "calibrated_us": entry.at.us,
        "gas_typed": data["gas_typed"],
        "reading_typed": data["reading_typed"],
        "ambient_typed": data["ambient_typed"],
        "air_typed": data["air_typed"],
        "calibrated_by": who(entry),
        "seq": entry.seq,
    }
    change(conn, _analyser.c.name, data["analyser"], values)


@on("label.printed", "paper.printed")
def _printed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Belongs to its fill's story; it is no work on the fill, whenever it is done."""
    add(conn, _fill_entry, {"fill": data["fill"], "seq": entry.seq})
