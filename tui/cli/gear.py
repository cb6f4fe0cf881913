"""`equipment` and `due`: gauges, whips, filters and the rest; what is done, what is next."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import at_work, option, record, shared, show, signer


@click.group()
@shared
def equipment() -> None:
    """Gauges, whips, panels, room monitors, filters, cells: what there is, what is done to it."""


@equipment.command("add")
@click.argument("kind")
@click.argument("name")
@option("--range", "1.6@400bar", "Class and scale of a gauge.")
@option("--serves", "oxygen|helium|top|all", "Which gas a gauge, whip or panel is for.")
@option("--on", "NAME", "The compressor of a filter, or the analyser of a cell.")
@option("--life", "40h", "Hours a filter's maker gives it.")
@option("--at", "20C", "Intake temperature at which those hours count.")
@option("--measures", "oxygen|helium", "What a cell measures.")
@option("--since", "2026-03-01", "The day it was taken into use; today if not said.", default="")
@signer
@shared
def equipment_add(
    kind: str, name: str, who: str | None, secret_file: str | None, **facts: Any
) -> None:
    """Add a gauge, whip, panel, monitor, filter or cell (manager)."""
    from blender.station import items

    with at_work(who, secret_file) as (station, actor):
        answer = items.add(station, actor, kind, name, **facts)
    show(answer, [f"Added {answer['meaning']} {answer['name']}, in use since {answer['day']}."])


@equipment.command("did")
@click.argument("kind")
@click.argument("name")
@click.argument("act")
@option("--on", "2026-03-01", "The day; today if not said.", default="")
@option("--hours", "1234.5h", "What a compressor's hour meter shows.")
@option("--temperature", "28C", "Temperature of the air drawn in; 20C if not said.")
@option("--off", "-0.5bar", "How far a gauge was off: below 0 it shows less.")
@option("--found", "yes|no", "Whether it was found sound.")
@option("--by", "NAME", "What it was swapped for.")
@option("--note", "TEXT", "Who did it, the number of a certificate.", default="")
@signer
@shared
def equipment_did(
    kind: str, name: str, act: str, who: str | None, secret_file: str | None, **facts: Any
) -> None:
    """Enter what was done: calibrated, cleaned, tested, swapped, changed, ran, oil, serviced."""
    from blender.station import upkeep

    with at_work(who, secret_file) as (station, actor):
        answer = upkeep.did(station, actor, kind, name, act, **facts)
    show(answer, [f"{answer['kind']} {answer['name']}: {answer['text']}."])


@equipment.command("retire")
@click.argument("kind")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def equipment_retire(
    kind: str, name: str, reason: str, who: str | None, secret_file: str | None
) -> None:
    """Take an item out of use (manager)."""
    from blender.station import items

    with at_work(who, secret_file) as (station, actor):
        answer = items.retire(station, actor, kind, name, reason=reason)
    show(answer, [f"{answer['kind']} {answer['name']} retired: {answer['reason']}"])


@equipment.command("list")
@shared
def equipment_list() -> None:
    """List the equipment, with what was done to it last."""
    from blender.station import items

    with record() as opened, opened.read() as conn:
        answer = items.listing(conn)
    show(answer, map(items.line, answer["equipment"]))


@equipment.command("show")
@click.argument("kind")
@click.argument("name")
@shared
def equipment_show(kind: str, name: str) -> None:
    """Show everything that was done to an item; also to a compressor or an analyser."""
    from blender.station import upkeep

    with record() as opened, opened.read() as conn:
        answer = upkeep.history(conn, opened.station, kind, name)
    show(answer, [f"{one['text']} ({one['by']}, entry {one['seq']})" for one in answer["done"]])


@click.command()
@option("--within", "DAYS", "What falls due within so many days, instead of lead times.", type=int)
@shared
def due(within: int | None) -> None:
    """List what is overdue or falls due soon: stamps, analysers, equipment, air, filters."""
    from blender.station import duties
    from tui.wiring import clock

    with record() as opened:
        answer = duties.due(opened, clock(), within_days=within)
    show(answer, [duties.line(one) for one in answer["due"]] or ["nothing falls due"])
