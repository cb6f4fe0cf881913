"""At the panel: start, read the gauge, stop part-way and go on again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from blender.errors import InputError
from blender.gas import mix
from blender.record import read
from blender.record.models import FillRow
from blender.record.text import clean_text
from blender.station import gates
from blender.station.actor import Actor
from blender.station.ahead import is_active, what_next
from blender.station.answer import Answer
from blender.station.asking import LetIn, end_oxygen_service, fitness_gates, last_air_test
from blender.station.bank_gates import bank_gate
from blender.station.contents import (
    ambient_bar,
    as_umol,
    contents,
    gases_let_in,
    holds_text,
)
from blender.station.desk import Act, Station
from blender.station.gauge import typed_reading
from blender.station.gauges import as_corrected, correction_note, minded
from blender.station.numbers import fraction, mbar
from blender.station.other_site import away_gates
from blender.station.planning import stamp_gates
from blender.station.resting import rest_gate, waits_for_rest, with_caution
from blender.station.set_apart import open_fills_of, quarantine_gate
from blender.station.taking import Taken, take, told
from blender.vessel import Contents, resume_check


def start(
    station: Station,
    actor: Actor,
    number: int,
    *,
    serial: str,
    isolator: str = "",
    at_hand: bool = False,
) -> Answer:
    """Start letting gas in, once the cylinder in hand is the one that was planned for.

    With somebody `at_hand`, at the Panel, a second fill of a cylinder that is in another is
    stopped; otherwise it is said.

    Raises
    ------
    InputError
        If there is no such fill.
    """
    if isolator not in ("", "open", "closed"):
        raise InputError("--isolator", repr(isolator), "answer open or closed")
    with station.act(actor, "start") as act:
        fill, where = act.fill(number)
        cylinder = read.cylinder(act.conn, fill.serial)
        steps = read.steps(act.conn, number)
        answers = [where, *start_gates(act, fill, serial, isolator, at_hand=at_hand)]
        if refused := act.refused(fill, answers):
            return refused
        act.enter("fill.started", {"fill": number, "serial": serial.strip()}, "filled")
        rest_min = act.rules.advised_rest_minutes
        facts = what_next(fill, contents(fill, cylinder), steps, 0, rest_min=rest_min)
        facts = minded(act.conn, fill, steps, facts)
    unseen = cylinder.posts > 1 and not isolator
    mind = "Mind the isolator: nobody said it is open. " if unseen else ""
    text = f"Started. {mind}{facts['next_text']}"
    return Answer(number, "filling", answers, text=text, facts=facts)


def start_gates(
    act: Act, fill: FillRow, serial: str, isolator: str = "", *, at_hand: bool = False
) -> list[gates.Gate]:
    """Ask whether the cylinder in hand may be filled as planned."""
    cylinder, steps = read.cylinder(act.conn, fill.serial), read.steps(act.conn, fill.fill)
    return [
        gates.identity(fill.serial, serial),
        quarantine_gate(act.conn, fill.serial),
        gates.alone(_others(act, fill), at_hand=at_hand),
        *away_gates(act.conn, cylinder, gases_let_in(steps), act.rules, at_hand=at_hand),
        *stamp_gates(act, cylinder),
        gates.oxygen_clean(cylinder.clean, gases_let_in(steps), act.rules),
        gates.isolator(cylinder.posts, isolator),
        bank_gate(act.conn, steps, at_hand=at_hand),
        *_certified(act, fill),
        *fitness_gates(act, fill, cylinder, LetIn.of(steps), method=last_method(fill)),
    ]


def _others(act: Act, fill: FillRow) -> list[tuple[int, str]]:
    """Return the other fills of a cylinder that let gas in and have not come to an end.

    One in quarantine is asked for by a gate of its own.
    """
    return [
        (row.fill, row.state if row.serial == fill.serial else f"{row.state} as {row.serial}")
        for row in open_fills_of(act.conn, fill.serial)
        if row.fill != fill.fill and row.state not in ("requested", "planned", "quarantined")
    ]


def last_method(fill: FillRow) -> str:
    """Return the method of the plan in force: the last of those that let gas in."""
    return fill.method.rpartition(" + ")[2]


def _certified(act: Act, fill: FillRow) -> list[gates.Gate]:
    """Ask whether the diver may take the gas that is wanted."""
    customer = read.person(act.conn, fill.customer)
    wanted = mix(fraction(fill.want_o2_ppm), fraction(fill.want_he_ppm))
    return [gates.certification(customer.certified if customer else "", wanted)]


def reading(
    station: Station,
    actor: Actor,
    number: int,
    *,
    at: str = "",
    temperature: str = "",
    kind: str = "gas",
    gauge: str = "",
    scale: str = "",
    waive: str = "",
) -> Answer:
    """Enter what the gauge shows; it is stored whatever it means.

    A reading at the stop (brought to the gas's temperature) closes the step.  One below is
    kept as how far it got; one beyond closes it and says what the mix will become.  A wall
    or room temperature taken while gas is going in never stands for the gas's.  Where a
    station's rule asks for a rest, the second reading waits for it, unless a manager gives a
    reason to `waive` it.  By mass the `scale` may be read instead of gauge and temperature.

    Raises
    ------
    InputError
        If a value cannot be read.
    """
    typed = typed_reading(at, temperature, kind, gauge, scale)
    with station.act(actor, "reading") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where], typed.facts()):
            return refused
        answers, caution = [where], ""
        if waits_for_rest(fill, read.steps(act.conn, number)):
            gate, caution = rest_gate(act, fill, waive)
            answers.append(gate)
            if refused := act.refused(fill, answers, typed.facts()):
                return refused
        taken = take(
            act, fill, typed, act.now.us, read.readings(act.conn, number, standing_only=True)
        )
        act.enter("fill.reading", taken.facts(), "read")
        answer = _minded(act, taken, told(act, taken, answers))
    return with_caution(answer, caution if taken.outcome.closes else "")


def _minded(act: Act, taken: Taken, answer: Answer) -> Answer:
    """End oxygen service where ordinary air has just been let in, and say so."""
    step, test = taken.steps[taken.fill.step], last_air_test(act)
    had_air = any(one.airy for one in LetIn.of([step])) and any(taken.facts()["added_umol"])
    if not (had_air and taken.cylinder.clean and test) or test.is_compatible(act.rules):
        return answer
    why = f"ordinary air was let in, {test.oil_mg:g} mg/m3 oil"
    end_oxygen_service(act, taken.cylinder, why)
    told_too = f"{answer.text} Oxygen service has ended: {why}."
    return replace(answer, text=told_too)


def hold(station: Station, actor: Actor, number: int, *, reason: str) -> Answer:
    """Stop part-way: power, shift, fault.

    Raises
    ------
    InputError
        If no reason is given.
    """
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "hold") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where]):
            return refused
        inside = contents(fill, read.cylinder(act.conn, fill.serial))
        act.enter("fill.held", {"fill": number, "was": fill.state, "reason": why}, "held")
    told = f"Held. {holds_text(inside)} (calculated) - DO NOT BREATHE. Hang the tag on it."
    return Answer(number, "held", [where], text=told, facts=_expected(fill, inside))


def _expected(fill: FillRow, inside: Contents) -> dict[str, Any]:
    mix, around = inside.mix, ambient_bar(fill)
    shown = {f"{c}C": inside.gauge_bar(float(c), around) for c in (5, 10, 15, 20, 25, 30)}
    return {
        "holds": {"o2": mix.o2, "he": mix.he},
        "holds_text": f"{holds_text(inside)} - DO NOT BREATHE",
        "gauge_should_show_bar": shown,
    }


def resume(
    station: Station, actor: Actor, number: int, *, serial: str, at: str, temperature: str
) -> Answer:
    """Go on with a held fill, after its identity and a new reading agree with the record.

    Raises
    ------
    InputError
        If a value cannot be read.
    """
    as_shown = typed_reading(at, temperature)
    with station.act(actor, "resume") as act:
        fill, where = act.fill(number)
        cylinder = read.cylinder(act.conn, fill.serial)
        apart = quarantine_gate(act.conn, fill.serial)
        early = [where, gates.identity(fill.serial, serial), apart]
        if refused := act.refused(fill, early, as_shown.facts()):
            return refused
        steps = read.steps(act.conn, number)
        typed = as_corrected(act.conn, steps[min(fill.step, len(steps) - 1)], as_shown)
        shown, gas_c = typed.gauge_bar, typed.temperature_c
        inside = contents(fill, cylinder)
        check = resume_check(inside, shown, gas_c, ambient_bar(fill))
        answers = [*early, gates.leak(check.expected_bar, shown, check.missing_fraction, act.rules)]
        facts = _resume_facts(check.expected_bar, check.missing_mol, check.missing_fraction)
        if refused := act.refused(fill, answers, typed.facts()):
            return _with_facts(refused, facts)
        to_do = is_active(steps[fill.step :])  # a plan made while it was held may say more
        data = {
            "fill": number,
            "state": "resting" if fill.resumes_to == "resting" and not to_do else "filling",
            "serial": serial.strip(),
            "expected_mbar": mbar(check.expected_bar),
            "contents_umol": as_umol(inside),
            "note": "",
            **typed.facts(),
        }
        act.enter("fill.resumed", data, "resumed")
        rest_min = act.rules.advised_rest_minutes
        ahead = what_next(fill, inside, steps, fill.step, gas_c, rest_min)
        facts |= minded(act.conn, fill, steps, ahead)
    told = " ".join(
        part
        for part in (f"{answers[-1].reason}.", correction_note(typed), facts["next_text"])
        if part
    )
    return Answer(number, data["state"], answers, text=told, facts=facts)


def _resume_facts(expected_bar: float, missing_mol: float, share: float) -> dict[str, Any]:
    return {
        "expected_bar": expected_bar,
        "missing_mol": missing_mol,
        "missing_fraction": share,
    }


def _with_facts(answer: Answer, facts: dict[str, Any]) -> Answer:
    return Answer(answer.fill, answer.state, answer.gates, answer.done, answer.text, facts)
