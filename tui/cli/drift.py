"""`drift`: what many fills together say of gauges, analysers, supplies and ways of filling."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import at_work, option, record, shared, show, signer


@click.group()
@shared
def drift() -> None:
    """What many fills together say: charts, alarms, and corrections of gauges."""


@drift.command("show")
@shared
def drift_show() -> None:
    """Show alarms with what is likely off, corrections in force, and every chart's latest mean."""
    from blender.station import drift_words, drifting

    with record() as opened:
        answer = drifting.show(opened)
    show(answer, drift_words.lines(answer))


@drift.command("chart")
@click.argument("cause")
@option("--last", "60", "How many of its latest fills.", type=int, default=60)
@option("--until", "2026-03-12", "As it stood at the end of this day; default now.", default="")
@shared
def drift_chart(cause: str, last: int, until: str) -> None:
    """Draw the chart of a cause: 'gauge G1', 'analyser A1', 'supply o1', 'method banked'."""
    from blender.station import drift_words, drifting

    with record() as opened:
        answer = drifting.chart(opened, cause, last, until)
    show(answer, drift_words.chart_lines(answer))


@drift.command("correct")
@click.argument("gauge")
@option("--by", "1.3bar", "Added to what it shows: above 0 for one that shows less.", required=True)
@option("--since", "2026-03-12", "The day from which on it was off.", required=True)
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def drift_correct(gauge: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Sign a correction of a gauge into force (manager)."""
    from blender.station import correcting

    with at_work(who, secret_file) as (station, actor):
        answer = correcting.correct(station, actor, gauge, **facts)
    show(answer, [f"{answer['text']}."])


@drift.command("end")
@click.argument("gauge")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def drift_end(gauge: str, who: str | None, secret_file: str | None, reason: str) -> None:
    """End the correction of a gauge (manager)."""
    from blender.station import correcting

    with at_work(who, secret_file) as (station, actor):
        answer = correcting.end(station, actor, gauge, reason=reason)
    show(answer, [f"{answer['text']}."])


@drift.command("corrections")
@shared
def drift_corrections() -> None:
    """List every correction that was ever signed, and how it ended."""
    from blender.station import drift_words, drifting

    with record() as opened, opened.read() as conn:
        answer = {"corrections": drifting.corrections(conn)}
    show(answer, map(drift_words.correction_line, answer["corrections"]))
