"""Read models of the other stations of a shop: at its office, and what each is told of the rest."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, and_, delete, select, update

from blender.record import models, models_of_shop
from blender.record.entry import Entry
from blender.record.project_fill import blank_fill
from blender.record.projection import Data, add, compact, note, on, set_fill, table
from blender.record.projector import Private

_site, _office = table(models_of_shop.SiteRow), table(models_of_shop.OfficeRow)
_root, _cylinder = table(models_of_shop.ShopRootRow), table(models_of_shop.SiteCylinderRow)
_away, _fill = table(models_of_shop.AnalysedAwayRow), table(models.FillRow)
_brought, _open = table(models_of_shop.BroughtRow), table(models_of_shop.SiteFillRow)
_WAITS = ("resting", "analysed", "recheck")  # states in which gas is in and nobody has signed


def _columns(model: Any, data: Data) -> Data:
    """Return the columns of a model that an entry's data has a fact for."""
    return {name: data[name] for name in model.model_fields if name in data}


@on("site.added")
def _added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("name", "key", "place")} | {"seq": entry.seq}
    here = _site.c.site == data["site"]
    if conn.execute(select(_site.c.site).where(here)).first():
        conn.execute(update(_site).where(here).values(row))
        return
    blank = dict.fromkeys(("life", "incarnation", "entries", "heard_us", "offset_min"), 0)
    add(conn, _site, {**blank, **row, "site": data["site"], "head": ""})


@on("site.received")
def _received(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("life", "incarnation", "entries", "head")}
    row |= {"heard_us": entry.at.us, "offset_min": entry.at.offset_min, "seq": entry.seq}
    conn.execute(update(_site).where(_site.c.site == data["site"]).values(row))
    if text := data.get("note"):
        note(conn, entry, "site-restored", f"{data['site']}: {text}")


@on("site.refused")
def _refused(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    note(conn, entry, "site-refused", f"{data['site']}: {data['why']}")


@on("site.unreached")
def _unreached(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    note(conn, entry, "site-unreached", f"{data['site']}: {data['why']}")


@on("office.named")
def _office_named(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("office", "name", "key")}
    add(conn, _office, {**row, "seq": entry.seq})


@on("root.witnessed")
def _witnessed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = _columns(models_of_shop.ShopRootRow, data) | {"seq": entry.seq}
    add(conn, _root, {**row, "at_us": entry.at.us, "offset_min": entry.at.offset_min})


@on("site.cylinders")
def _cylinders(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    for one in data["rows"]:
        here = and_(_cylinder.c.site == one["site"], _cylinder.c.serial == one["serial"])
        conn.execute(delete(_cylinder).where(here))
        add(conn, _cylinder, {**_columns(models_of_shop.SiteCylinderRow, one), "seq": entry.seq})


@on("site.fills")
def _fills(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    for site, number in [*((one["site"], one["fill"]) for one in data["rows"]), *data["gone"]]:
        conn.execute(delete(_open).where(and_(_open.c.site == site, _open.c.fill == number)))
    for one in data["rows"]:
        columns = _columns(models_of_shop.SiteFillRow, one)
        rest = {name: value for name, value in one.items() if name not in columns}
        add(conn, _open, {**columns, "facts": compact(rest), "seq": entry.seq})


@on("fill.brought")
def _was_brought(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take in a fill whose gas was let in at another station, to be analysed here."""
    facts = _columns(models.FillRow, data) | {"contents_umol": compact(data["contents_umol"])}
    source = data["from"]
    row = blank_fill() | facts
    row |= {"state": "resting", "has_gas": True, "temp_kind": "gas", "requested_us": entry.at.us}
    row |= {"started_us": source["filled_us"], "offset_min": entry.at.offset_min}
    add(conn, _fill, {**row, "seq": entry.seq})
    facts = _columns(models_of_shop.BroughtRow, source) | {"fill": data["fill"], "seq": entry.seq}
    add(conn, _brought, facts)


@on("fill.elsewhere")
def _analysed_away(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Say at which station a fill was analysed; one of ours, once signed for there, is done here.

    One that was taken in here, too, stays open: somebody has to find out which has the cylinder.
    """
    add(conn, _away, {**_columns(models_of_shop.AnalysedAwayRow, data), "seq": entry.seq})
    note(conn, entry, "analysed-elsewhere", data["text"])
    state = conn.execute(select(_fill.c.state).where(_fill.c.fill == data["fill"])).scalar()
    came = conn.execute(select(_brought.c.fill).where(_brought.c.fill == data["fill"])).first()
    if data["state"] in ("accepted", "collected") and state in _WAITS and came is None:
        set_fill(conn, entry, data, state="elsewhere")
