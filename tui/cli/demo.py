"""`demo`: an invented station's day, told by what the program answered."""

from __future__ import annotations

import shlex
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tui.cli.shared import option, shared, show

if TYPE_CHECKING:
    from demo.walk import Walk


@click.command()
@click.option("--walk", is_flag=True, help="Tell the day without a terminal, to its end.")
@click.option("--year", is_flag=True, help="A year of work with troubles sown in it, and a tour.")
@option("--fills", "N", "How many fills the year has.", type=click.IntRange(min=50, max=20_000),
        default=1000, show_default=True)  # fmt: skip
@option("--out", "DIR", "Folder for record and papers.", default="demo-out", show_default=True)
@shared
def demo(walk: bool, year: bool, fills: int, out: str) -> int:  # noqa: ARG001 - it always walks
    """Walk an invented station through a day, and leave its record and papers in a folder."""
    if year:
        return _year(Path(out), fills)
    from demo.walk import walk as through_the_day

    done = through_the_day(Path(out))
    show(_as_dict(done), [*done.account, *_closing(done)])
    return 0 if done.report.ok else 4


def _year(folder: Path, fills: int) -> int:
    """Make the year, with how far it is where somebody watches, and show the tour."""
    from demo.year.tour import through_the_year
    from tui.wiring import program

    with click.progressbar(length=fills, label="a year of fills", file=sys.stderr,
                           hidden=not sys.stderr.isatty()) as bar:  # fmt: skip
        seen = through_the_year(folder, fills, program(), lambda done: bar.update(done - bar.pos))
    answer = {"record": seen.made.database, "fills": seen.made.fills, "found": seen.found,
              "counted": seen.made.counted, "verify": {"ok": seen.report.ok,
              "entries": seen.report.entries}, "secrets": seen.secrets}  # fmt: skip
    told = [f"  {name}: {secret}" for name, secret in seen.secrets.items()]
    show(answer, [*seen.lines, "Who may sign there, and with which secret:", *told])
    return 0 if seen.report.ok else 4


def _as_dict(done: Walk) -> dict[str, Any]:
    report = done.report
    problems = [{"seq": p.seq, "kind": p.kind, "text": p.text} for p in report.problems]
    return {
        "station": report.station,
        "record": done.database,
        "files": done.files,
        "fills": done.fills,
        "head": report.head,
        "anchor": done.anchor,
        "verify": {"ok": report.ok, "entries": report.entries, "problems": problems},
        "secrets": done.secrets,
        "account": done.account,
    }


def _closing(done: Walk) -> list[str]:
    """Return what to know afterwards: the verdict, the papers, and how to go on."""
    from tui.wiring import program

    report, where = done.report, shlex.quote(done.database)
    verdict = "whole" if report.ok else "NOT whole"
    fillwright = f"{program()} --station {where}"
    return [
        "",
        f"The record is {verdict}: {report.entries} entries, the last of them",
        f"  {report.head}",
        f"Everything is in {done.folder}:",
        *_names(done),
        "",
        "To go on from here:",
        f"  {fillwright} book show 3",
        *_verify_command(fillwright, done.anchor),
        f"  {fillwright} fill release 11 \\",
        f"    --as '{next(iter(done.secrets))}' --reason 'looked at: go on'",
        "Who may sign there, and with which secret (it is asked for):",
        *(f"  {name}: {secret}" for name, secret in done.secrets.items()),
    ]


def _verify_command(fillwright: str, anchor: str) -> list[str]:
    """Return the command on three lines; between an anchor's words a line may end."""
    words, _, head = anchor.rpartition(" ")
    return [f"  {fillwright} verify --anchor \\", f"    '{words}", f"    {head}'"]


def _names(done: Walk) -> list[str]:
    """Return the files made, as many to a line as fit."""
    names = ", ".join(Path(name).name for name in done.files)
    return textwrap.wrap(
        names, 80, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False
    )
