"""Read models of a fill's life, from its request to its collection."""

from __future__ import annotations

from sqlalchemy import Connection, bindparam, select, update

from blender.record import models, project_plant
from blender.record.driven import Query, drop_rows
from blender.record.entry import Entry
from blender.record.projection import (
    Data,
    add,
    add_analysis,
    change,
    compact,
    note,
    on,
    set_fill,
    table,
    who,
)
from blender.record.projector import Private

_fill = table(models.FillRow)
_step = table(models.StepRow)
_analysis = table(models.AnalysisRow)
_exception = table(models.ExceptionRow)
_OF_FILL = Query(
    select(_fill.c.has_gas, _fill.c.method).where(_fill.c.fill == bindparam("number")), _fill
)


@on("fill.requested")
def _requested(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = blank_fill() | {
        "fill": data["fill"],
        "state": "requested",
        "serial": data["serial"],
        "customer": data["customer"],
        "requested_by": who(entry),
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
    add(conn, _fill, row)


def blank_fill() -> Data:
    """Return the columns of a fill of which nothing is known."""
    fields = models.FillRow.model_fields
    blank: Data = {name: "" if field.annotation is str else 0 for name, field in fields.items()}
    blank |= {"has_gas": False, "has_helium": False, "accepted_name": None}
    return blank | {"o2_ppm": -1, "he_ppm": -1}


@on("fill.imported")
def _imported(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take over a line of an earlier book: nobody here analysed it, nobody signed for it."""
    names = ("fill", "serial", "customer", "want_typed", "want_mbar", "want_o2_ppm", "want_he_ppm")
    row = blank_fill() | {name: data[name] for name in names}
    row |= {"state": "imported", "residual": "unknown", "temp_kind": "gas", "seq": entry.seq}
    row |= {"gauge_mbar": data["want_mbar"], "temp_mk": data["temp_mk"]}
    row |= {"contents_umol": compact(data["contents_umol"]), "has_helium": data["want_he_ppm"] > 0}
    row |= {"requested_us": data["filled_us"], "offset_min": data["filled_offset_min"]}
    add(conn, _fill, row)
    note(conn, entry, "imported", data["note"])


@on("fill.residual")
def _residual(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    add_analysis(conn, entry, data, party="residual", valid=False)
    values = {"contents_umol": compact(data["contents_umol"]), "has_helium": data["has_helium"]}
    if data["state"] != "held":  # else gas is in, and what was left before it stays known
        values |= {"residual": "analysed", "have_typed": data["have_typed"]}
    set_fill(conn, entry, data, state=data["state"], **values)


@on("fill.residual-corrected")
def _residual_corrected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take what should have been entered of a residual, read or stated; a plan on it is over."""
    drop_rows(conn, _step.c.fill, data["fill"])
    if "typed" in data:
        _residual(conn, entry, data, private)
        _slipped(conn, entry, data)
        return
    names = ("state", "have_typed", "residual", "gauge_mbar", "temp_mk", "has_helium")
    values = {name: data[name] for name in names}
    set_fill(conn, entry, data, contents_umol=compact(data["contents_umol"]), **values)
    was = data["was"]
    text = f"{was['have']} ({was['residual']}) -> {data['have_typed']} ({data['residual']})"
    note(conn, entry, "residual-corrected", text)


def _slipped(conn: Connection, entry: Entry, data: Data) -> None:
    """Say which analysis was mistyped, and that what followed from it is over."""
    change(conn, _analysis.c.seq, data["corrects"], {"valid": False})
    noted = (_exception.c.seq == data["corrects"]) & (_exception.c.kind != "analysis-corrected")
    over = f"corrected by entry {entry.seq}: " + _exception.c.text
    conn.execute(update(_exception).where(noted).values(text=over))
    was, now = (
        " and ".join(filter(None, (one["reading"], one["helium"])))
        for one in (data["was"], data["typed"])
    )
    note(conn, entry, "analysis-corrected", f"{was} -> {now} (entry {data['corrects']})")


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
    drop_rows(conn, _step.c.fill, data["fill"])
    for number, step in enumerate(data["steps"]):
        row = {name: step.get(name, -1) for name in _STEP_NUMBERS}
        row |= {"fill": data["fill"], "number": number, "action": step["action"]}
        row |= {"supply": step.get("supply", ""), "gas": compact(step.get("gas_ppm", []))}
        row |= {"more": compact({key: step[key] for key in sorted(step) if key not in _STEP_KEYS})}
        add(conn, _step, {**row, "seq": entry.seq})
    values = {"state": data["state"], "method": _methods(conn, data), "step": 0}
    values |= {"settle_mk": data["settle_mk"], "ambient_typed": data["ambient_typed"]}
    values |= {"has_helium": data["has_helium"], "warnings": compact(data["warnings"])}
    if "contents_umol" in data:  # a correction starts from what was analysed
        values |= {"contents_umol": compact(data["contents_umol"]), "residual": "analysed"}
    set_fill(conn, entry, data, **values)


def _methods(conn: Connection, data: Data) -> str:
    """Return every method that gas was let in by: a correction does not undo the first."""
    ((has_gas, before),) = _OF_FILL.rows(conn, number=data["fill"])
    known = before.split(" + ") if has_gas else []
    return " + ".join(dict.fromkeys([*known, data["method"]]))


@on("fill.started")
def _started(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"state": "filling", "blender": who(entry), "has_gas": True}
    # Gas goes in or out: what was analysed before says nothing about the mix to come.
    change(conn, _analysis.c.fill, data["fill"], {"valid": False})
    values |= {"o2_ppm": -1, "he_ppm": -1, "decision": ""}
    set_fill(conn, entry, data, started_us=entry.at.us, **values)


@on("fill.held")
def _held(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    set_fill(conn, entry, data, state="held", resumes_to=data["was"])
    note(conn, entry, "held", data["reason"])


@on("fill.resumed")
def _resumed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    values = {"state": data["state"], "resumes_to": ""}
    values |= {"gauge_mbar": data["gauge_mbar"], "temp_mk": data["temp_mk"]}
    set_fill(conn, entry, data, contents_umol=compact(data["contents_umol"]), **values)
    if data["note"]:
        note(conn, entry, "leak", data["note"])


def _set_aside(conn: Connection, data: Data) -> None:
    for seq in data["set_aside"]:
        change(conn, _analysis.c.seq, seq, {"valid": False})
    if data["set_aside"]:
        project_plant.undone(conn, seqs=tuple(data["set_aside"]))


@on("fill.analysed")
def _analysed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    add_analysis(conn, entry, data, party="staff", valid=True)
    _set_aside(conn, data)
    project_plant.departs(conn, entry, data)
    values = {"state": data["state"], "o2_ppm": data["o2_ppm"], "he_ppm": data["he_ppm"]}
    set_fill(conn, entry, data, decision=data["decision"], **values)
    if data["state"] == "recheck" or data["decision"] != "accept":
        note(conn, entry, data["decision"], data["note"])


@on("fill.analysis-corrected")
def _analysis_corrected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take what should have been entered of the mix; its departure moves with it."""
    mistaken = _analysis.c.seq == data["corrects"]
    was_ppm = conn.execute(select(_analysis.c.o2_ppm).where(mistaken)).scalar_one()
    project_plant.moved_by(conn, entry, data["corrects"], data["o2_ppm"] - was_ppm)
    _slipped(conn, entry, data)
    _analysed(conn, entry, data, private)


@on("fill.disputed")
def _disputed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    add_analysis(conn, entry, data, party="customer", valid=True)
    set_fill(conn, entry, data, state="recheck")
    note(conn, entry, "disputed", data["note"])
    _for_another(conn, entry, data)


def _for_another(conn: Connection, entry: Entry, data: Data) -> None:
    """Note that another than the customer read or signed; their names are in private rows."""
    if "represents" in data:
        note(conn, entry, "representative", "another person acted for the customer")


@on("fill.accepted")
def _accepted(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    add_analysis(conn, entry, data, party="customer", valid=True)
    known = private(data["private"]) or {}
    values = {"state": "accepted", "accepted_name": known.get("name")}
    values |= {"accepted_us": entry.at.us, "accepted_seq": entry.seq}
    set_fill(conn, entry, data, **values)
    _for_another(conn, entry, data)


@on("fill.collected")
def _collected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    set_fill(conn, entry, data, state="collected", collected_us=entry.at.us)


@on("fill.rejected")
def _rejected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    set_fill(conn, entry, data, state="rejected")
    note(conn, entry, "rejected", data["reason"])


@on("fill.quarantined")
def _quarantined(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    set_fill(conn, entry, data, state="quarantined", resumes_to=data["was"])
    note(conn, entry, "quarantined", data["reason"])


@on("fill.released")
def _released(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    set_fill(conn, entry, data, state=data["state"], resumes_to="")
    note(conn, entry, "released", data["reason"])


@on("fill.refused")
def _refused(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    stops = [gate["gate"] for gate in data["gates"] if gate["answer"] == "stop"]
    if data["action"] == "resume" and stops == ["contents"]:
        given = data["given"]  # a leak: what the gauge showed counts, whatever is in it
        set_fill(conn, entry, data, gauge_mbar=given["gauge_mbar"], temp_mk=given["temp_mk"])
    for gate in data["gates"]:
        if gate["answer"] != "pass":
            text = f"{data['action']}: {gate['gate']}: {gate['reason']}"
            note(conn, entry, "refused", text)
            break


@on("fill.amended")
def _amended(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take what a fill should have said; what it said stays in its own entry."""
    values: Data = {name: data[name] for name in ("customer", "serial") if name in data}
    if "corrects" in data:
        mistaken = _analysis.c.seq == data["corrects"]
        was_ppm = conn.execute(select(_analysis.c.o2_ppm).where(mistaken)).scalar_one()
        more_ppm = data["analysis"]["o2_ppm"] - was_ppm
        project_plant.moved_by(conn, entry, data["corrects"], more_ppm)
        change(conn, _analysis.c.seq, data["corrects"], {"valid": False})
        add_analysis(conn, entry, data["analysis"] | {"fill": data["fill"]}, "staff", valid=True)
        values |= {name: data["analysis"][name] for name in ("o2_ppm", "he_ppm", "decision")}
    if "state" in data:  # what was signed for no longer holds
        values |= {"state": data["state"], "accepted_us": 0, "accepted_name": None}
    set_fill(conn, entry, data, amended_by=entry.seq, **values)
    told = f"{data['field']}: {data['old']} -> {data['new']}: {data['reason']}"
    note(conn, entry, "amended", told)
    for text in data["notes"][:1]:
        note(conn, entry, "amended-beyond-limits", text)
