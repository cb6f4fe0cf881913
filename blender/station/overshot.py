"""A stop the gauge went beyond: told until the fill is planned anew or gone on with."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection

from blender.record import read
from blender.record.models import FillRow, ReadingRow, StepRow
from blender.record.trouble import BEYOND

_WHAT_TO_DO = " Plan again before more goes in."  # said by whoever tells it, before it


def overshot(
    conn: Connection, fill: FillRow, steps: Sequence[StepRow], readings: Sequence[ReadingRow]
) -> str:
    """Return what was said of the stop that was passed; empty where none was, or that is over.

    That it is planned again is left to whoever tells it.

    Parameters
    ----------
    conn : Connection
        The record.
    fill : FillRow
        The fill.
    steps, readings : sequence
        Its plan, and its readings that stand, oldest first.
    """
    if fill.state != "filling" or not readings or not steps or readings[-1].seq < steps[0].seq:
        return ""
    noted = read.exceptions(conn, fill.fill)
    found = [row for row in noted if row.kind == BEYOND and row.seq == readings[-1].seq]
    return found[-1].text.removesuffix(_WHAT_TO_DO) if found else ""
