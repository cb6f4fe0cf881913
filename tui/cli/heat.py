"""`heat`: how warm a fill gets, where to shut it, and how long it takes to cool."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import option, shared, show


@click.command()
@option("--cylinder", "12L", "Size: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--have", "60bar@20C:EAN28", "What is in it, at rest.", required=True)
@option("--want", "230bar", "Settled pressure wanted.", required=True)
@option("--minutes", "5", "How long gas goes in.", required=True)
@option("--wall", "14kg:steel", "Empty weight of cylinder or set, and its metal.", required=True)
@option("--fill-gas", "air", "The gas let in.", default="air", show_default=True)
@option("--bank", "300bar", "Throttled from a bank at this; else at the cylinder's own pressure.")
@option("--inside", "20W/K", "Conductance from gas to metal; 0W/K for none.")
@option("--outside", "5W/K", "Conductance from metal to room.")
@option("--readings", "FILE", "CSV of an earlier fill to find both conductances from.")
@option("--panel-max", "300bar", "Highest gauge pressure the panel may show.")
@option("--room", "20C", "Of the room and the gas supply.", default="20C", show_default=True)
@option("--settle-at", "20C", "Where --want counts.", default="20C", show_default=True)
@option("--ambient", "1.01325bar", "Ambient pressure; gauges count from it.")
@shared
def heat(cylinder: str, have: str, want: str, readings: str | None, **options: Any) -> None:
    """Estimate the hot stop that settles right, and how long the cylinder takes to cool.

    The file of --readings has a line of names (time_s or time_min, gauge_bar or gauge_psi, and
    gas_c, gas_f, wall_c or wall_f), then a line a reading: the first at rest before gas goes in,
    the highest as the valve is shut, the last after an hour or so, of the same gases.
    """
    from tui import wiring
    from tui.commands import heat as command

    given = {name: value for name, value in options.items() if value is not None}
    if readings is not None:
        given["readings"] = wiring.read_file(readings, "--readings")
    answer = command.answer(cylinder, have, want, **given)
    show(answer, command.lines(answer))
