"""The closing sheet of a day: who opened and closed it, what was done, what waits, the head."""

from __future__ import annotations

from collections.abc import Iterator

from blender.station.views import DayView
from reports.column import Fact
from reports.in_units import in_units
from reports.letter import Letter, letter_pdf
from reports.totals import amount_text, volumes
from reports.wording import given, tenths, time_text

_WAITING = {
    "not_collected": "Not collected",
    "held": "Held part-way",
    "open": "Under way",
    "quarantined": "Quarantined",
}


def day_sheet_pdf(view: DayView, paper: str = "a4") -> bytes:
    """Return a day's closing sheet as a PDF.

    Parameters
    ----------
    view : DayView
        The day; one that is still open says so at its head.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.

    Raises
    ------
    InputError
        If a number is not finite.
    """
    letter = Letter(
        title="Day sheet",
        aside=view.day,
        subject="What was done on a day, what waits, and where the record stood",
        station_name=view.station_name,
        printed_at=view.printed_at,
        proof=view.proof,
        legend=f"{volumes(view.imperial)}. — = not given.",
    )
    return letter_pdf(letter, _facts(view), paper)


def _facts(view: DayView) -> Iterator[Fact]:
    """Give caption, text and whether it is to be seen from afar, in the order of the sheet."""
    yield "Opened", f"{time_text(view.opened_at)} by {given(view.opened_by)}", False
    if view.closed_at is None:
        yield "Closed", "NOT CLOSED: figures are of the moment it was printed", True
    else:
        yield "Closed", f"{time_text(view.closed_at)} by {given(view.closed_by)}", False
    since = "its opening: no day was closed before" if view.since is None else time_text(view.since)
    yield "Counted since", since, False
    for number, (what, answer, ok) in enumerate(view.checks):
        said = f"{what}: {answer}" if ok else f"NOT IN ORDER: {what}: {answer}"
        yield ("Checks" if number == 0 else ""), said, not ok
    banks = [f"{name} {typed}" for name, typed in view.banks]
    yield "Banks read", given(", ".join(banks)), False
    yield "Analysers", given("; ".join(view.analysers)), False
    states = ", ".join(f"{count} {state}" for state, count in view.by_state)
    total = sum(count for _, count in view.by_state)
    # Opened late, and no day before it: what was filled that morning is in no sheet.
    since = f" since its opening, {time_text(view.opened_at)}" if view.since is None else ""
    yield "Fills worked on", f"{total}{since}" + (f": {states}" if states else ""), False
    for caption, amount, gas in (
        ("Oxygen let in", view.oxygen_mol, "O2"),
        ("Helium let in", view.helium_mol, "He"),
        ("Top gas let in", view.top_mol, ""),
    ):
        tenths(amount, "amount")  # nothing but a number is stated
        yield caption, amount_text(amount, gas, imperial=view.imperial), False
    yield from _waiting(view)
    yield from _listed(
        "Exceptions",
        len(view.exceptions),
        [in_units(one, view.imperial) for one in view.exceptions],
    )
    for number, text in enumerate(filter(None, view.root.split("; "))):
        yield ("Shop's root" if number == 0 else ""), text, False
    for remark in view.notes:
        for number, text in enumerate(remark.splitlines()):
            yield ("Note" if number == 0 else ""), text, False


def _waiting(view: DayView) -> Iterator[Fact]:
    for name, count, fills in view.waiting:
        # What nobody has signed for is not breathed, whatever was let in by then.
        danger = "" if name == "not_collected" else " - DO NOT BREATHE"
        texts = [f"fill {f.fill}, {f.cylinder}, {f.customer}, {f.wanted}{danger}" for f in fills]
        if count > len(texts):
            texts.append(f"and {count - len(texts)} older ones")
        yield from _listed(_WAITING.get(name, name), count, texts)


def _listed(caption: str, count: int, texts: list[str]) -> Iterator[Fact]:
    yield caption, "none" if not count else f"{count}", False
    for text in texts:
        yield "", text, False
