"""Turning what the use cases answered into sentences.

Every figure and every verdict in a sentence is taken from an answer: were the planner or the
record to answer otherwise, another day would be told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from blender.gas import Mix, name_of
from blender.rounding import deeper, shallower
from blender.station.answer import Answer

Step = Mapping[str, Any]

AIR_SUPPLIES = ("top", "air")
_TOLD_WARNINGS = ("hot-stop", "hypoxic-step", "beyond-stop", "rebound", "rest-first")


def listed(parts: Sequence[str], word: str = "then") -> str:
    """Join parts into a phrase: ``a, b, then c``."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])}, {word} {parts[-1]}"


def varied(number: int, *forms: str) -> str:
    """Return one of several ways of saying the same, by the number of the fill."""
    return forms[number % len(forms)]


def capital(text: str) -> str:
    """Return a sentence with its first letter large and a stop at its end."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def source(step: Step) -> str:
    """Name what a step lets in: the supply, or what it is."""
    supply = step.get("supply") or ""
    if supply in AIR_SUPPLIES:
        return "air"
    gas = name_of(Mix(**step["gas"]), 1) if step.get("gas") else "gas"
    kind = "helium" if gas == "helium" else "oxygen"
    return f"{kind} from {supply}"


def stop(step: Step) -> str | None:
    """Return one stop of a plan as a phrase; None for steps without one."""
    action = step["action"]
    if action in ("rest", "analyse"):
        return None
    to = f"{round(step['to_bar'], 1) + 0.0:.1f} bar"  # -0.0 is 0.0 to people
    if action == "drain":
        return f"bleed to {to} and let it rest"
    if action == "purge":
        return f"purge once, to {to} with {source(step)} and out again"
    if action == "flow":
        damp, dry = step["intake_reading"] * 100, step["intake_o2"] * 100
        return (
            f"air and oxygen through the compressor to {to}, the intake meter held at {damp:.1f} % "
            f"in that damp air, {dry:.1f} % once dry"
        )
    warm = step["temperature_c"]
    return f"{source(step)} to {to}" + (f" at {warm:.0f} degC" if warm != 20.0 else "")


def planned(answer: Answer) -> list[str]:
    """Say what a plan asks for and what it promises."""
    plan = answer.facts["plan"]
    stops = [phrase for step in plan["steps"] if (phrase := stop(step))]
    result = plan["result"]
    promise = f"{result['o2'] * 100:.2f} % oxygen"
    if result["he"] > 0.0005:
        promise += f" and {result['he'] * 100:.2f} % helium"
    told = varied(
        answer.fill,
        f"The plan: {listed(stops)}. Hit to the mark, that makes {promise}.",
        f"The plan wanted {listed(stops)}, and promised {promise}.",
        f"Worked out: {listed(stops)}; at the end {promise}.",
    )
    return [told, *warned(plan["warnings"])]


def warned(warnings: Sequence[Mapping[str, str]], *, repeated: bool = True) -> list[str]:
    """Say the warnings that matter to the story, in the program's words.

    Without `repeated`, only those that nobody needs to hear twice.
    """
    codes = _TOLD_WARNINGS if repeated else ("rest-first",)
    return [capital(w["text"]) for w in warnings if w["code"] in codes]


def refused(answer: Answer) -> str:
    """Say which gates refused, and the fact that decided."""
    told = "; ".join(f"{gate.reason} (gate: {gate.gate})" for gate in answer.objections)
    return varied(
        answer.fill,
        f"The answer was no: {told}.",
        f"Refused, and the refusal entered: {told}.",
        f"The record would not have it: {told}.",
    )


def holds(answer: Answer) -> str:
    """Say what is calculated to be in the cylinder."""
    return str(answer.facts["holds_text"])


def read(answer: Answer, step: Step) -> list[str]:
    """Say what the gauge showed after a step, and what that means."""
    seen = answer.facts["reading"]
    at = f"{seen['pressure_bar']:.1f} bar with the gas at {seen['temperature_c']:.0f} degC"
    done = "" if answer.facts["closes"] else " Not there yet."
    if step["action"] == "drain":
        told = f"Bled down to {at}.{done}"
    elif step["action"] == "purge":
        told = f"Filled with {source(step)}, left to mix, vented to {at}."
    elif step["action"] == "rest":
        told = f"After the rest: {at}."
    elif step["action"] == "flow":
        told = f"The compressor was stopped at {at}.{done}"
    else:
        told = f"{capital(source(step))[:-1]}: stopped at {at}.{done}"
    found = [told, *warned(answer.facts["warnings"])]
    if step["action"] in ("add", "purge", "flow") and answer.state == "filling":
        ahead = answer.facts["leads_to"]["o2"] * 100
        found.append(f"In it now: {holds(answer)}; the rest of the plan leads to {ahead:.1f} %.")
    return found


def settled(answer: Answer) -> list[str]:
    """Say what the gauge showed when the cylinder had come to rest."""
    seen = answer.facts["reading"]
    at = f"{seen['pressure_bar']:.1f} bar at {seen['temperature_c']:.0f} degC"
    told = varied(
        answer.fill,
        f"Rested and mixed, it stood at {at}.",
        f"It was left alone until the needle stood still, at {at}.",
        f"When nothing moved any more the gauge showed {at}.",
    )
    return [told, *(capital(w["text"]) for w in answer.facts["warnings"])]


def measured(answer: Answer, meter: str, shown: float, post: str = "") -> str:
    """Say what an analyser showed, what it counts as, and what was decided."""
    facts = answer.facts
    where = f"At {post}, " if post else ""
    spread = facts["o2_uncertainty"] * 100
    told = f"{where}{meter} showed {shown:.1f}: {facts['o2'] * 100:.1f} % oxygen as corrected"
    if facts["he"] is not None and facts["he"] > 0.0005:
        told += f", {facts['he'] * 100:.1f} % helium"
    told += f", give or take {spread:.1f}."
    if facts["decision"] is None:
        return told
    reasons = "; ".join(reason["text"] for reason in facts["reasons"])
    verdict = varied(answer.fill, "Verdict", "Decision", "The record's verdict")
    return f"{told} {verdict}: {facts['decision']}, for {reasons}."


def accepted(answer: Answer, name: str, reading: float, *, drew: bool) -> str:
    """Say what the diver read and signed for."""
    label = answer.facts["label"]
    mod, floor = shallower(label["mod_mm"] / 1000.0), deeper(label["floor_mm"] / 1000.0)
    signed = "drew a signature" if drew else "signed by typing the name"
    if answer.facts["decision"] == "relabel":
        signed += " for what it is, not for what was asked"
    helium = f", {label['he_ppm'] / 1e4:.1f} % helium" if label["he_ppm"] > 500 else ""
    stated = f"{label['o2_ppm'] / 1e4:.1f} % oxygen{helium}, {label['gauge_mbar'] / 1000:.1f} bar"
    depth = f"not deeper than {mod:.0f} m at 1.4 bar"
    if floor > 0:
        depth += f", and not breathed above {floor:.0f} m"
    told = varied(
        answer.fill,
        f"{name} read {reading:.1f} on the other side of the counter and {signed}.",
        f"{name} checked it, read {reading:.1f}, and {signed}.",
        f"Shown to {name}, who read {reading:.1f} and {signed}.",
    )
    return f"{told} The label says {stated}, {depth}."


def disputed(answer: Answer, name: str, reading: float) -> str:
    """Say that the diver's reading did not agree."""
    return f"{name} read {reading:.1f}. {capital(answer.text)}"


def resumed(answer: Answer, warm_c: float) -> str:
    """Say what the gauge showed against what it should, and what is next."""
    fact = next(gate.reason for gate in answer.gates if gate.gate == "contents")
    told = f"With the gas at {warm_c:.0f} degC, the {fact}."
    ahead = answer.facts.get("next")
    if ahead is None:
        return told
    supply = "air" if ahead["supply"] in AIR_SUPPLIES else ahead["supply"]
    doing = supply if ahead["action"] == "add" else ahead["action"]
    return f"{told} Next was {doing} to {ahead['to_bar']:.1f} bar."
