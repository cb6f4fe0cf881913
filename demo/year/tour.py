"""What to look at in the year, and what the program found without being told."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.verify import Report, verify
from blender.station import drifting, in_hand
from blender.station.audit import AuditView, audit
from blender.station.gas_balance import balances
from demo.station import STAFF
from demo.year.run import Told, Year, year
from demo.year.troubles import AGEING, DAYS, FIRST_DAY, LEAKING, OXYGEN_GAUGE, Troubles

_MONTH = 30  # days


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
        alarms = drifting.show(record, 0, 0)["alarms"]
        found = {
            "an analyser's cell that ages": _named(alarms, f"analyser {AGEING}"),
            "an oxygen gauge that took a knock": _named(alarms, f"gauge {OXYGEN_GAUGE}"),
            "a bank that leaks": _leak(record),
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


def _named(alarms: Sequence[dict[str, Any]], cause: str) -> str | None:
    """Return the clearest alarm of the year whose likeliest cause is an instrument."""
    named = [one for one in alarms if one["suspects"] and one["suspects"][0]["cause"] == cause]
    clearest = max(named, key=lambda one: abs(one["suspects"][0]["bias"]), default=None)
    return str(clearest["text"]) if clearest else None


def _leak(record: Record) -> str | None:
    """Go through the gas balances as a manager does, month by month."""
    with record.read() as conn:
        for number in range(0, DAYS, _MONTH):
            for one in balances(conn, record.station, _us(number), _us(number + _MONTH)):
                if one.supply == LEAKING and not one.closes and one.unexplained_mol < 0.0:
                    lost = f"{-one.unexplained_mol:.0f} mol are missing"
                    span = f"from {_day(number)} on"
                    return f"{LEAKING}: {span} {lost}, more than the doubt of {one.doubt_mol:.0f}"
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


def _us(number: int) -> int:
    """Return when a day of the year begins, to an hour or two [us UTC]."""
    return int(datetime(*FIRST_DAY, tzinfo=UTC).timestamp() + number * 86_400) * 1_000_000


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
