"""`compressor` and `price`: what the station makes gas with, and what gas costs it."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import at_work, option, record, shared, show, signer


@click.group()
@shared
def compressor() -> None:
    """Compressors: what they may draw in, their highest pressure, their delivery."""


@compressor.command("add")
@click.argument("name")
@option("--rated-intake", "40%", "Highest oxygen its maker allows in, dry.", required=True)
@option("--maximum", "330bar", "Its highest pressure.")
@option("--delivery", "200L/min", "Its delivery at the inlet.")
@signer
@shared
def compressor_add(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Add a compressor (manager); recipes then include continuous flow."""
    from blender.station import compressors

    with at_work(who, secret_file) as (station, actor):
        answer = compressors.add_compressor(station, actor, name=name, **facts)
    show(answer, [f"Added compressor {answer['name']}: {compressors.figures(answer)}."])


@compressor.command("change")
@click.argument("name")
@option("--rated-intake", "40%", "Highest oxygen its maker allows in, dry.")
@option("--maximum", "330bar", "Its highest pressure.")
@option("--delivery", "200L/min", "Its delivery at the inlet.")
@signer
@shared
def compressor_change(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Enter other figures of a compressor (manager)."""
    from blender.station import compressors

    with at_work(who, secret_file) as (station, actor):
        answer = compressors.change_compressor(station, actor, name=name, **facts)
    show(answer, [f"{answer['name']}: {compressors.figures(answer)}."])


@compressor.command("retire")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def compressor_retire(name: str, who: str | None, secret_file: str | None, reason: str) -> None:
    """Take a compressor out of use (manager)."""
    from blender.station import compressors

    with at_work(who, secret_file) as (station, actor):
        answer = compressors.retire_compressor(station, actor, name=name, reason=reason)
    show(answer, [f"{answer['name']} retired: {answer['reason']}"])


@compressor.command("hours")
@click.argument("name")
@click.argument("hours")
@signer
@shared
def compressor_hours(name: str, hours: str, who: str | None, secret_file: str | None) -> None:
    """Enter what a compressor's hour counter shows."""
    from blender.station import plant

    with at_work(who, secret_file) as (station, actor):
        answer = plant.read_hours(station, actor, name=name, hours=hours)
    show(answer, [f"{answer['name']}: {answer['hours']:g} h."])


@compressor.command("list")
@shared
def compressor_list() -> None:
    """List the compressors."""
    from blender.station import compressors

    with record() as opened:
        answer = compressors.listing(opened)
    show(answer, map(compressors.line, answer["compressors"]))


@click.group()
@shared
def price() -> None:
    """What gas costs, in the shop's own money: recipes are ranked by it."""


@price.command("set")
@click.argument("name")
@click.argument("price_m3", metavar="PRICE")
@signer
@shared
def price_set(name: str, price_m3: str, who: str | None, secret_file: str | None) -> None:
    """Set the price of a cubic metre of free gas from a supply, or of air from `top` (manager)."""
    from blender.station import pricing

    with at_work(who, secret_file) as (station, actor):
        answer = pricing.set_price(station, actor, supply=name, price=price_m3)
    show(answer, [f"{answer['supply']}: {answer['price_m3']:g} a m3 of free gas."])


@price.command("list")
@shared
def price_list() -> None:
    """List the price of every supply."""
    from blender.station import pricing

    with record() as opened:
        answer = pricing.listing(opened)
    show(answer, map(pricing.line, answer["prices"]))
