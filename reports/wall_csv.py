"""A wall table as CSV (RFC 4180): one line a cell, plain numbers with units in the heading."""

from __future__ import annotations

import csv
import io
import math

from blender.planning.supplies import plain_name
from blender.planning.wall_table import WallTable
from reports.fill_csv import guarded

COLUMNS = (
    "residual", "residual_bar_gauge", "wanted", "wanted_bar_gauge", "drain_to_bar_gauge",
    "helium_stop_bar_gauge", "oxygen_stop_bar_gauge", "last_stop_bar_gauge", "temperature_c",
    "settles_at_c", "model",
)  # fmt: skip


def wall_csv(table: WallTable) -> str:
    """Return a wall table as CSV text with a heading line; a stop there is not is left empty.

    Parameters
    ----------
    table : WallTable
        The stops.
    """
    request, text = table.request, io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    model = f"GERG-2008, {request.pairs}"
    for row, left in enumerate(request.residual_bar):
        for column, wanted in enumerate(request.wanted):
            stops = (table.drain_bar, table.helium_bar, table.oxygen_bar, table.final_bar)
            writer.writerow(
                [
                    guarded(plain_name(request.residual)), f"{left:g}",
                    guarded(plain_name(wanted)), f"{request.want_bar:g}",
                    *(_bar(float(stop[row, column])) for stop in stops),
                    f"{request.temperature_c:g}", f"{request.settle_at_c:g}", model,
                ]
            )  # fmt: skip
    return text.getvalue()


def _bar(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.3f}"
