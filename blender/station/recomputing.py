"""Working a record out again from what was typed: every analysis, every label."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection

from blender import analysis
from blender.errors import FillwrightError
from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.station.analysing import FORMULA, Measured, calibration_typed, measure
from blender.station.stated import SIGNED, depths, signed_basis
from blender.units import STANDARD_AMBIENT_PA, bar_to_pa, parse_ambient

_STAFF = (
    "fill.residual",
    "fill.residual-corrected",
    "fill.analysed",
    "fill.analysis-corrected",
)
_AMENDED = "fill.amended"
_DIVER = ("fill.disputed", "fill.accepted")
_SETTINGS = ("analyser.calibrated", "fill.requested", "fill.planned", "fill.started")
_DEPTHS = ("mod_mm", "mod_high_mm", "floor_mm")


def recompute(record: Record) -> dict[str, Any]:
    """Work out every analysis and every label again, and compare.

    Returns
    -------
    dict
        ``analyses`` and ``labels``: how many came out the same; ``differences``: each that did
        not, with its entry; ``untold``: entries that do not say enough, of an earlier format.
    """
    same = {"analyses": 0, "labels": 0}
    differences: list[dict[str, Any]] = []
    untold: list[int] = []
    with record.read() as conn:
        bench = _Bench()
        for entry in read.entries_of_kind(
            conn, record.station, *_SETTINGS, *_STAFF, *_DIVER, _AMENDED
        ):
            bench.take(entry)
            for what, stored, again in _figures(bench, entry):
                if again is None:
                    untold.append(entry.seq)
                elif stored == again:
                    same[what] += 1
                else:
                    differences.append({"seq": entry.seq, "stored": stored, "again": again})
    return {**same, "differences": differences, "untold": untold}


class _Bench:
    """The analysers as they were set, entry by entry, and what each fill said of the air."""

    def __init__(self) -> None:
        self.set_to: dict[int, Mapping[str, Any]] = {}
        self.last: dict[str, tuple[int, int]] = {}  # by analyser: entry and time of its setting
        self.air: dict[int, tuple[int, str]] = {}  # by fill: when begun, ambient stated then

    def take(self, entry: Entry) -> None:
        data = entry.data
        if entry.kind == "analyser.calibrated":
            self.set_to[entry.seq] = data
            self.last[data["analyser"]] = (entry.seq, entry.at.us)
        elif entry.kind in ("fill.requested", "fill.planned"):
            began = self.air.get(data["fill"], (entry.at.us, ""))[0]
            self.air[data["fill"]] = (began, str(data.get("ambient_typed", "")))
        elif entry.kind == "fill.started" and data["fill"] in self.air:
            self.air[data["fill"]] = (entry.at.us, self.air[data["fill"]][1])

    def rests_on(self, data: Mapping[str, Any], fill: int) -> tuple[int, str]:
        """Return the setting and the ambient pressure an analysis was worked out with."""
        if "calibration" in data:
            return int(data["calibration"]), str(data["ambient_typed"])
        seq, set_us = self.last[str(data["analyser"])]
        began_us, stated = self.air[fill]
        if stated and set_us < began_us:
            return seq, stated
        return seq, str(self.set_to[seq]["ambient_typed"])


_Figure = tuple[str, dict[str, int], dict[str, int] | None]


def _figures(bench: _Bench, entry: Entry) -> Iterator[_Figure]:
    """Give each figure of an entry as it is stored, and as it comes out now."""
    data = entry.data
    if entry.kind in _STAFF and "typed" in data:  # what is left is corrected as stated, too
        yield _analysis(bench, data, data["fill"])
    elif entry.kind in _DIVER:
        yield "analyses", _stored(data), _of(_diver(data))
    elif entry.kind == _AMENDED and "analysis" in data:
        yield _analysis(bench, data["analysis"], data["fill"])
    if entry.kind == "fill.accepted" and all(n in data["label"] for n in SIGNED):
        label = data["label"]
        again = depths(signed_basis(label, ())).in_mm()
        yield "labels", {name: label[name] for name in _DEPTHS}, again


def _analysis(bench: _Bench, data: Mapping[str, Any], fill: int) -> _Figure:
    """Work an analysis of the station's out; None where it does not say with which air."""
    stored = _stored(data)
    if data.get("formula", FORMULA) != FORMULA:
        return "analyses", stored, None
    try:
        again = _of(measured(bench.set_to, *bench.rests_on(data, fill), data["typed"]))
    except (FillwrightError, KeyError):
        again = None
    if again != stored and "calibration" not in data:
        again = None  # the first format kept no ambient pressure that was typed beside it
    return "analyses", stored, again


def measured(
    set_to: Mapping[int, Mapping[str, Any]], seq: int, ambient: str, typed: Mapping[str, str]
) -> Measured:
    """Work out a typed reading with the setting of an entry.

    Raises
    ------
    InputError
        If something of it cannot be read.
    """
    names = ("gas_typed", "reading_typed", "ambient_typed", "air_typed")
    calibration = calibration_typed(*(str(set_to[seq][name]) for name in names))
    helium = typed["helium"] or None
    return measure(typed["reading"], helium, calibration, bar_to_pa(parse_ambient(ambient)))


def raw_of(conn: Connection, station: str, seq: int) -> tuple[dict[int, Any], int, str]:
    """Return what an analysis rests on: settings by entry, which of them, ambient pressure."""
    wanted = read.entry(conn, station, seq)
    assert wanted is not None
    data = wanted.data.get("analysis", wanted.data)
    if "calibration" in data and (setting := read.entry(conn, station, data["calibration"])):
        return {setting.seq: setting.data}, setting.seq, str(data["ambient_typed"])
    bench = _Bench()
    for entry in read.entries_of_kind(conn, station, *_SETTINGS):
        if entry.seq < seq:
            bench.take(entry)
    return (dict(bench.set_to), *bench.rests_on(data, wanted.data["fill"]))


def _diver(data: Mapping[str, Any]) -> Measured:
    typed = data["typed"]
    set_to = analysis.unstated_calibration()
    return measure(typed["reading"], typed["helium"] or None, set_to, STANDARD_AMBIENT_PA)


def _stored(data: Mapping[str, Any]) -> dict[str, int]:
    return {name: data[name] for name in ("o2_ppm", "he_ppm", "o2_u_ppm")}


def _of(got: Measured) -> dict[str, int]:
    return _stored(got.facts())
