"""The card a diver takes along with the label: what each of its figures means, and their own.

A6, to be read by somebody who has never seen such a label.  It teaches no diving: it says what
the figures are, and that training and the diver's own analysis come first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from blender.rounding import deeper, shallower
from blender.station.views import LabelView
from reports.page import About, Page, note
from reports.stock import CARD_MM
from reports.wording import (
    depth_pair,
    given,
    helium_large,
    oxygen_large,
    pressure,
    proof_line,
    refuse_undone,
    temperature,
)

_LEFT, _RIGHT = 7.0, 98.0
_BEFORE_USE = (
    "Analyse it yourself before every use, and compare the serial on the cylinder.",
    "Breathe it only if you are trained for this gas, and keep to your training's own limits "
    "where they are stricter.",
    "Keep it from heat, oil and grease; open the valve slowly. Oxygen feeds fire.",
    "If figures, seal or pressure do not fit this card, do not dive it: bring it back.",
)


def diver_card_pdf(view: LabelView) -> bytes:
    """Return the card of an accepted fill as a PDF on A6.

    Parameters
    ----------
    view : LabelView
        What the label of the fill states.

    Raises
    ------
    InputError
        If a number is not finite.
    RefusedError
        If what was signed for does not hold any more.
    """
    refuse_undone(view)
    page = Page(*CARD_MM, _about(view))
    y = _head(page, view)
    for caption, figure, meaning in _meanings(view):
        y = _entry(page, y, caption, figure, meaning)
    y += 1.0
    page.rule(_LEFT, y, _RIGHT, y, 0.4)
    page.line(_LEFT, y + 4.6, "BEFORE USE", 9, bold=True)
    y += 6.0
    for number, text in enumerate(_BEFORE_USE, start=1):
        page.line(_LEFT, y + 2.6, f"{number}", 7.5, bold=True)
        y = page.block(_LEFT + 5.0, y, text, 7.5, width=_RIGHT - _LEFT - 5.0) + 0.9
    _foot(page, view)
    return page.finish()


def _about(view: LabelView) -> About:
    return About(
        title=f"What the label of fill {view.fill} says",
        subject="The figures of a label, explained",
        author=view.station_name,
        keywords=view.proof.anchor,
        dated=view.copied_at or view.accepted_at,
    )


def _head(page: Page, view: LabelView) -> float:
    width = _RIGHT - _LEFT
    page.line(_LEFT, 10.0, "WHAT YOUR LABEL SAYS", 13, bold=True, width=width)
    page.line(_LEFT, 14.6, given(view.station_name), 8, width=width, least=5)
    serial = f"cylinder {given(view.cylinder.serial)}, fill {view.fill}"
    page.line(_LEFT, 18.6, serial, 8, width=width, least=5)
    page.rule(_LEFT, 20.6, _RIGHT, 20.6, 0.5)
    return 21.6


def _entry(page: Page, y: float, caption: str, figure: str, meaning: str) -> float:
    """Draw one figure of the label with what it means; return where it ends."""
    used = page.line(_RIGHT, y + 4.0, figure, 11, bold=True, align="right", width=52.0, least=6)
    page.line(_LEFT, y + 4.0, caption, 8.5, bold=True, width=_RIGHT - _LEFT - used - 3.0)
    return page.block(_LEFT, y + 5.0, meaning, 7.5, width=_RIGHT - _LEFT) + 1.2


def _meanings(view: LabelView) -> Iterator[tuple[str, str, str]]:
    yield (
        "Oxygen",
        f"{oxygen_large(view)} %",
        "How much of the gas is oxygen, as measured in this cylinder, not as ordered.",
    )
    if view.he_percent is not None and view.he_percent >= 0.05:
        yield (
            "Helium",
            f"{helium_large(view)} %",
            "Helium as measured; it makes deep gas lighter to breathe and less narcotic.",
        )
    yield (
        "MOD",
        _depth(view, shallower, view.mod_agreed_m, view.mod_agreed_ft),
        "Maximum operating depth: deeper than this the oxygen may poison you without warning. "
        f"Reckoned for an oxygen pressure of {view.agreed_ppo2_bar:.2f} bar in salt water at sea "
        f"level; at {view.high_ppo2_bar:.2f} bar it would be "
        f"{_depth(view, shallower, view.mod_high_m, view.mod_high_ft)}.",
    )
    if view.hypoxic or view.floor_m > 0:
        yield (
            "Not above",
            _depth(view, deeper, view.floor_m, view.floor_ft),
            "This gas has too little oxygen for the surface: breathe it only below this depth, "
            "never on deck or while swimming out.",
        )
    warmth = temperature(view.pressure_temperature_c, view.imperial)
    yield (
        "Pressure",
        pressure(view.pressure_bar, view.imperial),
        f"On the gauge at {warmth}. A colder cylinder shows less, a warmer one more, though no "
        "gas is lost. A drop that the weather does not explain is a leak.",
    )


def _depth(view: LabelView, rounded: Callable[[float], int], metre: float, foot: float) -> str:
    return depth_pair(rounded(metre), rounded(foot), view.imperial)


def _foot(page: Page, view: LabelView) -> None:
    width = _RIGHT - _LEFT
    said = "The cylinder's own marking and local codes come first."
    page.line(_LEFT, 138.6, said, 6.5, bold=True, width=width)
    page.line(_LEFT, 141.4, proof_line(view.proof), 5, width=width, least=3.5)
    page.line(_LEFT, 143.8, note(page.marks), 4.5, width=width)
