"""`day ...`: the start and the end of a day at the station, and its closing sheet."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import (
    at_work,
    in_units_of,
    on_paper,
    option,
    paper_of,
    record,
    shared,
    show,
    shown_in,
    signer,
)


@click.group()
@shared
def day() -> None:
    """Open, close and show the day at the station."""


@day.command("open")
@option("--gauges-zero", "yes|no", "Do all panel gauges show zero?", required=True)
@option("--room", "yes|no[, TEXT]", "Do oxygen alarm and ventilation work?", required=True)
@option("--intake", "yes|no[, TEXT]", "Does the compressor draw clean air?", required=True)
@option("--bank", "NAME=180bar[@15C]", "What a bank's gauge shows; repeat it.", multiple=True)
@option("--note", "TEXT", "Anything else.", default="")
@signer
@shared
def opened(who: str | None, secret_file: str | None, bank: tuple[str, ...], **facts: Any) -> None:
    """Open the day: what was looked at, and what every bank shows."""
    from blender.station import day as days

    banks = dict(map(_bank, bank))
    with at_work(who, secret_file) as (station, actor):
        answer = days.open_day(station, actor, supplies=banks, **facts)
    told = [f"Day {answer['day']} opened."]
    told += [f"  NOT IN ORDER: {text}" for text in answer["exceptions"]]
    told += [f"  BANK FAR OFF: {text}" for text in answer["banks_far_off"]]
    show(answer, told + [f"  {text}" for text in answer["analysers_due"]])


def _bank(typed: str) -> tuple[str, str]:
    from blender.errors import InputError

    name, equals, at = typed.partition("=")
    if not equals:
        raise InputError("--bank", repr(typed[:80]), "give NAME=PRESSURE such as o1=180bar@15C")
    return name.strip(), at


@day.command("close")
@option("--note", "TEXT", "Anything else.", default="")
@signer
@shared
def closed(who: str | None, secret_file: str | None, note: str) -> None:
    """Close the day; prints the head, which the day's sheet has too."""
    from blender.station import day as days

    with at_work(who, secret_file) as (station, actor):
        answer = days.close_day(station, actor, note=note)
    show(answer, [f"Day {answer['day']} closed.", *days.fill_lines(answer), answer["anchor"]])


@day.command("show")
@shared
def shown() -> None:
    """Show how the day stands: opened, calibrations, banks, what waits."""
    from blender.station import day as days
    from tui.wiring import clock

    with record() as opened_record:
        answer = days.day_status(opened_record, clock())
    show(answer, days.status_lines(answer))


@day.command("sheet")
@option("--out", "FILE", "PDF to write.", required=True)
@option("--day", "2026-11-25", "Which day; default the last that was opened.")
@on_paper
@in_units_of
@shared
def sheet(out: str, day: str | None, paper: str | None, units: str | None) -> None:
    """Print a day's closing sheet."""
    from blender.station.day_papers import day_view
    from reports.day_sheet import day_sheet_pdf
    from tui.wiring import clock, write_file

    with record() as opened_record:
        view = shown_in(opened_record, units, day_view(opened_record, clock(), day))
        paper = paper_of(opened_record, paper)
    path = write_file(out, day_sheet_pdf(view, paper))
    answer = {"day": view.day, "file": path, "anchor": view.proof.anchor, "seq": view.proof.seq}
    show(answer, [f"Day sheet of {view.day}: {path}", view.proof.anchor])
