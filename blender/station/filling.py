"""At the panel: start, read the gauge, stop part-way and go on again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from blender.errors import InputError
from blender.gas import AIR_N2
from blender.record import read
from blender.record.models import FillRow, StepRow
from blender.record.text import clean_text
from blender.station import gates
from blender.station.actor import Actor
from blender.station.ahead import ADDS, is_active, what_next
from blender.station.answer import Answer
from blender.station.contents import (
    ambient_bar,
    as_umol,
    contents,
    gas_of,
    gases_let_in,
    holds_text,
)
from blender.station.desk import Act, Station
from blender.station.gauge import GaugeReading, typed_reading
from blender.station.judging import Outcome, understand
from blender.station.numbers import bar, celsius, mbar, micromol
from blender.station.planning import pressure_gates, stamp_gates
from blender.station.wording import pressure_text, temperature_text
from blender.vessel import Contents, added_to_reach, resume_check

MINUTE_US = 60_000_000


def start(
    station: Station, actor: Actor, number: int, *, serial: str, isolator: str = ""
) -> Answer:
    """Start letting gas in, once the cylinder in hand is the one that was planned for.

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
        answers = [
            where,
            gates.identity(fill.serial, serial),
            *stamp_gates(act, cylinder),
            gates.oxygen_clean(cylinder.clean, gases_let_in(steps), act.rules),
            gates.isolator(cylinder.posts, isolator),
        ]
        if refused := act.refused(fill, answers):
            return refused
        act.enter("fill.started", {"fill": number, "serial": serial.strip()}, "filled")
        facts = what_next(fill, contents(fill, cylinder), steps, 0)
    return Answer(number, "filling", answers, text=f"Started. {facts['next_text']}", facts=facts)


def reading(
    station: Station,
    actor: Actor,
    number: int,
    *,
    at: str,
    temperature: str,
    kind: str = "gas",
    gauge: str = "",
) -> Answer:
    """Enter what the gauge shows; it is stored whatever it means.

    A reading at the stop (brought to the gas's temperature) closes the step.  One below is
    kept as how far it got; one beyond closes it and says what the mix will become.  A wall
    or room temperature taken while gas is going in never stands for the gas's.

    Raises
    ------
    InputError
        If a value cannot be read.
    """
    typed = typed_reading(at, temperature, kind, gauge)
    shown, gas_c = typed.gauge_bar, typed.temperature_c
    with station.act(actor, "reading") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where], typed.facts()):
            return refused
        cylinder = read.cylinder(act.conn, fill.serial)
        steps = read.steps(act.conn, number)
        before = contents(fill, cylinder)
        if _is_gas_temperature(act, fill, kind):
            outcome = understand(act.rules, fill, before, steps, shown, gas_c)
        else:
            note = _not_gas(kind)
            outcome = Outcome(before, fill.step, closes=False, notes=(note,), counts=False)
        state = _state_after(fill, steps, outcome)
        data = _reading_entry(fill, steps, before, typed, outcome, state)
        act.enter("fill.reading", data, "read")
        around = ambient_bar(fill)
        checks = pressure_gates(act, cylinder, outcome.inside, around)
        here_c = gas_c if outcome.counts else None
        facts = what_next(fill, outcome.inside, steps, outcome.step, here_c)
    facts |= {"reading": {"pressure_bar": shown, "temperature_c": gas_c, "kind": kind}}
    facts |= {"closes": outcome.closes, "warnings": _warnings(outcome)}
    told = " ".join(text for _, text in outcome.notes)
    if over := [gate.reason for gate in checks if gate.answer == gates.STOP]:
        told = f"STOP, bleed down: {over[0]}. {told}"
    text = f"{_echo(fill, shown, gas_c, kind)} {told} {facts['next_text']}".replace("  ", " ")
    return Answer(number, state, [where, *checks], text=text, facts=facts)


def _warnings(outcome: Outcome) -> list[dict[str, str]]:
    return [{"code": code, "text": text} for code, text in outcome.notes]


def _echo(fill: FillRow, gauge_bar: float, temperature_c: float, kind: str) -> str:
    shown, warmth = pressure_text(fill, gauge_bar), temperature_text(fill, temperature_c)
    return f"Read {shown} at {warmth} ({kind})."


def _not_gas(kind: str) -> tuple[str, str]:
    return (
        "temperature-not-gas",
        f"The {kind}'s temperature is not the gas's while filling: kept, but no step is closed "
        "by it. Give the gas's temperature, or let it rest.",
    )


def _is_gas_temperature(act: Act, fill: FillRow, kind: str) -> bool:
    """A wall or room temperature stands for the gas's only after a rest."""
    if kind == "gas":
        return True
    done = [r.at_us for r in read.readings(act.conn, fill.fill) if r.number < fill.step]
    last_us = max([*done, fill.started_us])
    return fill.state == "resting" and (
        act.now.us - last_us >= act.rules.settle_minutes * MINUTE_US
    )


def _state_after(fill: FillRow, steps: Sequence[StepRow], outcome: Outcome) -> str:
    """Resting begins when nothing more is to be let in or out."""
    if fill.state == "resting":
        return "resting"
    return "filling" if is_active(steps[outcome.step :]) else "resting"


def _reading_entry(
    fill: FillRow,
    steps: Sequence[StepRow],
    before: Contents,
    typed: GaugeReading,
    outcome: Outcome,
    state: str,
) -> dict[str, Any]:
    step = steps[fill.step]
    gained = [new - old for new, old in zip(as_umol(outcome.inside), as_umol(before), strict=True)]
    adds = step.action in ADDS
    drawn = _drawn_mol(step, before, outcome, bar(step.to_mbar), ambient_bar(fill))
    return {
        "fill": fill.fill,
        "state": state,
        "step": fill.step,
        "next_step": outcome.step,
        "closes": outcome.closes,
        "counts": outcome.counts,
        "supply": step.supply if drawn > 0.0 else "",
        "drawn_umol": micromol(drawn),
        "added_umol": gained if adds else [0, 0, 0, 0],
        "contents_umol": as_umol(outcome.inside),
        "notes": [[code, text] for code, text in outcome.notes if code != "rest-first"],
        **typed.facts(),
    }


def _drawn_mol(
    step: StepRow, before: Contents, outcome: Outcome, up_to_bar: float, around: float
) -> float:
    """Return what left the step's supply [mol].

    A flow step names the oxygen's supply, but most of what it delivers is air, told by its
    nitrogen.  A purge lets gas in and out again: what was vented was drawn all the same.
    """
    gained = outcome.inside.total_mol - before.total_mol
    if step.action == "flow":
        nitrogen = outcome.inside.amounts_mol[2] - before.amounts_mol[2]
        return max(gained - nitrogen / AIR_N2, 0.0)
    if step.action == "purge" and outcome.closes:
        return added_to_reach(before, gas_of(step), up_to_bar, celsius(step.temp_mk), around)
    return gained if step.action == "add" else 0.0


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
    typed = typed_reading(at, temperature)
    shown, gas_c = typed.gauge_bar, typed.temperature_c
    with station.act(actor, "resume") as act:
        fill, where = act.fill(number)
        cylinder = read.cylinder(act.conn, fill.serial)
        early = [where, gates.identity(fill.serial, serial)]
        if refused := act.refused(fill, early, typed.facts()):
            return refused
        inside = contents(fill, cylinder)
        check = resume_check(inside, shown, gas_c, ambient_bar(fill))
        answers = [*early, gates.leak(check.expected_bar, shown, check.missing_fraction, act.rules)]
        facts = _resume_facts(check.expected_bar, check.missing_mol, check.missing_fraction)
        if refused := act.refused(fill, answers, typed.facts()):
            return _with_facts(refused, facts)
        steps = read.steps(act.conn, number)
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
        facts |= what_next(fill, inside, steps, fill.step, gas_c)
    told = f"{answers[-1].reason}. {facts['next_text']}"
    return Answer(number, data["state"], answers, text=told, facts=facts)


def _resume_facts(expected_bar: float, missing_mol: float, share: float) -> dict[str, Any]:
    return {
        "expected_bar": expected_bar,
        "missing_mol": missing_mol,
        "missing_fraction": share,
    }


def _with_facts(answer: Answer, facts: dict[str, Any]) -> Answer:
    return Answer(answer.fill, answer.state, answer.gates, answer.done, answer.text, facts)
