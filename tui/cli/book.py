"""`book ...`: the record, to be listed, read, exported and printed."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from tui.cli.shared import (
    in_units_of,
    kept,
    on_paper,
    option,
    paper_of,
    record,
    shared,
    show,
    shown_in,
)

_MANY = 500  # fills of which the drawing takes long enough to be watched


@click.group()
@shared
def book() -> None:
    """Search, show, export and print the record."""


@book.command("list")
@option("--search", "TEXT", "Only fills that fit every word: parts of a serial or name, a mix, "
        "a date such as 2026-11, an analyser, a state, a number. Newest first.")  # fmt: skip
@option("--limit", "N", "Only the newest N, newest first.", type=click.IntRange(min=1, max=2**31))
@shared
def listed(search: str | None, limit: int | None) -> None:
    """List the fills, oldest first; with --search or --limit newest first."""
    from blender.station import book as reading

    with record() as opened:
        if search is None and limit is None:
            answer = reading.fills(opened)
        else:
            answer = _found(opened, search or "", limit)
    told = [f"{answer['understood']}: {answer['found']} found"] if search else []
    show(answer, [*told, *map(reading.fill_line, answer["fills"])])


def _found(opened: Any, text: str, limit: int | None) -> dict[str, Any]:
    """Return the fills of a search, newest first, and how it was understood."""
    from blender.station import search

    numbers = search.find(opened, text)
    return {
        "understood": search.understood(opened, text),
        "found": len(numbers),
        "fills": search.lines(opened, numbers[:limit]),
    }


@book.command("show")
@click.argument("number", metavar="FILL", type=click.IntRange(min=1, max=2**31))
@shared
def shown(number: int) -> None:
    """Show one fill's whole story."""
    from blender.station import book as reading

    with record() as opened:
        answer = reading.story(opened, number)
    show(answer, reading.story_lines(answer))


@book.command("export")
@option("--out", "FILE", "File to write; else standard output.")
@shared
def exported(out: str | None) -> None:
    """Export every entry with its digests, one JSON document a line."""
    from blender.station import book as reading
    from tui.wiring import write_file

    with record() as opened:
        if out is None:
            _print_entries(reading.journal(opened))
            return
        text = "".join(json.dumps(entry) + "\n" for entry in reading.journal(opened))
        path = write_file(out, text.encode())
    show({"file": path}, [f"Written: {path}"])


@book.command("recompute")
@shared
def recomputed() -> int:
    """Work every analysis and label out again from what was typed, and compare."""
    from blender.station.recomputing import recompute

    with record() as opened:
        answer = recompute(opened)
    told = [f"{answer['analyses']} analyses and {answer['labels']} labels come out the same."]
    told += [
        f"  DIFFERENT: entry {one['seq']}: {one['stored']}, now {one['again']}"
        for one in answer["differences"]
    ]
    if answer["untold"]:
        told.append(f"  entries of an earlier format do not say enough: {answer['untold']}")
    show(answer, told)
    return 4 if answer["differences"] else 0


def _print_entries(entries: Iterator[dict[str, Any]]) -> None:
    if kept("json"):
        click.echo(json.dumps({"entries": list(entries)}))
        return
    for entry in entries:
        click.echo(json.dumps(entry))


@book.command("log")
@option("--from", "2026-11-01", "First day; with no choice below it is needed.")
@option("--to", "2026-11-25", "Last day; with no choice below it is needed.")
@option("--cylinder", "SERIAL", "Only fills of this cylinder.")
@option("--customer", "NAME", "Only fills for this customer.")
@option("--blender", "NAME", "Only fills by this blender.")
@on_paper
@in_units_of
@option("--out", "FILE", "File to write: .pdf or .csv.", required=True)
@shared
def log(out: str, paper: str | None, units: str | None, **asked: str | None) -> None:
    """Print the fill log as PDF or CSV, of days, a cylinder, a customer or a blender."""
    from blender.errors import InputError
    from blender.station.export import log_view
    from tui.wiring import clock, write_file

    kind = Path(out).suffix.lower()
    if kind not in (".pdf", ".csv"):
        raise InputError("--out", out, "the name ends in .pdf or .csv")
    given = {name: text or "" for name, text in asked.items()}
    first, last = given.pop("from"), given.pop("to")
    if not any(given.values()) and not (first and last):
        field = "--to" if first else "--from"
        raise InputError(field, None, "give both days, or a cylinder, a customer or a blender")
    with record() as opened:
        view = log_view(opened, first, last, clock(), **given)
        if units:
            view = shown_in(opened, units, view)
        paper = paper_of(opened, paper)
    path = write_file(out, _log_bytes(view, kind, paper))
    answer = {"file": path, "fills": len(view.lines), "anchor": view.proof.anchor}
    chosen = f" ({view.selection})" if view.selection else ""
    show(answer, [f"{len(view.lines)} fills{chosen}: {path}"])


@book.command("audit")
@option("--from", "2026-01-01", "First day.", required=True)
@option("--to", "2026-12-31", "Last day.", required=True)
@on_paper
@in_units_of
@option("--out", "FILE", "PDF to write; without it the report is only shown.")
@shared
def audited(to: str, out: str | None, paper: str | None, units: str | None, **facts: str) -> int:
    """Go through a span of days for an inspector: exceptions, overrides, drift, balance, due."""
    from blender.record.verify import verify
    from blender.station.audit import audit
    from reports.audit import audit_pdf, lines
    from tui.wiring import clock, write_file

    with record() as opened:
        view = audit(opened, facts["from"], to, clock(), verify(opened.location))
        view = shown_in(opened, units, view)
        paper = paper_of(opened, paper)
    path = write_file(out, audit_pdf(view, paper)) if out else None
    written = [f"Report: {path}"] if path else []
    told = [f"{caption:16} {text}" for caption, text, _ in lines(view)]
    show(view.as_dict() | {"file": path}, [*told, *written])
    return 0 if view.verified.ok else 4


def _log_bytes(view: Any, kind: str, paper: str) -> bytes:
    if kind == ".csv":
        from reports.fill_csv import fill_csv

        return fill_csv(view).encode()
    from reports.fill_log import fill_log_pdf

    total = len(view.lines)
    if total < _MANY or not sys.stderr.isatty():
        return fill_log_pdf(view, paper)
    with click.progressbar(length=total, label=f"{total} fills", file=sys.stderr) as bar:
        return fill_log_pdf(view, paper, lambda drawn: bar.update(drawn - bar.pos))
