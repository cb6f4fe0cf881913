"""The work tag hung on a cylinder from the first gas let in until acceptance.

It says what is in there and that nobody may breathe it, and carries the plan with room for
the readings taken, so that the fill can be finished by hand when the power fails.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from blender.station.views import StopLine, TagView
from blender.units import bar_to_psi
from reports.fonts import MM_PER_PT
from reports.in_units import exact, in_units
from reports.page import About, Page, note
from reports.serial import draw_serial
from reports.stock import TAG_MM
from reports.typeset import LEADING, fit_area, fit_lines
from reports.wording import (
    DOT,
    FIXED,
    given,
    percent,
    pressure,
    proof_line,
    temperature,
    time_text,
)

_LEFT, _RIGHT = 3.0, 97.0
_BODY_END = 126.5
_ROW = 8.3
_QR, _QR_TOP = 16.0, 129.5
_GAUGE, _HOLDS, _TAKEN, _TICK = 39.5, 58.5, 74.0, 91.0  # left edges of the table's columns
_BANNER = {"filling": "FILLING", "quarantined": "QUARANTINED", "rejected": "REJECTED"}
_CAUTION = (
    "Nobody breathes from this cylinder before it is analysed and accepted. Only a qualified "
    "blender goes on with the fill, after comparing serial, gauge and temperature with this "
    "tag. Oxygen feeds fire: open slowly, keep grease and flame away. The cylinder's own "
    "marking and local codes come first."
)


@dataclass(frozen=True, slots=True)
class _Piece:
    """Something in the tag's body: how high it is and how it is drawn at a height."""

    height: float
    draw: Callable[[Page, float], None]


def tag_pdf(view: TagView) -> bytes:
    """Return the work tag as a PDF; long plans and warnings go on to further tags.

    Parameters
    ----------
    view : TagView
        What the tag states.

    Raises
    ------
    InputError
        If a number is not finite.
    """
    page = Page(*TAG_MM, _about(view))
    sheets = _paginate(view)
    for number, pieces in enumerate(sheets, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        y = _top(page, view, number, len(sheets))
        for piece in pieces:
            piece.draw(page, y)
            y += piece.height
        _bottom(page, view)
    return page.finish()


def _about(view: TagView) -> About:
    return About(
        title=f"Work tag of fill {view.fill}",
        subject="Cylinder being filled: do not breathe",
        author=view.station_name,
        keywords=view.proof.anchor,
        dated=view.started_at,
    )


def _paginate(view: TagView) -> list[list[_Piece]]:
    head = _Piece(4.9, _table_head)
    sheets: list[list[_Piece]] = [[head] if view.stops else []]
    room = _BODY_END - _top_height(view, first=True) - head.height
    stops = [_stop_piece(view, stop) for stop in view.stops]
    for piece in stops + _warning_pieces(view):
        if piece.height > room:
            sheets.append([head] if piece in stops else [])
            room = _BODY_END - _top_height(view, first=False) - head.height
        sheets[-1].append(piece)
        room -= piece.height
    return sheets


def _top_height(view: TagView, *, first: bool) -> float:
    return 34.2 + (6.6 if view.holds_now.strip() else 0.0) + (21.4 if first else 0.0)


def _top(page: Page, view: TagView, number: int, count: int) -> float:
    """Draw everything above the table's rows and return where they begin."""
    width, middle = _RIGHT - _LEFT, (_LEFT + _RIGHT) / 2
    page.box(_LEFT, 3.0, width, 20.6, weight=0)
    word = _BANNER.get(view.state, "IN PROGRESS")
    for y, text in ((11.6, word), (21.0, "DO NOT BREATHE")):
        page.line(middle, y, text, 27, bold=True, align="centre", white=True, width=width - 4)
    y = 24.2
    if view.holds_now.strip():
        page.box(_LEFT, y, width, 6.0, weight=0.6)
        page.line(
            middle, y + 4.3, view.holds_now, 12, bold=True, align="centre", width=width - 3, least=4
        )
        y += 6.6
    fill = page.line(_RIGHT, y + 7.6, f"FILL {view.fill}", 12, bold=True, align="right", width=34)
    serial = given(view.cylinder.serial)
    draw_serial(page, _LEFT, y + 7.6, serial, width=width - fill - 3, small=11, large=21)
    if count > 1:
        page.line(_RIGHT, y + 2.6, f"tag {number} of {count}", 7, align="right")
    return _particulars(page, view, y + 10.0) if number == 1 else y + 10.0


def _since(view: TagView) -> tuple[str, str, bool]:
    """Return when it was started and by whom; before that, when it was asked for."""
    if view.state == "planned":
        return "Requested", time_text(view.started_at), False
    return "Started", f"{time_text(view.started_at)} by {given(view.blender)}", False


def _particulars(page: Page, view: TagView, y: float) -> float:
    facts = view.cylinder
    clean = "oxygen clean" if facts.oxygen_clean else "NOT oxygen clean"
    working = pressure(facts.working_pressure_bar, view.imperial)
    settled = temperature(view.settle_c, view.imperial)
    wanted = f"{given(view.wanted)} to {pressure(view.wanted_bar, view.imperial)} at {settled}"
    rows = (
        ("For", given(view.customer), True),
        ("Wanted", f"{wanted}{DOT}{given(view.method)}", True),
        ("In it before", f"{_led(view, view.residual)} ({given(view.residual_source)})", True),
        ("Cylinder", f"{given(facts.size_text)}{DOT}WP{FIXED}{working}{DOT}{clean}", False),
        ("", f"tested {given(facts.tested)}{DOT}inspected {given(facts.inspected)}", False),
        _since(view),
    )
    for caption, text, bold in rows:
        page.line(_LEFT, y + 2.6, caption, 6.5)
        page.line(20.0, y + 2.6, text, 7.5, width=_RIGHT - 20, least=5, bold=bold)
        y += 3.5
    return y + 0.4


def _table_head(page: Page, y: float) -> None:
    page.rule(_LEFT, y + 0.4, _RIGHT, y + 0.4, 0.5)
    heads = (
        (_LEFT, "Do, in this order"),
        (_GAUGE, "stop at gauge"),
        (_HOLDS, "then holds"),
        (_TAKEN, "reading taken"),
        (_TICK, "done"),
    )
    for (x, text), end in zip(heads, (_GAUGE, _HOLDS, _TAKEN, _TICK, _RIGHT), strict=True):
        page.line(x + 0.6, y + 3.4, text, 6, bold=True, width=end - x - 1.2)
    page.rule(_LEFT, y + 4.6, _RIGHT, y + 4.6, 0.3)


def _stop_piece(view: TagView, stop: StopLine) -> _Piece:
    def draw(page: Page, y: float) -> None:
        _stop_words(page, stop, _led(view, stop.note) if stop.note else "", y)
        _stop_gauge(page, stop, y, imperial=view.imperial)
        page.line(_HOLDS + 0.6, y + 3.3, f"O₂ {percent(stop.holds_o2 * 100)} %", 7.5, width=14.4)
        page.line(_HOLDS + 0.6, y + 6.8, f"He {percent(stop.holds_he * 100)} %", 7.5, width=14.4)
        units = ("psi", "°F") if view.imperial else ("bar", "°C")
        beside = 5.0
        if stop.action == "analyse":  # read on the analyser, not on the gauge
            units, beside = ("O₂ %", "He %"), 7.5
        for height, unit in zip((3.6, 6.9), units, strict=True):
            page.line(_TICK - 0.8, y + height, unit, 5.5, align="right")
            page.rule(_TAKEN + 0.6, y + height + 0.3, _TICK - beside, y + height + 0.3, 0.1)
        page.box(_TICK + 0.6, y + 1.6, 4.8, 4.8, weight=0.3)
        page.rule(_LEFT, y + _ROW - 0.2, _RIGHT, y + _ROW - 0.2, 0.15)

    return _Piece(_ROW, draw)


def _led(view: TagView, text: str) -> str:
    """Return a sentence in the units the tag leads with."""
    return given(in_units(text, True, exact(view)) if view.imperial else text)


def _stop_words(page: Page, stop: StopLine, note: str, y: float) -> None:
    page.line(_LEFT, y + 3.4, str(stop.number), 9, bold=True, width=6)
    doing = f"{stop.action} {stop.gas}".strip()
    width = _GAUGE - 10.5
    page.line(9.5, y + 3.3, doing, 8.5, bold=True, width=width, least=6)
    source = f"from {stop.supply}" if stop.supply.strip() else ""
    said = DOT.join(part for part in (source, note) if part.strip())
    page.put(9.5, y + 3.9, fit_area(said, width, _ROW - 4.3, 6, 4.5))


def _stop_gauge(page: Page, stop: StopLine, y: float, *, imperial: bool) -> None:
    lines: list[str] = []
    if stop.to_bar is not None:
        first = (
            f"{bar_to_psi(stop.to_bar):.0f} psi" if imperial else pressure(stop.to_bar, False, 1)
        )
        page.line(_GAUGE + 0.6, y + 3.3, first, 9, bold=True, width=17.4)
        lines += [pressure(stop.to_bar, False, 1)] if imperial else []
    if stop.temperature_c is not None:
        lines.append(f"gas at {temperature(stop.temperature_c, imperial)}")
    if stop.from_bar is not None and not imperial:
        lines.append(f"from {pressure(stop.from_bar, False, 1)}")
    for number, text in enumerate(lines[:2]):
        page.line(_GAUGE + 0.6, y + 5.6 + 2.0 * number, text, 5.2, width=17.4)


def _warning_pieces(view: TagView) -> list[_Piece]:
    """Each line of each warning by itself, so that long ones run on to another tag."""
    size, pieces = 7.0, []
    pitch = size * LEADING * MM_PER_PT
    for warning in view.warnings:
        fitted = fit_lines(_led(view, warning), _RIGHT - _LEFT - 4, 10**6, size, size, bold=True)
        for number, text in enumerate(fitted.lines):
            pieces.append(_Piece(pitch + 0.1, _warning_line(text, size, first=number == 0)))
    return pieces


def _warning_line(text: str, size: float, *, first: bool) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        if first:
            page.line(_LEFT, y + 2.6, "!", 9, bold=True)
        page.line(_LEFT + 4, y + 2.5, text, size, bold=True)

    return draw


def _bottom(page: Page, view: TagView) -> None:
    width = 76.0
    page.rule(_LEFT, 127.6, _RIGHT, 127.6, 0.3)
    page.qr(_RIGHT - _QR, _QR_TOP, _QR, view.proof.anchor)
    page.line(_LEFT, 131.2, given(view.station_name), 8, bold=True, width=width, least=5)
    page.block(_LEFT, 132.0, _CAUTION, 5.8, width=width)
    declared = note(page.marks)
    page.line(_LEFT, 144.9, declared, 5, width=width, least=3.5)
    page.line(_LEFT, 147.4, proof_line(view.proof), 5.5, width=width, least=4)
