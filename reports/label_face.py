"""What one label looks like: 100 x 62 mm, black and white, words carrying every meaning.

From top to bottom: who and which fill; what was analysed beside the depth it allows; a
black bar if the gas has a floor; the caution; which cylinder at which pressure; the
readings and the acceptance; where in the record it stands.
"""

from __future__ import annotations

from blender.rounding import deeper, shallower
from blender.station.views import LabelView
from reports.fonts import Mark
from reports.page import Page, note
from reports.serial import draw_serial
from reports.typeset import fit_area
from reports.wording import (
    DOT,
    FIXED,
    copy_text,
    depth_pair,
    given,
    he_text,
    helium_large,
    oxygen_large,
    percent,
    posts_line,
    pressure,
    proof_line,
    temperature,
    time_text,
)

WIDTH, HEIGHT = 100.0, 62.0
_LEFT, _RIGHT = 2.5, 97.5
_COLUMN = 60.5  # right edge of the left column
_ROOMY = 35.0  # narrower than this, two posts' figures stand in two lines
_BOX = 63.0  # left edge of the right column
_QR = 15.2
_QR_TOP = 60.5 - _QR
_TEXT_RIGHT = 79.8  # keeps the blank border a QR code needs
_BAR_TOP, _BAR = 22.1, 4.5
_SIGN_BOTTOM = 43.6
_TABLE_TOP = 44.2
_NOTE_TOP, _FOOT_TOP = 57.1, 58.7
_STOPS = (_LEFT, 19.5, 33.0, 53.0)  # of the readings' columns

_CAUTION = (
    "Read it yourself before every dive. Oxygen feeds fire. "
    "The cylinder's own marking and local codes come first."
)


def draw_label(page: Page, view: LabelView) -> tuple[str, ...]:
    """Draw the label at the page's origin; return the extra lines that found no room."""
    _head(page, view)
    if view.undone:
        _undone(page, view)
    else:
        _mix(page, view)
        _depth_box(page, view)
    y = _bar(page, view) if view.hypoxic or view.floor_m > 0 else _BAR_TOP
    _caution(page, y)
    _cylinder(page, view, y + _BAR)
    _acceptance(page, view, y + 12.3)
    waiting = _facts(page, view, y + 12.1)
    _proof(page, view)
    return waiting


def draw_further_label(page: Page, view: LabelView, lines: tuple[str, ...]) -> tuple[str, ...]:
    """Draw extra lines that had no room before, on a label of their own; return the rest."""
    _head(page, view)
    width = _RIGHT - _LEFT
    page.box(_LEFT, 8.0, width, _BAR, weight=0)
    title = "FURTHER LABEL: BELONGS WITH THE FIRST"
    page.line(WIDTH / 2, 11.5, title, 9, bold=True, align="centre", white=True)
    draw_serial(page, _LEFT, 19.0, given(view.cylinder.serial), width=width, small=9, large=16)
    rest, y = _extras(page, lines, 21.5, width, _SIGN_BOTTOM, size=8)
    if rest == lines:  # the first alone is longer than a label
        page.put(_LEFT, y, fit_area(lines[0], width, _SIGN_BOTTOM - y, 8, 5, bold=True), bold=True)
        rest = lines[1:]
    _proof(page, view)
    return rest


def _proof(page: Page, view: LabelView) -> None:
    """Draw where in the record the label stands, and what its texts have to declare."""
    width = _TEXT_RIGHT - _LEFT
    page.qr(_RIGHT - _QR, _QR_TOP, _QR, view.proof.anchor)
    page.line(_LEFT, _NOTE_TOP + 1.4, note(page.marks), 4.5, width=width)
    page.line(_LEFT, 60.4, proof_line(view.proof), 5, width=width, least=4)


def _head(page: Page, view: LabelView) -> None:
    edge = _RIGHT - 1.5
    edge -= page.line(_RIGHT, 5.1, f"FILL {view.fill}", 9, bold=True, align="right", width=35)
    if view.copy_number > 1:
        edge -= _badge(page, edge, copy_text(view.copy_number, view.copied_at))
    if view.marks:
        edge -= _badge(page, edge, view.marks[0].partition(" ")[0])
    page.line(_LEFT, 5.1, given(view.station_name), 9, width=edge - _LEFT - 1, least=6)
    page.rule(_LEFT, 6.4, _RIGHT, 6.4, 0.4)


def _badge(page: Page, right: float, text: str) -> float:
    """Draw white words on black, ending at `right`; return the width taken."""
    width = 2.0 + 2.1 * min(len(text), 14)
    page.box(right - width, 1.9, width, 4.0, weight=0)
    page.line(
        right - width / 2, 4.9, text, 8, bold=True, align="centre", white=True, width=width - 1
    )
    return width + 1.5


def _mix(page: Page, view: LabelView) -> None:
    if view.he_percent is not None and view.he_percent >= 0.05:
        _gas(page, _LEFT, 11.2, "O₂ as analysed", oxygen_large(view), 28.5)
        _gas(page, _LEFT + 30.0, 11.2, "He as analysed", helium_large(view), 28.0)
        return
    _gas(page, _LEFT, 9.8, "O₂ as analysed", oxygen_large(view), 41.0)
    said = "not measured" if view.he_percent is None else f"{percent(view.he_percent)} %"
    page.line(_LEFT + 42.0, 16.4, "He", 9, bold=True)
    page.line(_LEFT + 42.0, 20.4, said, 9, bold=True, width=15.5, least=5)


def _undone(page: Page, view: LabelView) -> None:
    """Draw, in the place of figures that do not hold, that they do not."""
    page.box(_LEFT, 7.5, _RIGHT - _LEFT, 13.5, weight=0)
    width, middle = _RIGHT - _LEFT - 4.0, WIDTH / 2
    page.line(middle, 14.2, view.undone, 20, bold=True, align="centre", white=True, width=width)
    said = "what was signed for no longer holds: DO NOT BREATHE, analyse anew"
    page.line(middle, 18.9, said, 8, bold=True, align="centre", white=True, width=width)


def _gas(page: Page, x: float, y: float, caption: str, number: str, width: float) -> None:
    """Draw a share as large as `width` allows, its caption above and the sign behind."""
    if " / " in number and width < _ROOMY:
        _posts(page, x, caption, number.split(" / "))
        return
    page.line(x, y, caption, 7, bold=True)
    used = page.line(x, 20.4, number, 36, bold=True, width=width - 5.4, least=12)
    page.line(x + used + 0.8, 20.4, "%", 12, bold=True)


def _posts(page: Page, x: float, caption: str, each: list[str]) -> None:
    """Draw the figures of a set's posts one above the other."""
    page.line(x, 9.6, caption, 7, bold=True)
    for place, number in enumerate(each):
        y = 15.4 + 5.0 * place
        used = page.line(x, y, number, 15, bold=True)
        page.line(x + used + 0.8, y, "%", 9, bold=True)


def _depth_box(page: Page, view: LabelView) -> None:
    page.box(_BOX + 0.3, 7.5, _RIGHT - _BOX - 0.6, 13.5, weight=0.6)
    left, inner = _BOX + 1.5, _RIGHT - _BOX - 3.0
    agreed = f"MOD at ppO₂ {view.agreed_ppo2_bar:.2f} bar"
    page.line(left, 10.1, agreed, 6.5, bold=True, width=inner, least=5)
    metre, foot = shallower(view.mod_agreed_m), shallower(view.mod_agreed_ft)
    first, _, second = depth_pair(metre, foot, view.imperial).partition(" / ")
    page.line(left, 15.6, first, 17, bold=True, width=19, least=10)
    page.line(left + inner, 15.6, second, 10.5, bold=True, width=11.5, least=7, align="right")
    deep = depth_pair(shallower(view.mod_high_m), shallower(view.mod_high_ft), view.imperial)
    page.line(
        left,
        18.0,
        f"at {view.high_ppo2_bar:.2f} bar: {deep}",
        5.6,
        width=inner,
        least=4.5,
    )
    basis = "sea level, salt water; higher reading counts"
    page.line(left, 20.1, basis, 4.5, width=inner, least=4)


def _bar(page: Page, view: LabelView) -> float:
    """Draw the black bar of a gas with a floor; return where the next thing may begin."""
    deep = depth_pair(deeper(view.floor_m), deeper(view.floor_ft), view.imperial)
    floor = f"DO NOT BREATHE ABOVE {deep}" if view.floor_m > 0 else ""
    text = " · ".join(part for part in ("HYPOXIC" if view.hypoxic else "FLOOR", floor) if part)
    page.box(_LEFT, _BAR_TOP, _RIGHT - _LEFT, _BAR, weight=0)
    page.line(
        WIDTH / 2,
        _BAR_TOP + 3.5,
        text,
        11,
        bold=True,
        align="centre",
        white=True,
        width=_RIGHT - _LEFT - 3,
        least=7,
    )
    return _BAR_TOP + _BAR + 0.5


def _caution(page: Page, y: float) -> None:
    page.box(_LEFT, y, _RIGHT - _LEFT, _BAR, weight=0.3)
    used = page.line(_LEFT + 1.5, y + 3.3, "ANALYSE BEFORE USE", 10, bold=True)
    left = _LEFT + used + 4.0
    page.block(left, y + 0.3, _CAUTION, 5, width=_RIGHT - left - 1.0, most=2, least=4.5)


def _cylinder(page: Page, view: LabelView, y: float) -> None:
    serial = given(view.cylinder.serial)
    page.line(_LEFT, y + 1.9, "CYLINDER", 4.8, bold=True)
    draw_serial(page, _LEFT, y + 6.6, serial, width=_COLUMN - _LEFT, small=9, large=14)
    page.line(_BOX, y + 1.9, "GAUGE PRESSURE", 4.8, bold=True)
    warmth = temperature(view.pressure_temperature_c, view.imperial)
    said = f"{pressure(view.pressure_bar, view.imperial)} at {warmth}"
    page.line(_BOX, y + 6.6, said, 13, bold=True, width=_RIGHT - _BOX, least=6)


def _acceptance(page: Page, view: LabelView, y: float) -> None:
    """Draw the signature, or the typed name marked as such."""
    height = _SIGN_BOTTOM - y
    page.box(_BOX, y, _RIGHT - _BOX, height)
    page.line(_BOX + 0.8, y + 1.9, "ACCEPTED BY", 4.2, bold=True)
    if any(view.strokes):
        page.strokes(_BOX + 13.0, y + 0.5, 20.8, height - 1.0, view.strokes)
        return
    page.line(_BOX + 0.8, y + 3.5, "signed by typing", 4.2)
    middle = y + height / 2 + 1.1
    page.line(_BOX + 14.0, middle, given(view.accepted_by), 9, width=19.8, least=5)


def _facts(page: Page, view: LabelView, top: float) -> tuple[str, ...]:
    """Draw extra lines, readings and facts; return the extra lines that found no room."""
    bottom = _TABLE_TOP - 0.4
    waiting, free = _extras(page, _extra_lines(view), top, _COLUMN - _LEFT, bottom)
    facts, people = _cylinder_facts(view), _people_facts(view)
    own = fit_area(facts, _COLUMN - _LEFT, max(bottom - free, 0.1), 6.5, 5.0)
    if waiting or Mark.CUT in own.marks:
        people = f"{facts}{DOT}{people}"
    else:
        page.put(_LEFT, free + 0.3, own)
    y = _readings(page, view)
    width = _TEXT_RIGHT - _LEFT
    fitted = fit_area(people, width, _FOOT_TOP - y, 5.6, 4.0)
    if page.marks | fitted.marks:
        fitted = fit_area(people, width, _NOTE_TOP - y, 5.6, 4.0)
    y = page.put(_LEFT, y, fitted)
    waiting, _ = _extras(page, waiting, y + 0.2, width, _NOTE_TOP)
    return waiting


def _readings(page: Page, view: LabelView) -> float:
    y = _TABLE_TOP
    for row in _reading_rows(view):
        for x, text, bold in zip(_STOPS, row, (False, True, False, False), strict=True):
            page.line(x, y + 1.9, text, 5.6, bold=bold)
        y += 2.35
    page.line(_STOPS[0], y + 1.9, "Accepted", 5.6)
    room = _STOPS[3] - _STOPS[1] - 1.0
    name = given(view.accepted_by)
    page.line(_STOPS[1], y + 1.9, name, 5.6, bold=True, width=room, least=4)
    page.line(_STOPS[3], y + 1.9, time_text(view.accepted_at), 5.6)
    return y + 2.7


def _reading_rows(view: LabelView) -> list[tuple[str, str, str, str]]:
    return [
        (
            what,
            f"O₂ {percent(reading.o2_percent)} %",
            he_text(reading.he_percent),
            time_text(reading.at),
        )
        for what, reading in (("Analysed", view.staff), ("Diver's reading", view.diver))
    ]


def _cylinder_facts(view: LabelView) -> str:
    facts = view.cylinder
    clean = "oxygen clean" if facts.oxygen_clean else "NOT oxygen clean"
    working = pressure(facts.working_pressure_bar, view.imperial)
    return DOT.join(
        (
            given(facts.size_text),
            f"WP{FIXED}{working}",
            f"tested{FIXED}{given(facts.tested)}",
            f"inspected{FIXED}{given(facts.inspected)}",
            clean,
        )
    )


def _people_facts(view: LabelView) -> str:
    staff, diver = view.staff, view.diver
    return DOT.join(
        (
            f"Filled {time_text(view.filled_at)} by {given(view.filled_by)}",
            f"analysed by {given(staff.by)}{_with(staff.analyser)}",
            f"diver's reading by {given(diver.by)}{_with(diver.analyser)}",
            f"sealed by {given(view.sealed_by)}",
        )
    )


def _with(analyser: str) -> str:
    """Name the analyser, where it was the station's own."""
    return f" with {analyser}" if analyser.strip() else ""


def _extra_lines(view: LabelView) -> tuple[str, ...]:
    return tuple(
        line for line in (*view.marks, posts_line(view), *view.extra_lines) if line.strip()
    )


def _extras(
    page: Page, lines: tuple[str, ...], y: float, width: float, bottom: float, size: float = 6.5
) -> tuple[tuple[str, ...], float]:
    """Draw extra lines in order while they fit whole; return the rest and where it ended."""
    for number, line in enumerate(lines):
        fitted = fit_area(line, width, max(bottom - y, 0.1), size, 5.5, bold=True)
        if Mark.CUT in fitted.marks or bottom - y < 2.3:
            return lines[number:], y
        y = page.put(_LEFT, y, fitted, bold=True)
    return (), y
