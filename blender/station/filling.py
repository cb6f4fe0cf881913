"""At the panel: start, read the gauge, stop part-way and go on again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from blender.errors import InputError
from blender.gas import AIR_N2, name_of
from blender.planning.supplies import TOP_NAME
from blender.record import read
from blender.record.models import FillRow, StepRow
from blender.record.text import clean_text
from blender.station import gates
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.contents import (
    ambient_bar,
    as_umol,
    contents,
    drained,
    gas_of,
    gases_let_in,
    holds_text,
    outlook,
    stop_bar,
)
from blender.station.desk import Act, Station
from blender.station.numbers import bar, celsius, mbar, micromol, millikelvin
from blender.station.planning import pressure_gates, stamp_gates
from blender.units import parse_gauge_pressure, parse_temperature
from blender.vessel import Contents, added_to_reach, resume_check

KINDS = ("gas", "wall", "room")
MINUTE_US = 60_000_000
_ADDS = ("add", "flow")
_DRAIN_SLACK_BAR = 0.05  # no gauge shows less; above it the drain is not done


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
        facts = _next(fill, contents(fill, cylinder), steps, 0)
    return Answer(number, "filling", answers, text=f"Started. {facts['next_text']}", facts=facts)


@dataclass(frozen=True, slots=True)
class _Typed:
    """A gauge reading as typed and as understood."""

    at: str
    temperature: str
    kind: str
    gauge: str

    @property
    def gauge_bar(self) -> float:
        return parse_gauge_pressure(self.at, "--at")

    @property
    def temperature_c(self) -> float:
        return parse_temperature(self.temperature, "--temperature")

    def facts(self) -> dict[str, Any]:
        return {
            "gauge_mbar": mbar(self.gauge_bar),
            "temp_mk": millikelvin(self.temperature_c),
            "kind": self.kind,
            "gauge": self.gauge,
            "typed": {"at": self.at, "temperature": self.temperature},
        }


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What a reading means for the step it was taken in."""

    inside: Contents
    step: int
    closes: bool
    notes: tuple[tuple[str, str], ...] = ()
    counts: bool = True


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
    if kind not in KINDS:
        raise InputError("--kind", repr(kind), "temperature of the gas, wall or room")
    which = clean_text(gauge, "--gauge", 40, empty=True)
    typed = _Typed(at.strip(), temperature.strip(), kind, which)
    shown, gas_c = typed.gauge_bar, typed.temperature_c
    with station.act(actor, "reading") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where], typed.facts()):
            return refused
        cylinder = read.cylinder(act.conn, fill.serial)
        steps = read.steps(act.conn, number)
        before = contents(fill, cylinder)
        if _is_gas_temperature(act, fill, kind):
            outcome = _understand(act, fill, before, steps, shown, gas_c)
        else:
            note = _not_gas(kind)
            outcome = _Outcome(before, fill.step, closes=False, notes=(note,), counts=False)
        state = _state_after(fill, steps, outcome)
        act.enter(
            "fill.reading", _reading_entry(fill, steps, before, typed, outcome, state), "read"
        )
        around = ambient_bar(fill)
        checks = pressure_gates(act, cylinder, outcome.inside, around)
        here_c = gas_c if outcome.counts else None
        facts = _next(fill, outcome.inside, steps, outcome.step, here_c)
    facts |= {"reading": {"pressure_bar": shown, "temperature_c": gas_c, "kind": kind}}
    facts |= {"closes": outcome.closes, "warnings": _warnings(outcome)}
    told = " ".join(text for _, text in outcome.notes)
    text = f"{_echo(shown, gas_c, kind)} {told} {facts['next_text']}".replace("  ", " ")
    return Answer(number, state, [where, *checks], text=text, facts=facts)


def _warnings(outcome: _Outcome) -> list[dict[str, str]]:
    return [{"code": code, "text": text} for code, text in outcome.notes]


def _echo(gauge_bar: float, temperature_c: float, kind: str) -> str:
    return f"Read {gauge_bar:.1f} bar at {temperature_c:.1f} degC ({kind})."


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


def _understand(
    act: Act,
    fill: FillRow,
    before: Contents,
    steps: Sequence[StepRow],
    shown_bar: float,
    gas_c: float,
) -> _Outcome:
    """Return what a reading at the gas's own temperature means."""
    step = steps[fill.step]
    tolerance, around = act.rules.pressure_tolerance_bar, ambient_bar(fill)
    if step.action in _ADDS:
        return _added(fill, before, steps, shown_bar, gas_c, tolerance)
    if step.action == "drain":
        stop = stop_bar(fill, before, step, gas_c)
        closes = shown_bar <= stop + _DRAIN_SLACK_BAR
        left = _let_out(before, shown_bar, gas_c, around)
        return _Outcome(left, fill.step + closes, closes, (_REST_FIRST,) if closes else ())
    if step.action == "rest" and fill.step > 0 and steps[fill.step - 1].action == "drain":
        return _rested(fill, before, steps, shown_bar, gas_c)
    if step.action == "purge":
        vented = bar(step.from_mbar)
        if shown_bar > vented + tolerance:
            return _Outcome(before, fill.step, closes=False, notes=(_not_vented(vented),))
        purged = _purged(before, step, shown_bar, gas_c, around)
        return _Outcome(purged, fill.step + 1, closes=True)
    return _settled(act, before, fill, shown_bar, gas_c)


_REST_FIRST = (
    "rest-first",
    "A quick bleed cools the gas and the gauge will rise again: let it rest, then read a "
    "second time before anything goes in.",
)


def _not_vented(to_bar: float) -> tuple[str, str]:
    return "not-vented", f"Purge: let it mix, vent to {to_bar:.1f} bar, then read again."


def _let_out(before: Contents, shown_bar: float, gas_c: float, around: float) -> Contents:
    if shown_bar >= before.gauge_bar(gas_c, around):
        return before
    return drained(before, shown_bar, gas_c, around)


def _rested(
    fill: FillRow, before: Contents, steps: Sequence[StepRow], shown_bar: float, gas_c: float
) -> _Outcome:
    """Judge the second reading after a drain: only at or below the stop does it count."""
    drain, around = steps[fill.step - 1], ambient_bar(fill)
    target = drained(before, bar(drain.to_mbar), celsius(drain.temp_mk), around)
    stop = target.gauge_bar(gas_c, around)
    now = drained(before, shown_bar, gas_c, around)
    if shown_bar <= stop + _DRAIN_SLACK_BAR:
        return _Outcome(now, fill.step + 1, closes=True)
    told = f"It rose to {shown_bar:.1f} bar, the stop is {stop:.1f} bar here: bleed on, rest, read."
    return _Outcome(now, fill.step - 1, closes=False, notes=(("rebound", told),))


def _purged(
    before: Contents, step: StepRow, shown_bar: float, gas_c: float, around: float
) -> Contents:
    """Return the contents after oxygen was let in to the purge's pressure and vented again."""
    gas, up_to, planned_c = gas_of(step), bar(step.to_mbar), celsius(step.temp_mk)
    filled = before.with_gas(gas, added_to_reach(before, gas, up_to, planned_c, around))
    return drained(filled, shown_bar, gas_c, around)


def _added(
    fill: FillRow,
    before: Contents,
    steps: Sequence[StepRow],
    shown_bar: float,
    gas_c: float,
    tolerance: float,
) -> _Outcome:
    """Judge a reading while gas goes in."""
    step, around = steps[fill.step], ambient_bar(fill)
    floor = before.gauge_bar(gas_c, around)
    if shown_bar < floor - tolerance:
        why = f"The gas already in shows {floor:.1f} bar at {gas_c:.1f} degC; a leak, or misread?"
        return _Outcome(before, fill.step, closes=False, notes=(("below-contents", why),))
    gas = gas_of(step)
    inside = before
    if shown_bar > floor:
        inside = before.with_gas(gas, added_to_reach(before, gas, shown_bar, gas_c, around))
    stop = stop_bar(fill, before, step, gas_c)
    # A small step is not closed by a reading taken before anything went in.
    tolerance = min(tolerance, 0.25 * max(bar(step.to_mbar - step.from_mbar), 0.0))
    if shown_bar < stop - tolerance:
        return _Outcome(inside, fill.step, closes=False)
    notes: tuple[tuple[str, str], ...] = ()
    if shown_bar > stop + tolerance:
        notes = (_overshoot(fill, inside, steps, shown_bar, stop),)
    return _Outcome(inside, fill.step + 1, closes=True, notes=notes)


def _overshoot(
    fill: FillRow, inside: Contents, steps: Sequence[StepRow], shown_bar: float, stop: float
) -> tuple[str, str]:
    end = outlook(fill, inside, steps[fill.step + 1 :]).mix
    return (
        "beyond-stop",
        f"{shown_bar:.1f} bar is beyond the stop of {stop:.1f} bar: going on as planned gives "
        f"O2 {end.o2 * 100:.2f} %. Plan again before more goes in.",
    )


def _settled(act: Act, before: Contents, fill: FillRow, shown_bar: float, gas_c: float) -> _Outcome:
    """Judge a reading while the filled cylinder rests: the amount follows the gauge."""
    around = ambient_bar(fill)
    expected = before.gauge_bar(gas_c, around)
    notes: tuple[tuple[str, str], ...] = ()
    if abs(expected - shown_bar) > act.rules.leak_tolerance_bar:
        told = f"The gauge should show {expected:.1f} bar at {gas_c:.1f} degC: leak, or wrong heat?"
        notes = (("unexpected-pressure", told),)
    return _Outcome(drained(before, shown_bar, gas_c, around), fill.step, False, notes)


def _state_after(fill: FillRow, steps: Sequence[StepRow], outcome: _Outcome) -> str:
    """Resting begins when nothing more is to be let in or out."""
    if fill.state == "resting":
        return "resting"
    return "filling" if _is_active(steps[outcome.step :]) else "resting"


def _is_active(steps: Sequence[StepRow]) -> bool:
    """Tell whether anything is still to be let in or out."""
    return any(step.action in (*_ADDS, "drain", "purge") for step in steps)


def _reading_entry(
    fill: FillRow,
    steps: Sequence[StepRow],
    before: Contents,
    typed: _Typed,
    outcome: _Outcome,
    state: str,
) -> dict[str, Any]:
    step = steps[fill.step]
    gained = [new - old for new, old in zip(as_umol(outcome.inside), as_umol(before), strict=True)]
    adds = step.action in _ADDS
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
        "notes": [text for code, text in outcome.notes if code != "rest-first"],
        **typed.facts(),
    }


def _drawn_mol(
    step: StepRow, before: Contents, outcome: _Outcome, up_to_bar: float, around: float
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


def _next(
    fill: FillRow,
    inside: Contents,
    steps: Sequence[StepRow],
    at: int,
    now_c: float | None = None,
) -> dict[str, Any]:
    """Return what is in the cylinder, what comes next, and where it leads."""
    end = outlook(fill, inside, steps[at:]).mix
    mix = inside.mix
    facts: dict[str, Any] = {
        "holds": {"o2": mix.o2, "he": mix.he},
        "holds_text": f"{holds_text(inside)} - DO NOT BREATHE",
        "leads_to": {"o2": end.o2, "he": end.he},
    }
    step = steps[at] if at < len(steps) else None
    facts["next"] = {"step": at, "action": step.action if step else "analyse"}
    if step is None or step.action in ("rest", "analyse"):
        waits = "let it rest, then read a second time"
        if not _is_active(steps[at:]):
            waits = "let it settle and mix, then analyse"
        facts["next_text"] = f"Next: {waits}."
        return facts
    stop, at_c = bar(step.to_mbar), celsius(step.temp_mk)
    here_c = at_c if now_c is None else now_c
    here = stop if here_c == at_c else stop_bar(fill, inside, step, here_c)
    facts["next"] |= {"supply": step.supply, "to_bar": stop, "temperature_c": at_c}
    facts["next"] |= {"to_bar_here": here, "here_c": here_c}
    facts["next_text"] = f"Next: {_what(step)} to {max(stop, 0.0):.1f} bar at {at_c:.1f} degC."
    if here_c != at_c:
        facts["next_text"] = (
            f"Next: {_what(step)} to {max(here, 0.0):.1f} bar at {here_c:.1f} degC "
            f"({max(stop, 0.0):.1f} bar at the planned {at_c:.1f} degC)."
        )
    return facts


def _what(step: StepRow) -> str:
    """Return what a step does, in the words of the panel."""
    if step.action == "drain":
        return "drain"
    gas = name_of(gas_of(step), 1) if step.action != "flow" else "air with oxygen"
    return f"{step.action} {gas}" + (f" from {step.supply}" if step.supply != TOP_NAME else "")


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
    typed = _Typed(at.strip(), temperature.strip(), "gas", "")
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
        to_do = _is_active(steps[fill.step :])  # a plan made while it was held may say more
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
        facts |= _next(fill, inside, steps, fill.step, gas_c)
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
