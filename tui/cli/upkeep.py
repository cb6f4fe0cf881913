"""`verify` and `rebuild`: is the record whole, and its tables made anew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tui.cli.backup import counting
from tui.cli.shared import kept, option, shared, show

if TYPE_CHECKING:
    from blender.record.rebuild import Rebuilt
    from blender.record.verify import Problem, Report
    from blender.station.paper_check import Paper


@click.command()
@option("--anchor", "TEXT", "A label's QR code, a report's footer, or a root of a day's sheet.")
@click.option("--links", is_flag=True, help="Only the chain: a million entries in seconds.")
@shared
def verify(anchor: str | None, links: bool) -> int:
    """Check the whole record: chain, signatures, tables, guards. Repairs nothing."""
    if links:
        return _links(anchor)
    from blender.station import safekeeping
    from blender.station.paper_check import check_paper
    from tui.wiring import location

    place = location(kept("station"))
    paper = check_paper(place, anchor, counting("verified"))
    report = paper.report
    if report.ok or paper.whole_but:
        report.problems.extend(_beside(place))
    answer = _as_dict(report) | {"copies": _copies(place)}
    if anchor is not None:
        answer["paper"] = {"checked": paper.is_checked, "text": paper.text}
    copies = [safekeeping.line(answer["copies"])] if answer["copies"] else []
    told = paper.text if anchor is not None else f"{paper.text}: --anchor."
    show(answer, [*_lines(paper), told, *copies])
    return 0 if report.ok else 4


def _links(anchor: str | None) -> int:
    """Check the chain alone, and say that it was no more."""
    from blender.errors import InputError
    from blender.record.anchor import head_text
    from blender.record.links import check_links
    from tui.wiring import location

    if anchor is not None:
        raise InputError("--links", "--anchor", "a label is checked by the whole `verify`")
    found = check_links(location(kept("station")), counting("followed"))
    answer = {"ok": found.problem is None, "entries": found.seq, "head": head_text(found.head)}
    told = [f"The chain holds up to entry {found.seq}, head {answer['head']}."]
    if (flaw := found.problem) is not None:
        told.append(f"  {flaw}")
    show(answer, [*told, "Signatures, tables and guards were not looked at: `verify` alone does."])
    return 4 if flaw else 0


def _beside(place: str) -> list[Problem]:
    """Hold a whole record against checkpoint and roots beside it: it may be an old copy."""
    from blender.errors import FillwrightError
    from blender.record.start import held_against_checkpoint
    from tui.wiring import open_record

    try:
        with open_record(place) as record:
            return held_against_checkpoint(record)
    except FillwrightError:
        return []


def _copies(place: str) -> dict[str, Any] | None:
    """Tell when the last copies were made; None where the record cannot be read for it."""
    from blender.errors import FillwrightError
    from blender.record.journal import Record
    from blender.station import safekeeping
    from tui.wiring import clock

    try:
        with Record.open(place, readonly=True) as record:
            return safekeeping.standing(record, clock())
    except FillwrightError:
        return None


def _as_dict(report: Report) -> dict[str, Any]:
    problems = [{"seq": p.seq, "kind": p.kind, "text": p.text} for p in report.problems]
    return {
        "ok": report.ok,
        "station": report.station,
        "incarnation": report.incarnation,
        "entries": report.entries,
        "head": report.head,
        "problems": problems,
    }


def _lines(paper: Paper) -> list[str]:
    report = paper.report
    flawed = f"whole, but {whole}" if (whole := paper.whole_but) else "DAMAGED OR ALTERED"
    verdict = "whole" if report.ok else flawed
    return [
        f"Station {report.station}, incarnation {report.incarnation}: record is {verdict}.",
        f"{report.entries} entries, head {report.head}",
        *(f"  {one}" for one in report.problems),
    ]


@click.command()
@shared
def rebuild() -> None:
    """Make the read tables anew from the journal; the journal itself is never changed."""
    from blender.record.journal import Record
    from blender.record.rebuild import rebuild as make
    from tui.wiring import location

    with Record.open(location(kept("station")), check=False) as opened:
        done = make(opened, counting("applied"))
    changed = {name: {"before": was, "after": now} for name, (was, now) in done.changed.items()}
    show({"entries": done.entries, "changed": changed}, _rebuilt_lines(done))


def _rebuilt_lines(done: Rebuilt) -> list[str]:
    told = [f"Read tables made anew from {done.entries} entries."]
    for name, (was, now) in done.changed.items():
        count = "could not be read" if was < 0 else f"{was} rows"
        told.append(f"  {name} was not as the journal has it: {count} before, {now} now")
    return [*told, *([] if done.changed else ["  every table was as the journal has it"])]
