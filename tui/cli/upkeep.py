"""`verify` and `rebuild`: is the record whole, and its tables made anew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from tui.cli.shared import kept, option, shared, show

if TYPE_CHECKING:
    from blender.record.verify import Report


@click.command()
@option("--anchor", "TEXT", "The text of a label's QR code or of a report's footer.")
@shared
def verify(anchor: str | None) -> int:
    """Check the whole record: chain, signatures, tables, guards. Repairs nothing."""
    from blender.record.verify import verify as check
    from tui.wiring import location

    report = check(location(kept("station")), anchor)
    answer = _as_dict(report)
    show(answer, [*_lines(answer), *_about_anchor(answer, anchor)])
    return 0 if report.ok else 4


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


def _lines(answer: dict[str, Any]) -> list[str]:
    verdict = "whole" if answer["ok"] else "DAMAGED OR ALTERED"
    told = [
        f"Station {answer['station']}, incarnation {answer['incarnation']}: record is {verdict}.",
        f"{answer['entries']} entries, head {answer['head']}",
    ]
    return told + [f"  entry {p['seq']}: {p['kind']}: {p['text']}" for p in answer["problems"]]


def _about_anchor(answer: dict[str, Any], anchor: str | None) -> list[str]:
    """Say what the label or report proved, or what only one could prove."""
    if anchor is None:
        return ["Entries cut off at the end show only beside a label or report: --anchor."]
    if any(problem["kind"] == "anchor" for problem in answer["problems"]):
        return ["If the anchor was typed, type it again: one wrong letter looks the same."]
    return [f"It agrees with the label or report of entry {anchor.split()[3]}."]


@click.command()
@shared
def rebuild() -> None:
    """Make the read tables anew from the journal; the journal itself is never changed."""
    from blender.record.journal import Record
    from blender.record.rebuild import rebuild as make
    from tui.wiring import location

    with Record.open(location(kept("station")), check=False) as opened:
        count = make(opened)
    show({"entries": count}, [f"Read tables made anew from {count} entries."])
