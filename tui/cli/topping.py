"""`whatif` and `transfer`: what becomes of gas that is simply let in, or over."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import option, shared, show


@click.command()
@option("--cylinder", "12L", "Size: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--have", "60bar@20C:EAN28", "What is in it.", required=True)
@option("--top", "EAN32", "Top with this; repeat it to compare.", multiple=True, required=True)
@option("--to", "230bar", "How far; then once more for each --then.", multiple=True)
@option("--then", "helium", "A gas let in after the top; repeat it.", multiple=True)
@option("--reach", "32%", "Top with the last gas until this oxygen, in place of its --to.")
@option("--temperature", "20C[,30C...]", "Gas temperature at each stop.")
@option(
    "--settle-at", "20C", "Where the settled pressure counts.", default="20C", show_default=True
)
@option("--ambient", "1.01325bar", "Ambient pressure; gauges count from it.")
@option("--limit", "232bar", "Highest gauge pressure of a stop.")
@option("--ppo2", "1.4", "Highest oxygen partial pressure.", default="1.4", show_default=True)
@option("--water", "salt|fresh|en13319", "The water; else the handbook convention.")
@option("--altitude", "0m", "Height of the surface above sea level.")
@shared
def whatif(cylinder: str, have: str, **options: Any) -> None:
    """Work out what becomes of a cylinder that is just topped."""
    from tui.commands import whatif as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(cylinder, have, **given)
    show(answer, command.lines(answer))


@click.command()
@click.option(
    "--from",
    "sources",
    multiple=True,
    required=True,
    metavar="12L=200bar:EAN32",
    help="A cylinder that gives: size, pressure and gas; repeat it if they hold alike.",
)
@click.option(
    "--into",
    "targets",
    multiple=True,
    required=True,
    metavar="10L=20bar:air",
    help="The cylinder gas flows into; repeat it if they hold alike.",
)
@option("--to", "100bar", "Shut it at this pressure; else until all are level.")
@option("--temperature", "20C", "Gas temperature of all, once settled.", default="20C")
@option("--ambient", "1.01325bar", "Ambient pressure; gauges count from it.")
@shared
def transfer(sources: tuple[str, ...], targets: tuple[str, ...], **options: Any) -> None:
    """Let gas over from one cylinder into another, by its own pressure."""
    from tui.commands import transfer as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(sources, targets, **given)
    show(answer, command.lines(answer))
