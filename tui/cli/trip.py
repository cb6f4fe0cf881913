"""`trip`: the compressor stopped part-way, or its mix is to be put right while it runs."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.gas import planning_options
from tui.cli.shared import option, shared, show


@click.command()
@option("--cylinder", "12L", "Size: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--have", "45bar@20C:air", "What was in it when the compressor began.", required=True)
@option("--want", "220bar:EAN32", "What is wanted.", required=True)
@option("--reached", "150bar@20C", "What the gauge shows now.", required=True)
@option("--average", "34.0%", "Average oxygen of the intake so far, dry.", required=True)
@option("--average-helium", "20%", "Average helium of the intake so far, if it is injected.")
@click.option("--running", is_flag=True, help="It did not stop: only put the mix right.")
@planning_options
@shared
def trip(cylinder: str, have: str, want: str, **options: Any) -> None:
    """Tell what a stopped compressor has left in a cylinder, and what the rest needs."""
    from tui.commands import trip as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(cylinder, have, want, **given)
    show(answer, command.lines(answer))
