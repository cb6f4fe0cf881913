"""The fill log as CSV (RFC 4180): plain numbers with units in the heading, text that stays text."""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Callable

from blender.station.views import LogLine, LogView, Proof, Stamp
from reports.wording import time_text

_Cell = str | int | float | None
_STARTS_FORMULA = "=+-@"

COLUMNS: tuple[tuple[str, Callable[[LogLine], _Cell]], ...] = (
    ("fill", lambda line: line.fill),
    ("state", lambda line: guarded(line.state)),
    ("requested_at", lambda line: _time(line.requested_at)),
    ("accepted_at", lambda line: _time(line.accepted_at)),
    ("collected_at", lambda line: _time(line.collected_at)),
    ("cylinder", lambda line: guarded(line.cylinder)),
    ("customer", lambda line: guarded(line.customer)),
    ("residual", lambda line: guarded(line.residual)),
    ("residual_source", lambda line: guarded(line.residual_source)),
    ("wanted", lambda line: guarded(line.wanted)),
    ("method", lambda line: guarded(line.method)),
    ("station_o2_percent", lambda line: line.staff_o2_percent),
    ("station_he_percent", lambda line: line.staff_he_percent),
    ("diver_o2_percent", lambda line: line.diver_o2_percent),
    ("diver_he_percent", lambda line: line.diver_he_percent),
    ("analyser", lambda line: guarded(line.analyser)),
    ("pressure_bar_gauge", lambda line: line.pressure_bar),
    ("temperature_c", lambda line: line.temperature_c),
    ("gauge", lambda line: guarded(line.gauge)),
    ("supplies", lambda line: guarded(line.supplies)),
    ("oxygen_mol", lambda line: line.oxygen_mol),
    ("helium_mol", lambda line: line.helium_mol),
    ("top_mol", lambda line: line.top_mol),
    ("blender", lambda line: guarded(line.blender)),
    ("accepted_by", lambda line: guarded(line.accepted_by)),
    ("exceptions", lambda line: guarded("; ".join(line.exceptions))),
    ("entry_seq", lambda line: line.seq),
    ("marks", lambda line: guarded("; ".join(line.marks))),
    ("filled_at", lambda line: _time(line.filled_at)),
)


def fill_csv(view: LogView) -> str:
    """Return the fills of a log as CSV text with a heading line, to be stored as UTF-8.

    The last column repeats where in the record the export stands, as the QR codes have it.

    Parameters
    ----------
    view : LogView
        The range of days and its fills.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([name for name, _ in COLUMNS] + ["record_anchor"])
    for line in view.lines:
        writer.writerow([_plain(says(line)) for _, says in COLUMNS] + [_anchor(view.proof)])
    return out.getvalue()


def guarded(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula, an apostrophe before it if need be.

    A text is dangerous if its first character is a tab or line break, or if the first that
    is not blank or invisible is ``= + - @`` in any width.
    """
    stored = text.encode("utf-8", "backslashreplace").decode("utf-8")
    seen = next((char for char in stored if not _unseen(char)), "")
    first = unicodedata.normalize("NFKC", seen)
    if stored[:1] in ("\t", "\r", "\n") or (first and first[0] in _STARTS_FORMULA):
        return f"'{stored}"
    return stored


def _unseen(char: str) -> bool:
    return char.isspace() or unicodedata.category(char) in ("Cc", "Cf", "Zs", "Zl", "Zp")


def _plain(value: _Cell) -> str:
    return "" if value is None else str(value)


def _time(stamp: Stamp | None) -> str | None:
    return None if stamp is None else time_text(stamp)


def _anchor(proof: Proof) -> str:
    return guarded(proof.anchor)
