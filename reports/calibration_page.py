"""The certificate of calibration of an analyser, on a page of its own."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from blender.humidity import parse_air_state
from blender.station.analyser_care import CarePage
from blender.units import bar_to_psi, parse_ambient
from reports.column import Fact
from reports.letter import Letter, letter_pdf
from reports.wording import temperature

_LIMITS = (
    "Two gases make a straight line and no more: a cell that bends between them is not found. "
    "Drift is a straight line through the checks. A maker's certificate says more."
)


def calibration_pdf(view: CarePage, paper: str = "a4") -> bytes:
    """Return an analyser's certificate of calibration as a PDF on a paper, A4 or Letter."""
    title = "Certificate of calibration"
    letter = Letter(title, view.station_name, view.printed_at, view.proof)
    return letter_pdf(letter, lines(view), paper)


def lines(view: CarePage) -> Iterator[Fact]:
    """Give captions and texts of the page."""
    facts = view.facts
    yield "Analyser", facts["name"], True
    if facts["retired"]:
        yield "Retired", facts["retired"], True
    yield "Today", facts["fresh_text"], not facts["fresh"]
    if one := facts["set"]:
        room = f", room air {_air(one['air'], view.imperial)}" if one["air"] else ""
        ambient = _ambient(one["ambient"], view.imperial)
        yield "Set", f"to {one['reading']} on {one['gas']} at {ambient}{room}", False
        at = datetime.fromisoformat(one["at"]).isoformat(" ", "minutes")
        yield "", f"{at[:16]} {at[16:]} by {one['by']}, entry {one['seq']}", False
    for what in ("linearity", "helium"):
        found = facts[what]
        told = f"{found['day']}: {found['text']}, entry {found['seq']}" if found else "never tried"
        yield what.capitalize(), told, bool(found) and not found["ok"]
    yield "Checks", f"{len(facts['checks'])} on a known gas", False
    for one in facts["checks"][-20:]:
        yield "", f"{one['day']}: {one['text']}, entry {one['seq']}", not one["ok"]
    yield "Drift", _pace(facts["drift_points_month"]), False
    for one in facts["cells"]:
        what = f"{one['name']}, {one['measures']}, in since {one['since']} ({one['age_days']} days)"
        ended = f"; retired: {one['retired']}" if one["retired"] else ""
        yield "Cell", f"{what}: {_pace(one['drift_points_month'])}{ended}", False
    yield "Not known", _LIMITS, False


def _pace(points_month: float | None) -> str:
    if points_month is None:
        return "not known: fewer than three checks"
    return f"{points_month:+.2f} points a month"


def _ambient(typed: str, imperial: bool) -> str:
    """Return an ambient pressure in the units wanted, and as typed where that was in others."""
    bar = parse_ambient(typed)
    shown = f"{bar_to_psi(bar):.2f} psi" if imperial else f"{bar:.5g} bar"
    return _beside(shown, typed, is_alike=("psi" in typed.lower()) == imperial)


def _air(typed: str, imperial: bool) -> str:
    """Return a room's air in the units wanted, and as typed where that was in others."""
    state = parse_air_state(typed)
    celsius = state.temperature_c
    shown = f"{temperature(celsius, imperial)}, {state.humidity:.0%} damp"
    return _beside(shown, typed, is_alike=("f" in typed.lower()) == imperial)


def _beside(shown: str, typed: str, *, is_alike: bool) -> str:
    return typed if is_alike else f"{shown} (typed {typed})"
