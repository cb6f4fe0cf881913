"""`row`: several fills from the same banks, one after the other."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.gas import planning_options
from tui.cli.shared import option, shared, show


@click.command()
@option(
    "--fill",
    '"12L 60bar:EAN28 230bar:EAN32"',
    "A fill: size, what is in it, what is wanted; repeat it.",
    multiple=True,
    required=True,
)
@planning_options
@shared
def row(fill: tuple[str, ...], **options: Any) -> None:
    """Plan fills in a row, in the order that gets the most of them done from these supplies."""
    from tui.commands import row as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(fill, **given)
    show(answer, command.lines(answer))
