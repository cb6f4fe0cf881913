"""How numbers and times are worded on paper; rounding is to the safe side."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone
from importlib.metadata import PackageNotFoundError, version

from blender.errors import InputError, RefusedError
from blender.rounding import half_up
from blender.station.views import LabelView, Proof, Stamp
from blender.units import bar_to_psi, c_to_f

NOT_GIVEN = "—"
FIXED = "\u00a0"  # a blank at which no line breaks: between a number and its unit
DOT = f"{FIXED}· "  # between facts in a row; the dot never begins a line
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def program() -> str:
    """Name and version of the program, for the footers."""
    try:
        return f"Fillwright {version('fillwright')}"
    except PackageNotFoundError:  # run from a source folder that is not installed
        return "Fillwright"


def moment(stamp: Stamp) -> datetime:
    """Return the moment in the zone the station had then."""
    zone = timezone(timedelta(minutes=stamp.offset_min))
    return (_EPOCH + timedelta(microseconds=stamp.us)).astimezone(zone)


def time_text(stamp: Stamp | None) -> str:
    """Date, time and zone, for example ``2026-11-25 14:03 +01:00``."""
    if stamp is None:
        return NOT_GIVEN
    return moment(stamp).isoformat(" ", "minutes").replace("+", " +").replace(" -", " -")


def day_text(stamp: Stamp) -> str:
    """Date alone, for example ``2026-11-25``."""
    return moment(stamp).date().isoformat()


def copy_text(number: int, made_at: Stamp | None) -> str:
    """Return which copy a paper is, and the day it was made; empty for the first print."""
    if number == 1:
        return ""
    return f"COPY {number}" + ("" if made_at is None else f"{DOT}{day_text(made_at)}")


def given(text: str) -> str:
    """Return the text, or a dash where nothing was given."""
    return text if text.strip() else NOT_GIVEN


def percent(value: float) -> str:
    """Return a percentage to 0.1 without its sign."""
    return tenths(value, "percentage")


def tenths(value: float, field: str) -> str:
    """Return a number to one decimal; `field` names it should it not be finite."""
    return f"{_finite(value, field) + 0.0:.1f}"


def oxygen_large(view: LabelView) -> str:
    """Return the oxygen a label prints large, in percent: of a set each post's where they differ.

    Two posts come in the order of the set's serial; of more, the leanest and the richest.
    """
    return _each([post.o2_percent for post in view.posts]) or percent(view.o2_percent)


def helium_large(view: LabelView) -> str:
    """Return the helium a label prints large, in percent, as `oxygen_large` does oxygen."""
    known = [post.he_percent for post in view.posts if post.he_percent is not None]
    return _each(known) or percent(view.he_percent or 0.0)


def _each(values: list[float]) -> str:
    """Return two figures that differ as they are printed, empty where there is one alone."""
    both = values if len(values) <= 2 else [min(values), max(values)]
    said = [percent(value) for value in both]
    return " / ".join(said) if len(set(said)) > 1 else ""


def posts_line(view: LabelView) -> str:
    """Return what was analysed at each post of a set; empty of a single cylinder."""
    told = [
        f"{post.serial} O₂{FIXED}{percent(post.o2_percent)}{FIXED}%"
        + (f" He{FIXED}{percent(post.he_percent)}{FIXED}%" if post.he_percent is not None else "")
        for post in view.posts
    ]
    return f"each post: {', '.join(told)}" if told else ""


def he_text(value: float | None) -> str:
    """Helium in percent, or that it was not measured."""
    return "He not measured" if value is None else f"He {percent(value)} %"


def pressure(bar: float, imperial: bool, decimals: int = 0) -> str:
    """Return a gauge pressure with its unit; with psi first and bar after where imperial."""
    metric = f"{half_up(_finite(bar, 'pressure'), 10.0**-decimals):.{decimals}f}{FIXED}bar"
    return f"{half_up(bar_to_psi(bar)):.0f}{FIXED}psi ({metric})" if imperial else metric


def depth_pair(metre: int, foot: int, imperial: bool) -> str:
    """Return a depth in both units, the station's own first."""
    return f"{foot} ft / {metre} m" if imperial else f"{metre} m / {foot} ft"


def refuse_undone(view: LabelView) -> None:
    """Refuse a paper of figures that do not hold any more.

    Raises
    ------
    RefusedError
        Saying why.
    """
    if view.undone:
        raise RefusedError(
            f"fill {view.fill}: {view.undone}, what was signed for no longer holds; its story "
            f"(book show {view.fill}) has what was, a new label is made once it is signed anew",
            code="undone",
        )


def temperature(celsius: float, imperial: bool) -> str:
    """Return a temperature with its unit."""
    _finite(celsius, "temperature")
    if imperial:
        return f"{half_up(c_to_f(celsius)):.0f}{FIXED}°F"
    return f"{half_up(celsius):.0f}{FIXED}°C"


def short_head(proof: Proof) -> str:
    """First 80 bits of the head in groups of four, for eyes; the QR code has all of it."""
    return in_fours(proof.head_hex[:20])


def in_fours(digits: str) -> str:
    """Digits nobody reads in one go, in groups of four."""
    return " ".join(digits[at : at + 4] for at in range(0, len(digits), 4))


def proof_line(proof: Proof) -> str:
    """Where in the record this paper stands, in one line for eyes."""
    return (
        f"{program()} · {proof.station} · incarnation {proof.incarnation}"
        f" · entry {proof.seq} · head {short_head(proof)}…"
    )


def _finite(value: float, field: str) -> float:
    if not math.isfinite(value):
        raise InputError(field, value, "a paper states finite numbers only")
    return value
