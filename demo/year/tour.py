"""What to look at in the year, and what the program found without being told."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.verify import Report, verify
from blender.station import in_hand
from blender.station.audit import AuditView, audit
from demo.station import STAFF
from demo.year.run import Told, Year, year
from demo.year.troubles import AGEING, FIRST_DAY, LEAKING, OXYGEN_GAUGE, Troubles


@dataclass(frozen=True, slots=True)
class Tour:
    """What the program says of the year.

    Parameters
    ----------
    made : Year
        The year.
    report : Report
        What verifying the record said.
    found : dict
        Each trouble that was sown, and the sentence that names it; None where none does.
    lines : list of str
        The tour, to be read.
    secrets : dict
        Who may sign there, and with which secret.
    """

    made: Year
    report: Report
    found: dict[str, str | None]
    lines: list[str]
    secrets: dict[str, str]


def tour(made: Year, program: str) -> Tour:
    """Go through a year's record with the program's own reports.

    Parameters
    ----------
    made : Year
        The year.
    program : str
        How the program is called here.
    """
    report = verify(made.database)
    with Record.open(made.database, readonly=True) as record:
        view = audit(record, made.first_day, made.last_day, _evening(made), report)
        stock = in_hand.lines(in_hand.in_hand(record, _evening(made)))
    found = {
        "an analyser's cell that ages": _named(view, AGEING),
        "an oxygen gauge that took a knock": _named(view, OXYGEN_GAUGE),
        "a bank that leaks": _leak(view),
    }
    secrets = {person.name: person.secret for person in STAFF}
    return Tour(
        made,
        report,
        found,
        [*_told(view, found), *_evening_told(stock), *_commands(made, program)],
        secrets,
    )


def through_the_year(folder: Path, fills: int, program: str, told: Told = lambda _: None) -> Tour:
    """Make the year in a folder and go through it; see `year` and `tour`."""
    return tour(year(folder, fills, told=told), program)


def _evening(made: Year) -> Moment:
    return Moment(made.ended_us, made.offset_min)


def _named(view: AuditView, name: str) -> str | None:
    """Return the latest alarm whose likeliest cause is an instrument."""
    likely = f"likely gauge {name}", f"likely analyser {name}"
    told = [one.text for one in view.alarms]
    named = [text for text in told if any(one in text for one in likely)]
    return named[-1] if named else None


def _leak(view: AuditView) -> str | None:
    for one in view.balances:
        if one.supply == LEAKING and not one.closes:
            lost = f"{-one.unexplained_mol:.0f} mol are missing"
            return f"{LEAKING}: {lost}, more than its doubt of {one.doubt_mol:.0f} mol"
    return None


def _told(view: AuditView, found: dict[str, str | None]) -> list[str]:
    states = ", ".join(f"{count} {state}" for state, count in view.by_state)
    told = [
        f"A year at a station that does not exist: {view.fills} fills, {states}.",
        "Three troubles were sown in it. What the program says of each:",
    ]
    for trouble, text in found.items():
        told += [f"  {trouble}:", f"    {text or 'NOT FOUND'}"]
    kinds = {name: len(rows) for name, rows in view.noted.items()}
    return [*told, f"Besides: {kinds['overrides']} overrides, {kinds['undone']} entries amended or "
            f"voided, {kinds['exceptions']} other exceptions."]  # fmt: skip


def _evening_told(stock: list[str]) -> list[str]:
    """Return what was in hand on the last evening; by today's clock it is long used up."""
    return ["In hand on its last evening:", *(f"  {line}" for line in stock)]


def _day(number: int) -> str:
    """Return a day of the year as its commands take it, counted from the first."""
    return (date(*FIRST_DAY) + timedelta(days=number)).isoformat()


def _commands(made: Year, program: str) -> list[str]:
    at = f"{program} --station {shlex.quote(made.database)}"
    sown = Troubles()
    looks = [
        ("the cell that ages: its last weeks before it was replaced",
         f"drift chart 'analyser {AGEING}' --until {_day(sown.cell_until - 1)}"),
        ("the gauge that took a knock: its chart, as it still reads low",
         f"drift chart 'gauge {OXYGEN_GAUGE}'"),
        (f"the bank that leaks: under Gas balance, {LEAKING} DOES NOT CLOSE",
         f"book audit --from {_day(sown.leak_from)} --to {_day(sown.leak_until - 1)}"),
        ("what the charts say now, and the evidence", "drift show"),
        ("all that was out of the usual, as an inspector is handed it",
         f"book audit --from {made.first_day} --to {made.last_day} --out audit.pdf"),
        ("what falls due", "due"),
        ("the ageing analyser's fills in July", f"book list --search '{AGEING} 2025-07'"),
        ("the terminal itself", ""),
    ]  # fmt: skip
    return ["To look at:", *(f"  {at} {words}".rstrip() + f"   # {what}" for what, words in looks)]
