"""`import ...`: cylinders, customers and earlier fills taken over from tables."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import at_work, option, record, shared, show, signer

MOST_TOLD = 200


@click.command("import")
@click.argument("what", metavar="[cylinders|customers|fills]", default="")
@click.argument("file", metavar="[FILE.csv]", default="")
@click.option("--columns", is_flag=True, help="Show the columns each kind of table has.")
@click.option("--dry-run", is_flag=True, help="Name every bad row, and enter nothing.")
@option("--encoding", "utf-8|windows-1252", "Of the file.", default="utf-8", show_default=True)
@option("--delimiter", ",|;", "Between cells; else as the heading has it.", default="")
@signer
@shared
def import_(
    what: str,
    file: str,
    columns: bool,
    dry_run: bool,
    who: str | None,
    secret_file: str | None,
    **how: str,
) -> int:
    """Take over what the shop has from a CSV table (manager): all of it or nothing.

    Fills taken over are marked imported and unsigned; the same file again enters nothing.
    """
    from blender.station import importing

    if columns:
        return _columns()
    _check(what, file, how)
    content = _content(file)
    if dry_run:
        from tui.wiring import clock

        with record() as opened:
            answer = importing.rehearse(opened, what, content, clock(), **how)
    else:
        with at_work(who, secret_file) as (station, actor):
            answer = importing.bring_in(station, actor, what, content, **how)
    return _said(answer, dry_run=dry_run)


def _columns() -> int:
    from blender.station.takeover import KINDS

    told, answer = list[str](), dict[str, Any]()
    for kind, known in KINDS.items():
        told.append(f"{kind}:")
        for name, column in known.columns.items():
            told.append(f"  {name:10} {column.says}{'' if column.needed else ' (may be left out)'}")
        answer[kind] = {
            name: {"needed": column.needed, "says": column.says}
            for name, column in known.columns.items()
        }
    told.append("The first line names the columns; cells are between commas or semicolons.")
    show(answer, told)
    return 0


def _check(what: str, file: str, how: dict[str, str]) -> None:
    from blender.errors import InputError
    from blender.station.csv_rows import DELIMITERS
    from blender.station.takeover import KINDS

    if what not in KINDS:
        raise InputError("import", repr(what[:40]), f"say what: {', '.join(KINDS)}; see --columns")
    if not file:
        raise InputError("FILE", "nothing", "name the table to take over, such as cylinders.csv")
    if how["delimiter"] and how["delimiter"] not in DELIMITERS:
        raise InputError("--delimiter", repr(how["delimiter"][:10]), "allowed are , and ;")


def _content(file: str) -> bytes:
    from tui.wiring import read_bytes

    return read_bytes(file, "FILE")


def _said(answer: dict[str, Any], *, dry_run: bool) -> int:
    from blender.errors import InputError

    bad, what = answer["bad"], answer["what"]
    minds = [f"Mind: {one}" for one in answer.get("cautions", [])[:MOST_TOLD]]
    told = answer.pop("told")
    if bad:
        more = [f"... and {len(told) - MOST_TOLD} more"] if len(told) > MOST_TOLD else []
        show(answer, told[:MOST_TOLD] + more)
        error = InputError("FILE", f"{len(bad)} bad cells", "nothing was entered; put them right")
        click.echo(f"fillwright: {error.text}", err=True)
        return error.exit_code
    if answer["repeated"]:
        show(answer, [f"This file was taken over before, as entry {answer['seq']}: nothing new."])
    elif dry_run:
        show(answer, [f"{answer['rows']} {what} could be taken over; nothing was entered.", *minds])
    else:
        show(answer, [f"{answer['rows']} {what} taken over (entry {answer['seq']}).", *minds])
    return 0
