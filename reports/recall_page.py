"""The page of a recall: what is meant, whom to call, and every fill, to be ticked off."""

from __future__ import annotations

from collections.abc import Iterator

from blender.station.recalling import LIMITS, RecallView, call_text, line_text
from reports.column import Fact
from reports.letter import Letter, letter_pdf


def recall_pdf(view: RecallView, paper: str = "a4") -> bytes:
    """Return a recall as a PDF on a paper, A4 or Letter."""
    letter = Letter("Recall", view.station_name, view.printed_at, view.proof)
    return letter_pdf(letter, lines(view), paper)


def lines(view: RecallView) -> Iterator[Fact]:
    """Give captions and texts of the page, which the command line prints too."""
    yield "What", f"{view.what}, from {view.since} to {view.until}", True
    yield "Until told", "NOBODY BREATHES from these cylinders until each was analysed anew.", True
    yield "Cylinders", f"{len({line.cylinder for line in view.lines})}", False
    yield "To call", f"{len(view.calls)}", False
    for call in view.calls:
        yield "", f"[ ] {call_text(call)}", False
    yield "Fills", f"{len(view.lines)}", False
    for line in view.lines:
        yield "", line_text(line), False
    yield "Not known", LIMITS, False
