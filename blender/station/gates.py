"""The hard gates: pure questions about facts, each answered pass, ask the manager, or stop."""

from __future__ import annotations

import unicodedata
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from blender.gas import Mix, name_of
from blender.station.rules import Rules
from blender.station.states import NEXT, is_allowed

PASS, ASK, STOP = "pass", "ask", "stop"


@dataclass(frozen=True, slots=True)
class Gate:
    """What one gate answered, and the fact that decided.

    Parameters
    ----------
    gate : str
        The gate's name.
    answer : str
        ``pass``, ``ask`` (a manager may allow it) or ``stop`` (nobody may).
    reason : str
        The deciding fact, in a sentence.
    caution : bool
        Whether it only passed because the station has made no rule of it.
    """

    gate: str
    answer: str
    reason: str
    caution: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The answer as a JSON-ready dictionary."""
        told = {"gate": self.gate, "answer": self.answer, "reason": self.reason}
        return {**told, "caution": True} if self.caution else told


def storable(given: Any) -> Any:
    """Return what was scanned or typed, fit to be kept and shown even where it was refused.

    Anything a terminal could take for a command, or an eye for something else, is spelled
    out; no more than 200 characters are kept.
    """
    if not isinstance(given, str):
        return given
    text = unicodedata.normalize("NFC", given[:200])
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def refuses(gates: Iterable[Gate], role: str, allowed: Container[str] = ()) -> bool:
    """Return whether any gate keeps a person of this role from going on.

    Parameters
    ----------
    gates : iterable of Gate
        What was answered.
    role : str
        Whose.
    allowed : container of str
        Gates that a manager allowed for this fill, with a reason: they ask nobody else.
    """
    return any(
        g.answer == STOP or (g.answer == ASK and role != "manager" and g.gate not in allowed)
        for g in gates
    )


def order(act: str, state: str) -> Gate:
    """Is this act possible where the fill stands?"""
    if is_allowed(act, state):
        return Gate("order", PASS, f"{act} is possible while {state}")
    return Gate("order", STOP, f"{act} is not possible while {state}; next: {NEXT[state]}")


def identity(expected: str, scanned: str, what: str = "serial") -> Gate:
    """Is the cylinder in hand the cylinder of this fill?"""
    if expected == scanned.strip():
        return Gate("identity", PASS, f"{what} {expected} matches")
    shown = storable(scanned.strip()[:80]) or "nothing"
    return Gate("identity", STOP, f"{shown} was scanned, but this fill's {what} is {expected}")


def post_identity(serial: str, scanned: str) -> Gate:
    """Is this the cylinder, or one of the posts of the set, of this fill?"""
    if scanned.strip() in serial.split("+"):
        return Gate("identity", PASS, f"serial {scanned.strip()} is a post of {serial}")
    return identity(serial, scanned)


def periodic_test(tested: str, today: tuple[int, int], rules: Rules) -> Gate:
    """Is the periodic (hydrostatic) test in date? `today` is (year, month)."""
    year, month = (int(part) for part in tested.split("-"))
    good_until = (year + rules.test_years, month)
    until = f"{good_until[0]}-{good_until[1]:02d}"
    if (year, month) > today:
        return Gate("periodic-test", STOP, f"test date {tested} lies in the future; read the stamp")
    if today > good_until:
        return Gate("periodic-test", STOP, f"tested {tested}, good until {until}: out of test")
    return Gate("periodic-test", PASS, f"tested {tested}, good until {until}")


def inspection(inspected: str, today: tuple[int, int], rules: Rules) -> Gate:
    """Is the visual inspection in date? `today` is (year, month)."""
    year, month = (int(part) for part in inspected.split("-"))
    age = (today[0] - year) * 12 + today[1] - month
    fact = f"inspected {inspected}, interval {rules.inspection_months} months"
    if age < 0:
        return Gate("visual-inspection", STOP, f"{fact}: the date lies in the future")
    if age > rules.inspection_months:
        return Gate("visual-inspection", ASK, f"{fact}: overdue")
    return Gate("visual-inspection", PASS, fact)


def working_pressure(at_reference_bar: float, rated_bar: float, rules: Rules) -> Gate:
    """Is the settled pressure, brought to the reference temperature, within the rating?"""
    fact = (
        f"{at_reference_bar:.1f} bar at {rules.reference_c:g} degC, "
        f"working pressure {rated_bar:.1f} bar"
    )
    if at_reference_bar > rated_bar + rules.rating_tolerance_bar:
        return Gate("working-pressure", STOP, f"{fact}: too high")
    return Gate("working-pressure", PASS, fact)


def developed_pressure(at_hot_bar: float, test_bar: float, rules: Rules) -> Gate:
    """Does the pressure developed in the sun stay within the test pressure?"""
    fact = f"{at_hot_bar:.1f} bar at {rules.hot_c:g} degC, test pressure {test_bar:.1f} bar"
    if at_hot_bar > test_bar:
        return Gate("developed-pressure", STOP, f"{fact}: too high")
    return Gate("developed-pressure", PASS, fact)


def oxygen_clean(clean: bool, gases: Iterable[Mix], rules: Rules) -> Gate:
    """Is the cylinder in oxygen service for the richest gas that meets it?"""
    richest = max(gases, key=lambda gas: gas.o2, default=None)
    if richest is None or richest.o2 <= rules.clean_above_o2:
        return Gate("oxygen-clean", PASS, "no gas richer than the limit for ordinary service")
    fact = (
        f"{name_of(richest, 1)} meets it, limit without oxygen service {rules.clean_above_o2:.0%}"
    )
    if clean:
        return Gate("oxygen-clean", PASS, f"cylinder is in oxygen service; {fact}")
    return Gate("oxygen-clean", STOP, f"cylinder is not clean for oxygen; {fact}")


def residual(source: str, gauge_bar: float, gases: Iterable[Mix], rules: Rules) -> Gate:
    """Was what is left in the cylinder analysed, where oxygen is to go in?"""
    rich = any(gas.o2 > rules.clean_above_o2 for gas in gases)
    if source in ("analysed", "calculated") or not rich:
        return Gate("residual", PASS, f"residual is {source}")
    if gauge_bar < rules.empty_bar:
        return Gate("residual", PASS, f"residual is {source}, but only {gauge_bar:.1f} bar of it")
    return Gate(
        "residual",
        STOP,
        f"residual is only {source} and oxygen is to go in; analyse it first, or drain",
    )


def mixed_before_drain(*, drains: bool, unmixed: bool) -> Gate:
    """Would gas be let out that has not had time to mix?"""
    if drains and unmixed:
        why = (
            "gas let in since the last analysis may not have mixed, and the wrong gas would "
            "leave: hold, let it rest, analyse, then plan"
        )
        return Gate("mixed", STOP, why)
    return Gate("mixed", PASS, "nothing unmixed is let out")


def helium_measured(needed: bool, measured: bool) -> Gate:
    """Was helium measured wherever there may be some?"""
    if needed and not measured:
        return Gate("helium", STOP, "residual or plan has helium: a helium reading is needed")
    return Gate("helium", PASS, "helium measured" if measured else "no helium in residual or plan")


USUAL_NITROX = 0.40  # what many nitrox cards are for; common practice, no source
_LEVEL = {"air": 0, "nitrox": 1, "trimix": 2}


def alone(others: Sequence[tuple[int, str]], *, at_hand: bool) -> Gate:
    """Is no other fill of this cylinder going on, or waiting to be signed for or handed over?

    With somebody at the Panel it stops; a script that enters what was done elsewhere is told.
    """
    if not others:
        return Gate("one-fill", PASS, "no other fill of this cylinder is going on")
    told = ", ".join(f"fill {number} is {state}" for number, state in others)
    ways = "hand it over or reject it first, so that no label speaks of other gas than is in it"
    reason = f"of this cylinder {told}: {ways}"
    return Gate("one-fill", STOP if at_hand else PASS, reason, caution=not at_hand)


def certification(certified: str, gas: Mix) -> Gate:
    """May this diver take this gas, as far as the station knows?"""
    needed = "trimix" if gas.he > 0.005 else "nitrox" if gas.o2 > 0.22 else "air"
    if not certified:
        told = f"no diving card is on record of who gets this {needed}"
        return Gate("certification", PASS, told, caution=needed != "air")
    if _LEVEL[certified] >= _LEVEL[needed]:
        if needed == "nitrox" and certified == "nitrox" and gas.o2 > USUAL_NITROX + 0.005:
            told = f"certified for nitrox; {gas.o2:.0%} is richer than many such cards are for"
            return Gate("certification", PASS, told, caution=True)
        return Gate("certification", PASS, f"certified for {certified}")
    return Gate("certification", ASK, f"certified for {certified} only, this is {needed}")


def leak(expected_bar: float, read_bar: float, missing_share: float, rules: Rules) -> Gate:
    """Does the gauge show what should be there?"""
    fact = f"gauge should show {expected_bar:.1f} bar, shows {read_bar:.1f} bar"
    if abs(expected_bar - read_bar) <= rules.leak_tolerance_bar:
        return Gate("contents", PASS, f"{fact}: consistent")
    share = f"{abs(missing_share):.1%} of the gas {'missing' if missing_share > 0 else 'too much'}"
    return Gate("contents", STOP, f"{fact}: {share}; analyse what is in it, then plan again")


def calibrated(name: str, hours: float | None, rules: Rules) -> Gate:
    """Was the analyser set before it is believed?"""
    if hours is None:
        return Gate("calibration", STOP, f"{name} was never calibrated; calibrate it first")
    if hours > rules.calibration_hours:
        told = f"analyser {name} was last calibrated {hours:.0f} h ago"
        return Gate("calibration", ASK, f"{told}: set it afresh, then read again")
    return Gate("calibration", PASS, f"analyser {name} was calibrated {hours:.1f} h ago")


def in_use(name: str, retired: str) -> Gate:
    """Is the analyser still in use?"""
    if retired:
        return Gate("analyser", STOP, f"analyser {name} was retired: {retired}; use another")
    return Gate("analyser", PASS, f"analyser {name} is in use")


def rested(minutes: float, rules: Rules, waived: str) -> Gate:
    """Has it rested since gas went in or out, or does a manager waive it, and why?"""
    fact = f"{int(max(minutes, 0.0))} min since gas went in or out"
    if minutes >= rules.rest_minutes:
        return Gate("rest", PASS, fact)
    told = f"{fact}: let it rest {rules.rest_minutes} min"
    if waived:
        return Gate("rest", ASK, f"{told}; waived: {waived}")
    return Gate("rest", STOP, f"{told}; a manager may waive that, with a reason")


def fresh_meter(name: str, *, stale: bool) -> Gate:
    """In a recheck, is this another analyser, or one set afresh since it was doubted?"""
    if stale:
        why = f"{name} is one of the readings in doubt: use another, or calibrate it afresh"
        return Gate("recheck", STOP, why)
    return Gate("recheck", PASS, f"{name} is another or freshly set analyser")


def found_rich(clean: bool, gas: Mix, rules: Rules) -> Gate:
    """Was rich gas found in a cylinder that is not in oxygen service?"""
    if clean or gas.o2 <= rules.clean_above_o2:
        return Gate("found-rich", PASS, f"residual O2 {gas.o2:.1%} suits the cylinder's service")
    why = f"residual O2 {gas.o2:.1%} found in a cylinder that is not clean for oxygen"
    return Gate("found-rich", STOP, why)


def isolator(posts: int, answer: str) -> Gate:
    """Is the isolator of a set known to be open?"""
    if posts < 2:
        return Gate("isolator", PASS, "a single cylinder")
    if answer == "closed":
        return Gate("isolator", STOP, "the isolator is closed: open it, or half the set is missed")
    if answer == "open":
        return Gate("isolator", PASS, "isolator open")
    return Gate("isolator", PASS, "isolator not stated: look that it is open before gas goes in")


def both_posts(serial: str, analysed: Iterable[str], difference: float | None) -> Gate:
    """Was each post of a set analysed, and do they agree?

    A reading entered with the set's joined serial counts for one post, whichever it was.
    """
    posts, readings = serial.split("+"), list(analysed)
    count = len(set(readings) & set(posts)) + sum(one not in posts for one in readings)
    if count < len(posts):
        return Gate("set", STOP, f"a set is analysed at each post: {count} of {len(posts)} done")
    if difference is not None and difference > 0.5 + 1e-9:
        return Gate("set", STOP, f"posts differ by {difference:.1f} points O2: isolator, then mix")
    return Gate("set", PASS, "single cylinder" if len(posts) == 1 else "each post analysed")


def calculated(analysed_o2: float, calculated_o2: float, rules: Rules) -> Gate:
    """Does the analysis fit what is calculated to have been let in?"""
    fact = f"analysed O2 {analysed_o2:.1%}, calculated from the gauge {calculated_o2:.1%}"
    if abs(analysed_o2 - calculated_o2) * 100.0 <= rules.calculated_points:
        return Gate("calculated", PASS, fact)
    return Gate("calculated", ASK, f"{fact}: wrong cylinder, a dead cell, or a reading misplaced?")


def decision(answer: str, note: str) -> Gate:
    """Does the analysis allow this cylinder to be handed out?"""
    if answer in ("accept", "relabel"):
        return Gate("analysis", PASS, note or answer)
    return Gate("analysis", STOP, f"{answer}: {note}")
