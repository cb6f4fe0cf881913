"""At the counter: the diver checks and signs for the cylinder, and leaves with it."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass

from blender import analysis, decision
from blender.errors import InputError
from blender.gas import Mix, mix
from blender.record import read, search, shop
from blender.record.anchor import parse_anchor, printed_head
from blender.record.entry import Entry
from blender.record.models import AnalysisRow, FillRow
from blender.record.text import clean_text
from blender.station import fitness, gates
from blender.station.actor import Actor
from blender.station.analysing import Measured, limits_of, measure, wanted_mix
from blender.station.answer import Answer
from blender.station.asked_again import before_handing_over, before_signing, set_apart
from blender.station.asking import LetIn, fitness_gates
from blender.station.contents import ambient_bar, contents
from blender.station.desk import Act, Station
from blender.station.doubts import lost_gas
from blender.station.numbers import fraction, ppm
from blender.station.outdone import reading_of
from blender.station.planning import pressure_gates, stamp_gates
from blender.station.posts import large
from blender.station.stated import Basis, basis, depths
from blender.station.strokes import Stroke, kept
from blender.units import STANDARD_AMBIENT_PA


def accept(
    station: Station,
    actor: Actor,
    number: int,
    *,
    name: str,
    reading: str,
    helium: str | None = None,
    strokes: Sequence[Stroke] = (),
    at_hand: bool = False,
) -> Answer:
    """Let the diver sign for the cylinder with a reading of their own.

    Their name and strokes lie in a private row under their own key; the journal keeps a
    commitment to them, sealed by the station.  A reading that disagrees with the station's
    sends the fill to `recheck`: nothing is signed.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        The member of staff who hands over.
    number : int
        The fill.
    name : str
        The name the diver signs with.
    reading, helium : str
        What the diver read [%]; helium where it was measured.
    strokes : sequence of strokes
        A drawn signature, points in 1/1000 of its box.
    at_hand : bool
        Whether somebody stands by: then a cylinder held at another station is a stop.

    Raises
    ------
    InputError
        If a value cannot be read, or helium is needed and not given.
    """
    printed, drawn = clean_text(name, "--name"), kept(strokes)
    theirs = measure(reading, helium, analysis.unstated_calibration(), STANDARD_AMBIENT_PA)
    with station.act(actor, "accept") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where], theirs.facts()):
            return refused
        standing = read.analyses(act.conn, number, valid_only=True)
        apart = set_apart(act, fill, at_hand=at_hand)
        answers = [where, *apart, *_gates(act, fill, standing, theirs, printed)]
        if refused := act.refused(fill, answers, theirs.facts()):
            return refused
        verdict = _verdict(act, fill, standing, theirs)
        note = "; ".join(text for _, text in verdict.reasons)
        if verdict.decision == "recheck":
            return _dispute(act, fill, theirs, note, answers, printed)
        answers.append(gates.decision(verdict.decision or "reject", note))
        if refused := act.refused(fill, answers, theirs.facts()):
            return refused
        entry = _sign(act, fill, theirs, standing, printed, drawn, verdict.decision or "")
        mind = _for_whom(act, fill, printed)
    statement = entry.data["label"]
    facts = {
        "decision": verdict.decision,
        "label": statement,
        "anchor": entry.anchor.text,
        "seq": entry.seq,
    }
    told = f"Accepted by {printed}: O2 {statement['o2_ppm'] / 1e4:.1f} %. {note}{mind}"
    return Answer(number, "accepted", answers, text=told, facts=facts)


def dispute(
    station: Station, actor: Actor, number: int, *, reading: str, helium: str | None = None
) -> Answer:
    """Enter a diver's reading that disagrees with the station's; nobody signs.

    Raises
    ------
    InputError
        If a value cannot be read, or the readings agree.
    """
    theirs = measure(reading, helium, analysis.unstated_calibration(), STANDARD_AMBIENT_PA)
    with station.act(actor, "accept") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where], theirs.facts()):
            return refused
        standing = read.analyses(act.conn, number, valid_only=True)
        verdict = _verdict(act, fill, standing, theirs)
        if verdict.decision != "recheck":
            raise InputError("reading", reading[:20], "it agrees with the station's")
        note = "; ".join(text for _, text in verdict.reasons)
        return _dispute(act, fill, theirs, note, [where], "")


def _verdict(
    act: Act, fill: FillRow, standing: Sequence[AnalysisRow], theirs: Measured
) -> decision.Verdict:
    own = decision.Reading(theirs.o2, _helium(theirs, standing))
    return decision.decide(
        [*(reading_of(row) for row in standing), own],
        wanted_mix(fill),
        limits_of(act, read.cylinder(act.conn, fill.serial), fill),
        helium_expected=fill.has_helium,
    )


def ask_leave(
    station: Station, actor: Actor, number: int, *, reading: str = "", helium: str | None = None
) -> bool:
    """Ask what is asked at signing, before the diver is asked to sign; nothing is entered.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        The member of staff who hands over.
    number : int
        The fill.
    reading, helium : str
        What the diver read [%]; empty where they did not yet.

    Raises
    ------
    LeaveNeededError
        If a manager is to be asked first; only where the station asks first.
    """
    with station.act(actor, "accept") as act:
        fill, where = act.fill(number)
        standing = read.analyses(act.conn, number, valid_only=True)
        staff = [row for row in standing if row.party == "staff"]
        if where.answer == gates.PASS and staff:
            shown = reading or f"{large(fill.serial, standing).o2_ppm / 1e4:.2f}"
            theirs = measure(shown, helium, analysis.unstated_calibration(), STANDARD_AMBIENT_PA)
            name = _customer_name(act, fill)
            act.ask_first(fill, _gates(act, fill, standing, theirs, name))
    return True


def is_representative(signer: str, customer: str) -> bool:
    """Tell whether whoever signs is, by the name, another than the customer.

    Examples
    --------
    >>> is_representative("kai  diver", "Kai Diver"), is_representative("Uma Neu", "Kai Diver")
    (False, True)
    """
    return bool(customer) and fitness.plain_name(signer) != fitness.plain_name(customer)


def _customer_name(act: Act, fill: FillRow) -> str:
    person = read.person(act.conn, fill.customer)
    return (person.name or "") if person else ""


def _for_whom(act: Act, fill: FillRow, printed: str) -> str:
    """Say where somebody else than the customer signed; empty where they did themselves."""
    customer = _customer_name(act, fill)
    if not is_representative(printed, customer):
        return ""
    return f" Mind: {printed} signed for the customer {customer}, recorded as representative."


def _helium(theirs: Measured, standing: Sequence[AnalysisRow]) -> float | None:
    """The diver may read oxygen only: helium was measured by the station."""
    if theirs.he is not None:
        return theirs.he
    return next((fraction(row.he_ppm) for row in standing if row.he_ppm >= 0), None)


def _gates(
    act: Act, fill: FillRow, standing: Sequence[AnalysisRow], theirs: Measured, printed: str
) -> list[gates.Gate]:
    cylinder = read.cylinder(act.conn, fill.serial)
    inside = contents(fill, cylinder)
    o2 = [row.o2_ppm / 1e4 for row in standing if row.party == "staff"]
    apart = max(o2) - min(o2) if o2 else None
    measured = any(row.he_ppm >= 0 for row in standing) or theirs.he is not None
    customer = read.person(act.conn, fill.customer)
    rich = max([theirs.o2, *(fraction(row.o2_ppm) for row in standing)])
    gas = analysis_mix(rich, standing)
    stated = fraction([row.o2_ppm for row in standing if row.party == "staff"][-1])
    return [
        gates.calculated(stated, inside.mix.o2, act.rules),
        lost_gas(act.conn, fill),
        gates.both_posts(fill.serial, [r.serial for r in standing if r.party == "staff"], apart),
        gates.helium_measured(fill.has_helium, measured),
        *pressure_gates(act, cylinder, inside, ambient_bar(fill)),
        gates.certification(customer.certified if customer else "", gas),
        *stamp_gates(act, cylinder),
        *fitness_gates(act, fill, cylinder, _let_in(act, fill), at_us=fill.started_us),
        *before_signing(act, fill, cylinder, standing),
        _parties(act, fill, standing, printed),
    ]


def _let_in(act: Act, fill: FillRow) -> list[LetIn]:
    return LetIn.of(read.steps(act.conn, fill.fill))


def _parties(act: Act, fill: FillRow, standing: Sequence[AnalysisRow], printed: str) -> gates.Gate:
    """Ask whether the one who signs as customer is none of the staff of this fill."""
    staff = {fill.blender, act.actor.person} | {r.person for r in standing if r.party == "staff"}
    names = search.names(act.conn, {*staff, fill.customer} - {""})
    customer = {printed, names.get(fill.customer, printed)}
    hands = [names[p] for p in staff if p in names]
    if (away := shop.brought(act.conn, fill.fill)) is not None:
        hands += away.filled_by.split(", ")
    return fitness.two_parties(customer, hands, act.rules)


def analysis_mix(o2: float, standing: Sequence[AnalysisRow]) -> Mix:
    """Return the mix of an oxygen fraction with the helium the station measured."""
    he = next((fraction(row.he_ppm) for row in reversed(standing) if row.he_ppm >= 0), 0.0)
    return mix(min(o2, 1.0 - he), he)


def _dispute(
    act: Act,
    fill: FillRow,
    theirs: Measured,
    note: str,
    answers: Sequence[gates.Gate],
    printed: str,
) -> Answer:
    """Enter a reading of the diver's that disagrees, and under which name it was typed."""
    gate = gates.Gate("readings-agree", gates.STOP, note)
    data = {
        "fill": fill.fill,
        "serial": fill.serial,
        "analyser": "",
        "decision": "recheck",
        "note": note,
        **({"person": fill.customer} if act.handed or printed else {}),
        **theirs.facts(),
    }
    if printed:
        row = f"dispute/{fill.fill}/{secrets.token_hex(5)}"
        content = {"name": printed, "strokes": []}
        data["private"] = row
        data["commitment"] = act.unit.commit_private(row, fill.customer, "acceptance", content)
    if printed and is_representative(printed, _customer_name(act, fill)):
        data["represents"] = fill.customer
    act.enter("fill.disputed", data, "read by the diver")
    told = f"No label: {note}"
    facts = {"decision": "recheck"}
    return Answer(fill.fill, "recheck", [*answers, gate], False, told, facts)


def _sign(
    act: Act,
    fill: FillRow,
    theirs: Measured,
    standing: Sequence[AnalysisRow],
    name: str,
    drawn: list[list[list[int]]],
    decision: str,
) -> Entry:
    """Enter the diver's acceptance, sealed by the station: what they sign is what is printed."""
    row = f"accept/{fill.fill}/{secrets.token_hex(5)}"
    content = {"name": name, "strokes": drawn}
    commitment = act.unit.commit_private(row, fill.customer, "acceptance", content)
    data = {
        "fill": fill.fill,
        "person": fill.customer,
        "private": row,
        "commitment": commitment,
        "serial": fill.serial,
        "analyser": "",
        "decision": decision,
        "label": statement(act, fill, theirs, standing).as_data(),
        **theirs.facts(),
    }
    if is_representative(name, _customer_name(act, fill)):
        data |= {"representative": True, "represents": fill.customer}
    return act.enter("fill.accepted", data, "handed over for signature", seal=True)


@dataclass(frozen=True, slots=True)
class Statement:
    """What a label states, in the journal's integers (depths in mm, to the safe side)."""

    o2_ppm: int
    he_ppm: int
    gauge_mbar: int
    temp_mk: int
    mod_mm: int
    mod_high_mm: int
    floor_mm: int
    rests_on: Basis

    def as_data(self) -> dict[str, int]:
        """The statement as journal data, what its depths rest on among it."""
        stated = {name: getattr(self, name) for name in self.__slots__ if name != "rests_on"}
        return stated | self.rests_on.as_data()


def statement(
    act: Act, fill: FillRow, theirs: Measured, standing: Sequence[AnalysisRow]
) -> Statement:
    """Return what the label states: the station's reading (a set's richest), the worst's limits."""
    rests_on = basis([ppm(theirs.o2), *(row.o2_ppm for row in standing)], act.rules)
    staff = large(fill.serial, standing)
    return Statement(
        o2_ppm=staff.o2_ppm,
        he_ppm=staff.he_ppm,
        gauge_mbar=fill.gauge_mbar,
        temp_mk=fill.temp_mk,
        rests_on=rests_on,
        **depths(rests_on).in_mm(),
    )


def collect(
    station: Station,
    actor: Actor,
    number: int,
    *,
    serial: str,
    label: str,
    at_hand: bool = False,
) -> Answer:
    """Hand the cylinder over, once its serial and its label have both been scanned.

    With somebody `at_hand` a cylinder held at another station is stopped; otherwise it is said.

    Raises
    ------
    InputError
        If there is no such fill.
    """
    with station.act(actor, "collect") as act:
        fill, where = act.fill(number)
        answers = [
            where,
            gates.identity(fill.serial, serial),
            _label_gate(act, fill, label),
            *_may_leave(act, fill, where, at_hand=at_hand),
        ]
        if refused := act.refused(fill, answers, {"serial": serial, "label": label[:200]}):
            return refused
        data = {"fill": number, "serial": serial.strip(), "label": label.strip()}
        act.enter("fill.collected", data, "handed over")
    return Answer(number, "collected", answers, text=f"Handed over {fill.serial}.")


def _may_leave(act: Act, fill: FillRow, where: gates.Gate, *, at_hand: bool) -> list[gates.Gate]:
    return before_handing_over(act, fill, at_hand=at_hand) if where.answer == gates.PASS else []


def _label_gate(act: Act, fill: FillRow, label: str) -> gates.Gate:
    """Is the label the one of this fill: scanned whole, or typed as it is printed for eyes?"""
    entry = read.entry(act.conn, act.station.record.station, fill.accepted_seq)
    if typed := printed_head(label):
        if entry is not None and entry.digest.hex().startswith(typed):
            return gates.Gate("label", gates.PASS, f"its printed head is of entry {entry.seq}")
        return gates.Gate("label", gates.STOP, "the head typed is not that of this fill's label")
    try:
        anchor = parse_anchor(label)
    except ValueError as error:
        return gates.Gate("label", gates.STOP, str(error))
    if entry is None or anchor != entry.anchor:
        told = f"the label is of {anchor.station} entry {anchor.seq}, not of this fill"
        return gates.Gate("label", gates.STOP, told)
    return gates.Gate("label", gates.PASS, f"label of entry {anchor.seq} matches")
