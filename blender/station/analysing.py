"""Analysis: of what is left before a fill, and of the gas that was made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from blender import analysis, decision
from blender.errors import InputError
from blender.gas import Mix, mix, parse_gas
from blender.humidity import parse_air_state
from blender.record import read
from blender.record.models import AnalyserRow, AnalysisRow, CylinderRow, FillRow
from blender.station import fitness, gates
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.contents import ambient_bar, as_umol, contents
from blender.station.departing import departure
from blender.station.desk import Act, Station
from blender.station.doubts import doubts
from blender.station.meter_gates import care_gates
from blender.station.numbers import bar, celsius, fraction, ppm
from blender.station.outdone import outdone, outdone_at_post, reading_of
from blender.station.posts import missing
from blender.station.resting import rest_gate, unrested, with_caution
from blender.units import bar_to_pa, parse_ambient, parse_percent
from blender.vessel import contents_at

HOUR_US = 3_600_000_000
_DOUBTS = ("recheck", "disputed")
FORMULA = 1  # goes up by one whenever `measure` makes another figure of the same typed reading


@dataclass(frozen=True, slots=True)
class Measured:
    """An analysis as typed and as corrected.

    Parameters
    ----------
    o2, o2_uncertainty : float
        Mole fraction of oxygen and its expanded uncertainty, k = 2 [1].
    he : float or None
        Mole fraction of helium [1], None if not measured.
    """

    typed_reading: str
    typed_helium: str
    o2: float
    o2_uncertainty: float
    he: float | None

    def facts(self) -> dict[str, Any]:
        """The analysis in the journal's integers; helium -1 if not measured."""
        return {
            "typed": {"reading": self.typed_reading, "helium": self.typed_helium},
            "o2_ppm": ppm(self.o2),
            "he_ppm": -1 if self.he is None else ppm(self.he),
            "o2_u_ppm": ppm(self.o2_uncertainty),
        }


def measure(
    reading: str, helium: str | None, calibration: analysis.Calibration, ambient_pa: float
) -> Measured:
    """Understand a reading [%] typed beside an analyser's calibration.

    Raises
    ------
    InputError
        If a value cannot be read, or the ambient pressure has changed since.
    """
    analysis.check_ambient(calibration.ambient_pa, ambient_pa, "--ambient")
    shown = parse_percent(reading, "--reading")
    o2 = analysis.correct(shown, calibration, ambient_pa, "--reading")
    spread = analysis.expanded(analysis.uncertainty_components(shown, calibration, ambient_pa))
    he = None if helium is None else round(parse_percent(helium, "--helium") / 100.0, 12)
    if he is not None and o2 + he > 1.005:
        raise InputError("--helium", repr(helium), "oxygen and helium are at most 100 % together")
    return Measured(reading.strip(), (helium or "").strip(), o2, spread, he)


def calibration_of(analyser: AnalyserRow) -> analysis.Calibration:
    """Return what an analyser was last set to."""
    return calibration_typed(
        analyser.gas_typed, analyser.reading_typed, analyser.ambient_typed, analyser.air_typed
    )


def calibration_typed(gas: str, reading: str, ambient: str, air: str) -> analysis.Calibration:
    """Return a setting of an analyser, as it was typed."""
    return analysis.Calibration(
        parse_gas(gas),
        parse_percent(reading, "--reading"),
        bar_to_pa(parse_ambient(ambient)),
        parse_air_state(air) if air else None,
    )


def raw(ambient: str, calibration: int) -> dict[str, Any]:
    """Return what a typed reading is worked out with, so that anybody can do it again.

    Parameters
    ----------
    ambient : str
        Ambient pressure at the analysis, as typed.
    calibration : int
        The entry by which the analyser was set.
    """
    return {"ambient_typed": ambient, "calibration": calibration, "formula": FORMULA}


def analyse(
    station: Station,
    actor: Actor,
    number: int,
    *,
    serial: str,
    analyser: str,
    reading: str,
    helium: str | None = None,
    ambient: str | None = None,
    waive: str = "",
) -> Answer:
    """Enter an analysis: of the residual before gas goes in, of the mix afterwards.

    Readings more than half a point of oxygen apart send the fill to `recheck`; there the
    reading of another, or a freshly set, analyser decides which of the earlier ones stand.
    Where a station's rule asks for a rest, the analysis waits for it, unless a manager gives
    a reason to `waive` it.

    Raises
    ------
    InputError
        If a value cannot be read, helium is needed and not given, or the analyser was set
        at another ambient pressure.
    """
    with station.act(actor, "analyse") as act:
        fill, where = act.fill(number)
        meter = read.analyser(act.conn, analyser)
        given = {"serial": serial, "analyser": analyser, "reading": reading, "helium": helium or ""}
        answers = [
            where,
            gates.post_identity(fill.serial, serial),
            gates.in_use(meter.name, meter.retired),
            gates.calibrated(meter.name, _age_h(act, meter), act.rules),
            fitness.drift(meter.name, off_since_set(act, meter), act.rules),
            *care_gates(act, meter, helium=helium is not None),
            *_another_meter(act, fill, meter),
        ]
        caution = ""
        if fill.has_gas and where.answer == gates.PASS:
            rested, caution = rest_gate(act, fill, waive)
            answers.append(rested)
        if refused := act.refused(fill, answers, given):
            return refused
        if fill.has_helium and helium is None:
            raise InputError(
                "--helium", "nothing", "helium reading needed: residual or plan has helium"
            )
        around = ambient or _ambient_stated(fill, meter)
        ambient_pa = bar_to_pa(parse_ambient(around, "--ambient"))
        got = measure(reading, helium, calibration_of(meter), ambient_pa)
        if fill.state in ("requested", "planned", "held"):
            rests_on = raw(around, meter.seq) | (unrested(act, fill) if fill.has_gas else {})
            answer = _residual(act, fill, got, meter, serial, answers, rests_on)
        else:
            rests_on = raw(around, meter.seq) | unrested(act, fill)
            answer = _product(act, fill, got, meter, serial, answers, rests_on)
    return with_caution(answer, caution if answer.done else "")


def off_since_set(act: Act, meter: AnalyserRow) -> float | None:
    """Return how far off an analyser was at its last check since it was set [points]."""
    row = read.finding(act.conn, "drift", meter.name)
    return row.value / 1e4 if row and row.at_us >= meter.calibrated_us else None


def _age_h(act: Act, meter: AnalyserRow) -> float | None:
    if not meter.calibrated_us:
        return None
    return (act.now.us - meter.calibrated_us) / HOUR_US


def _ambient_stated(fill: FillRow, meter: AnalyserRow) -> str:
    """Return the ambient pressure as stated last: with the fill, or when the meter was set."""
    begun_us = fill.started_us or fill.requested_us
    if fill.ambient_typed and meter.calibrated_us < begun_us:
        return fill.ambient_typed
    return meter.ambient_typed


def _another_meter(act: Act, fill: FillRow, meter: AnalyserRow) -> list[gates.Gate]:
    """In a recheck the same analyser decides nothing unless it was set afresh."""
    if fill.state != "recheck":
        return []
    used = [a for a in read.analyses(act.conn, fill.fill) if a.analyser == meter.name and a.valid]
    stale = any(a.at_us >= meter.calibrated_us for a in used)
    return [gates.fresh_meter(meter.name, stale=stale)]


def _residual(
    act: Act,
    fill: FillRow,
    got: Measured,
    meter: AnalyserRow,
    serial: str,
    answers: Sequence[gates.Gate],
    rests_on: dict[str, Any],
) -> Answer:
    """Enter what is really in the cylinder; the plan is then made again."""
    if fill.state == "held":
        inside_o2 = contents(fill, read.cylinder(act.conn, fill.serial)).mix.o2
        answers = [*answers, gates.calculated(got.o2, inside_o2, act.rules)]
        if refused := act.refused(fill, answers, got.facts()):
            return refused
    facts = {"serial": serial.strip(), "analyser": meter.name, **rests_on}
    return enter_residual(act, fill, got, "fill.residual", facts, answers)


def enter_residual(
    act: Act,
    fill: FillRow,
    got: Measured,
    kind: str,
    more: dict[str, Any],
    answers: Sequence[gates.Gate],
) -> Answer:
    """Enter an analysis of what is in a cylinder before the mix is made, and what follows."""
    cylinder = read.cylinder(act.conn, fill.serial)
    gas = mix(got.o2, got.he or 0.0)
    rich = gates.found_rich(cylinder.clean, gas, act.rules)
    gauge, at_c = bar(fill.gauge_mbar), celsius(fill.temp_mk)
    inside = contents_at(gas, gauge, at_c, cylinder.size_ml / 1e6, ambient_bar(fill))
    state = "held" if fill.state == "held" else "requested"
    data = {
        "fill": fill.fill,
        "state": state,
        "decision": "reject" if rich.answer == gates.STOP else "",
        "have_typed": have_typed(gauge, at_c, gas),
        "contents_umol": as_umol(inside),
        "has_helium": fill.has_helium or gas.he > 0.0,
        **got.facts(),
        **more,
    }
    act.enter(kind, data, "analysed")
    answers = [*answers, rich]
    facts = {"o2": got.o2, "o2_uncertainty": got.o2_uncertainty, "he": got.he, "decision": None}
    if rich.answer == gates.STOP:
        _quarantine(act, fill, state, rich.reason)
        return Answer(
            fill.fill,
            "quarantined",
            answers,
            done=False,
            text=f"Quarantined. {rich.reason}",
            facts=facts,
        )
    what = "In it as analysed" if state == "held" else "Residual"
    told = f"{what}: O2 {got.o2 * 100:.1f} %. Plan again from this."
    return Answer(fill.fill, state, answers, text=told, facts=facts)


def have_typed(gauge_bar: float, at_c: float, gas: Mix) -> str:
    """Return what is in a cylinder as a request has it: ``60.000bar@20.000C:28.0000/0.0000``."""
    return f"{gauge_bar:.3f}bar@{at_c:.3f}C:{gas.o2 * 100:.4f}/{gas.he * 100:.4f}"


def _quarantine(act: Act, fill: FillRow, was: str, reason: str) -> None:
    data = {"fill": fill.fill, "was": was, "reason": reason}
    act.enter("fill.quarantined", data, "quarantined")


def _product(
    act: Act,
    fill: FillRow,
    got: Measured,
    meter: AnalyserRow,
    serial: str,
    answers: Sequence[gates.Gate],
    rests_on: dict[str, Any],
) -> Answer:
    """Enter an analysis of the finished mix, and what it decides."""
    cylinder = read.cylinder(act.conn, fill.serial)
    earlier = read.analyses(act.conn, fill.fill, valid_only=True)
    if fill.state == "recheck":
        aside = _outdone(act, fill, got, serial.strip(), cylinder.posts)
    else:
        aside = _disputed_here(act, fill, meter, serial.strip(), earlier)
    standing = [row for row in earlier if row.seq not in aside]
    more = {"serial": serial.strip(), "analyser": meter.name, "set_aside": aside, **rests_on}
    # A second post, or a second look, hangs on the same stops: it is no further fill.
    if all(row.party != "staff" for row in standing):
        facts_of = (act.conn, act.unit.station, fill, ppm(got.o2_uncertainty), meter.name)
        if found := departure(*facts_of):
            more["departure"] = found
    return enter_product(act, fill, got, "fill.analysed", more, (answers, standing))


def enter_product(
    act: Act,
    fill: FillRow,
    got: Measured,
    kind: str,
    more: dict[str, Any],
    beside: tuple[Sequence[gates.Gate], Sequence[AnalysisRow]],
) -> Answer:
    """Enter an analysis of a finished mix beside what was asked and the readings that stand."""
    answers, standing = beside
    verdict = decision.decide(
        [decision.Reading(got.o2, got.he), *(reading_of(row) for row in standing)],
        wanted_mix(fill),
        limits_of(act, read.cylinder(act.conn, fill.serial), fill),
        helium_expected=fill.has_helium,
    )
    outcome = verdict.decision or "reject"
    state = "recheck" if outcome == "recheck" else "analysed"
    note = "; ".join(text for _, text in verdict.reasons)
    data = {
        "fill": fill.fill,
        "state": state,
        "decision": outcome,
        "note": note,
        **got.facts(),
        **more,
    }
    act.enter(kind, data, "analysed")
    facts: dict[str, Any] = {
        "o2": got.o2,
        "o2_uncertainty": got.o2_uncertainty,
        "he": got.he,
        "decision": outcome,
        "reasons": [{"code": code, "text": text} for code, text in verdict.reasons],
    }
    told = f"O2 {got.o2 * 100:.1f} % +- {got.o2_uncertainty * 100:.1f}: {outcome} ({note})."
    now = read.fill(act.conn, fill.fill)
    if state == "analysed" and (found := doubts(act.conn, now, act.rules)):
        told += f" MIND, a manager is asked before it is signed for: {'; '.join(found)}"
        facts["warnings"] = [{"code": "doubt", "text": one} for one in found]
    left = missing(fill.serial, read.analyses(act.conn, fill.fill, valid_only=True))
    if left and state == "analysed" and outcome != "reject":
        told += f" Now the other post, {' and '.join(left)}: a set is analysed at each."
        facts["posts_left"] = list(left)
    return Answer(fill.fill, state, answers, text=told, facts=facts)


def _outdone(act: Act, fill: FillRow, got: Measured, serial: str, posts: int) -> list[int]:
    """Return the earlier readings that a deciding one sets aside."""
    earlier = read.analyses(act.conn, fill.fill, valid_only=True)
    new = decision.Reading(got.o2, got.he)
    if posts > 1:
        return outdone_at_post(new, earlier, serial)
    noted = read.exceptions(act.conn, fill.fill)
    return outdone(new, earlier, {row.seq for row in noted if row.kind in _DOUBTS})


def _disputed_here(
    act: Act, fill: FillRow, meter: AnalyserRow, serial: str, earlier: Sequence[AnalysisRow]
) -> list[int]:
    """Return the readings of a set's post that were in doubt, now that it is read anew.

    The first new reading may have ended the recheck: what the other post showed before on
    another setting was in the same doubt.
    """
    noted = [row for row in read.exceptions(act.conn, fill.fill) if row.kind == "recheck"]
    doubted = max((row.seq for row in noted if row.at_us >= fill.started_us), default=0)
    return [
        row.seq
        for row in earlier
        if row.party == "staff"
        and row.serial == serial
        and "+" in fill.serial
        and row.seq <= doubted
        and (row.analyser != meter.name or row.at_us < meter.calibrated_us)
    ]


def wanted_mix(fill: FillRow) -> Mix:
    """Return the mix a fill was asked for."""
    return mix(fraction(fill.want_o2_ppm), fraction(fill.want_he_ppm))


def limits_of(act: Act, cylinder: CylinderRow, fill: FillRow) -> decision.Limits:
    """Return what cylinder and diver may have."""
    most = None if cylinder.clean else act.rules.clean_above_o2
    customer = read.person(act.conn, fill.customer)
    level = customer.certified if customer else ""
    diver = {"air": 0.22}.get(level)
    return decision.Limits(most, diver, diver_helium=level in ("", "trimix"))
