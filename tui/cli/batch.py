"""`batch ...`: one mix for a boat's cylinders, asked for, foreseen and planned together."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.gas import planning_options
from tui.cli.shared import (
    at_work,
    finish_all,
    on_paper,
    option,
    paper_of,
    record,
    shared,
    show,
    signer,
)

NUMBER = click.IntRange(min=1, max=2**31)
_number = click.argument("number", metavar="BATCH", type=NUMBER)


@click.group()
@shared
def batch() -> None:
    """Fill many cylinders with one mix: request, forecast, plan, board, sheet."""


@batch.command("request")
@option(
    "--cylinder",
    "SERIAL=60bar@20C:EAN28,analysed",
    "A cylinder, what is left in it and how that is known; repeat it, in order of filling.",
    multiple=True,
    required=True,
)
@option("--customer", "NAME_OR_ID", "Whose they are.", required=True)
@option("--want", "200bar:EAN32", "What is wanted in each.", required=True)
@option("--ambient", "1.01325bar", "Ambient pressure here, if it is not the standard one.")
@signer
@shared
def requested(
    who: str | None, secret_file: str | None, cylinder: tuple[str, ...], **facts: Any
) -> None:
    """Take in up to 24 cylinders: all of them or none."""
    from blender.station import batch as batches

    cylinders = [batches.BatchCylinder(*_cylinder(typed)) for typed in cylinder]
    with at_work(who, secret_file) as (station, actor):
        answer = batches.request_batch(station, actor, cylinders=cylinders, **facts)
    show(answer, [answer["text"], *(f"  {fill['text']}" for fill in answer["fills"])])


def _cylinder(typed: str) -> tuple[str, str, str]:
    """Take apart ``SERIAL=60bar:EAN28,analysed``; the last comma is before how it is known."""
    from blender.errors import InputError

    serial, equals, left = typed.partition("=")
    have, comma, known = left.rpartition(",")
    if not equals or not comma:
        allowed = "give SERIAL=PRESSURE:GAS,KNOWN such as C-1001=60bar:EAN28,analysed"
        raise InputError("--cylinder", repr(typed[:80]), allowed)
    return serial.strip(), have.strip(), known.strip()


@batch.command("plan")
@_number
@planning_options
@signer
@shared
def planned(number: int, who: str | None, secret_file: str | None, **options: Any) -> int:
    """Plan every fill that was not started, each from what those before it leave in the banks."""
    from blender.planning.options import Options
    from blender.station.batch import plan_batch

    with at_work(who, secret_file) as (station, actor):
        answers = plan_batch(station, actor, number, Options(**options))
    done = [answer.fill for answer in answers if answer.done]
    plans = [answer.as_dict() for answer in answers]
    told = [f"Fill {answer.fill}: {answer.text}" for answer in answers if answer.done]
    last = f"Batch {number}: {len(done)} of {len(answers)} planned."
    show({"batch": number, "planned": done, "plans": plans, "text": last}, [*told, last])
    return finish_all(answers)


@batch.command("forecast")
@_number
@planning_options
@shared
def foreseen(number: int, **options: Any) -> None:
    """Tell how far the banks go, before anything is planned; nothing is entered."""
    from blender.planning.options import Options
    from blender.station.batch import forecast

    with record() as opened:
        answer = forecast(opened, number, Options(**options))
    show(answer, _forecast_lines(answer))


def _forecast_lines(answer: dict[str, Any]) -> list[str]:
    count = len(answer["complete"])
    told = [f"Batch {answer['batch']}: {count} of {len(answer['lines'])} can be completed."]
    told += [f"  {line['serial']}: {_reaches(line)}" for line in answer["lines"]]
    if answer["first_short"] is not None:
        told.append(f"First that falls short: {answer['first_short']}: {answer['why']}")
    banks = [f"{name} {gauge:.1f} bar" for name, gauge in answer["banks_after"].items()]
    return told + ([f"Banks afterwards: {', '.join(banks)} (20 degC)"] if banks else [])


def _reaches(line: dict[str, Any]) -> str:
    found = line["reaches"]
    if found is None:
        return "NOT POSSIBLE"
    helium = f" He {found['he']:.1%}" if found["he"] > 0.0005 else ""
    reached = f"{found['pressure_bar']:.1f} bar, O2 {found['o2']:.1%}{helium}"
    return reached if line["complete"] else f"FALLS SHORT, at most {reached}"


@batch.command("board")
@click.argument("number", metavar="[BATCH]", type=NUMBER, required=False)
@shared
def shown(number: int | None) -> None:
    """Show where every cylinder of a batch stands; without a number, the open batches."""
    from blender.station import batch as batches

    with record() as opened:
        if number is None:
            found = batches.batches(opened)
            show({"batches": found}, [_summary(one) for one in found] or ["No open batches."])
        else:
            answer = batches.board(opened, number)
            show(answer, _board_lines(answer))


def _summary(one: dict[str, Any]) -> str:
    states = ", ".join(f"{count} {state}" for state, count in one["states"].items())
    customers = ", ".join(one["customers"])
    return f"Batch {one['batch']}: {one['want']} for {customers}, {one['cylinders']}: {states}"


def _board_lines(answer: dict[str, Any]) -> list[str]:
    told = [_summary(answer), *(f"  {_line(line)}" for line in answer["lines"])]
    waiting = answer["not_yet_analysed_by_diver"]
    return [*told, f"Not yet analysed by diver: {', '.join(waiting) or 'none'}"]


def _line(line: dict[str, Any]) -> str:
    said = f"fill {line['fill']}, {line['serial']}, {line['customer']}: {line['state']}"
    if line["beyond_stop"]:
        said += f", PLAN AGAIN: {line['beyond_stop']}"
    elif (ahead := line["next"]) and "to_bar" in ahead:
        supply = f" {ahead['supply']}" if ahead["supply"] else ""
        said += f", next {ahead['action']}{supply} to {ahead['to_bar']:.1f} bar"
    if line["gas_lost"]:
        said += f", {line['gas_lost']}"
    if read := line["last_reading"]:
        said += f", last read {read['pressure_bar']:.1f} bar"
    if analysed := line["analysed"]:
        said += f", analysed O2 {analysed['o2']:.1%}"
    if line["accepted_by"]:
        said += f", signed by {line['accepted_by']}"
    return f"{said} - DO NOT BREATHE" if line["do_not_breathe"] else said


@batch.command("sheet")
@_number
@option("--out", "FILE", "PDF to write; default batch-STATION-BATCH.pdf here.")
@on_paper
@shared
def sheet(number: int, out: str | None, paper: str | None) -> None:
    """Print what no diver has analysed and signed for yet."""
    from blender.station.batch_papers import batch_view
    from reports.batch_sheet import batch_sheet_pdf
    from tui.wiring import clock, write_file

    with record() as opened:
        view, paper = batch_view(opened, number, clock()), paper_of(opened, paper)
    name = out or f"batch-{view.proof.station}-{number}.pdf"
    path = write_file(name, batch_sheet_pdf(view, paper))
    waiting = [line.serial for line in view.lines]
    answer = {"batch": number, "file": path, "anchor": view.proof.anchor, "seq": view.proof.seq}
    answer["not_yet_analysed_by_diver"] = waiting
    show(answer, [f"Batch sheet of batch {number}, {len(waiting)} to sign: {path}"])
