"""A serial drawn large; of a longer one the last characters alone, which people compare."""

from __future__ import annotations

from reports.fonts import shown, width_mm
from reports.page import Page

_TAIL = 4
_LEAST_PT = 5.0


def draw_serial(
    page: Page, x: float, y: float, serial: str, *, width: float, small: float, large: float
) -> None:
    """Draw the serial of a cylinder, or of each cylinder of a set, in `width` mm."""
    said = shown(serial)
    page.marks |= said.marks
    parts = _parts(said.text, small, large, tail=len(said.text))
    if sum(width_mm(*part) for part in parts) > width:
        parts = _parts(said.text, small, large, tail=_TAIL)
    natural = sum(width_mm(*part) for part in parts)
    factor = min(1.0, width / natural * 0.999) if natural else 1.0
    if small * factor < _LEAST_PT:
        page.line(x, y, serial, large, width=width, least=_LEAST_PT, bold=True)
        return
    for text, size, bold in parts:
        x += page.line(x, y, text, size * factor, bold=bold)


def _parts(serial: str, small: float, large: float, tail: int) -> list[tuple[str, float, bool]]:
    parts: list[tuple[str, float, bool]] = []
    for each in serial.split("+"):
        if parts:
            parts.append((" + ", small, False))
        parts += [(each[:-tail], small, False), (each[-tail:], large, True)]
    return [part for part in parts if part[0]]
