"""The calculators: `plan`, `depth`, `analyse`.  They need no station and no signer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from tui.cli.shared import option, shared, show

Function = TypeVar("Function", bound=Callable[..., Any])


_PLANNING = (
    click.option(
        "--method",
        default="partial-pressure",
        show_default=True,
        metavar="METHOD",
        help="partial-pressure, continuous-flow, banked or mass.",
    ),
    click.option(
        "--supply",
        multiple=True,
        metavar="NAME=GAS[@PRESSURExVOLUME]",
        help="A gas to let in; repeat it. Default: unlimited oxygen and helium.",
    ),
    option("--top", "GAS", "The unlimited top gas; else air."),
    option("--temperature", "20C[,30C...]", "Gas temperature at each stop, one per gas added."),
    option(
        "--settle-at", "20C", "Where the wanted pressure counts.", default="20C", show_default=True
    ),
    option("--ambient", "1.01325bar", "Ambient pressure; gauges count from it."),
    option("--limit", "232bar", "Highest settled gauge pressure."),
    option("--rated-intake", "40%", "Oxygen the compressor is rated for (continuous flow)."),
    option("--intake-air", "25C/60%", "State of the air drawn in (continuous flow)."),
    option("--delivery", "200L/min", "The compressor's delivery at its inlet."),
    option(
        "--oxygen-minimum",
        "99%",
        "What a request for oxygen must reach.",
        default="99%",
        show_default=True,
    ),
    option(
        "--purge-to",
        "10bar",
        "How high each oxygen purge goes.",
        default="10bar",
        show_default=True,
    ),
    option("--order", "helium,oxygen,top", "The order in which gases are let in."),
    option("--inject", "helium,oxygen", "Inject helium too (continuous flow); else oxygen."),
    option("--tower", "3L@150bar:air", "Allow for the filter tower's old gas (continuous flow)."),
    option("--draw", "b3,b1", "The order among bottles of one gas; else the lowest first."),
    option("--whip", "0.15L", "The whip's dead volume: vented at every change."),
    option("--booster", "15bar/30/250bar", "Lowest inlet, ratio and highest outlet of a booster."),
    option("--compressor-max", "232bar", "Highest gauge pressure of the top gas."),
    option("--oxygen-line", "40%", "Richest gas that goes in (banked); else 40%."),
    option("--scale", "5g", "Smallest step the scale shows (mass)."),
    option("--gauge", "1.6@400bar[/2bar]", "Class, scale and reading step of the gauge."),
    option("--air-first", "100psi", "Least pressure in the cylinder before oxygen goes in."),
    option("--least-step", "0.5bar", "Leave out what raises the gauge less, if the mix allows it."),
    option("--temperature-kind", "gas|wall|room", "What the stops' temperatures are of."),
    option("--way", "top", "A way on from a gas that is not what was wanted; see `ways`."),
)


def planning_options(function: Function) -> Function:
    """Add the planning options to a command."""
    for decorate in reversed(_PLANNING):
        function = decorate(function)
    return function


@click.command()
@option("--cylinder", "12L", "Size: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--have", "60bar@20C:EAN28", "What is in it.", required=True)
@option("--want", "230bar:EAN32", "What is wanted.", required=True)
@planning_options
@option("--simulate", "20000", "Check the uncertainty by so many simulated fills.")
@shared
def plan(cylinder: str, have: str, want: str, **options: Any) -> None:
    """Turn a cylinder, a mix and a pressure into gauge stops."""
    from tui.commands import plan as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(cylinder, have, want, **given)
    show(answer, command.lines(answer))


@click.command()
@option("--cylinder", "12L", "Size: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--have", "92bar@20C:0.534/0", "What is in it, analysed or calculated.", required=True)
@option("--want", "230bar:EAN32", "What was wanted.", required=True)
@option("--other-half", "40bar@20C:21/35", "The other half of a set whose isolator was closed.")
@planning_options
@shared
def ways(cylinder: str, have: str, want: str, other_half: str | None, **options: Any) -> None:
    """List the ways on from a gas that is not what was wanted, the best first."""
    from tui.commands import ways as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(cylinder, have, want, other_half, **given)
    show(answer, command.lines(answer))


@click.command()
@option("--cylinder", "12L", "Size: 12L, 2x12L, 80cuft@3000psi.", required=True)
@option("--have", "60bar@20C:EAN28", "What is in it.", required=True)
@option("--want", "230bar:EAN32", "What is wanted.", required=True)
@planning_options
@click.option(
    "--price",
    multiple=True,
    metavar="NAME=MONEY",
    help="Price of a cubic metre from a supply; repeat it.",
)
@option("--by", "cost,certainty", "What decides: drain, cost, helium, oxygen, certainty, time.")
@option("--oxygen-rate", "4bar/min", "How fast oxygen is let in.")
@shared
def choose(cylinder: str, have: str, want: str, **options: Any) -> None:
    """Rank every recipe the mix can be made by: method, order, supplies."""
    from tui.commands import choose as command

    given = {name: value for name, value in options.items() if value is not None}
    answer = command.answer(cylinder, have, want, **given)
    show(answer, command.lines(answer))


@click.command()
@click.argument("gas")
@option("--ppo2", "1.4", "Highest oxygen partial pressure.", default="1.4", show_default=True)
@option("--water", "salt|fresh|en13319", "The water; else the handbook convention.")
@option("--altitude", "0m", "Height of the surface above sea level.")
@option("--at", "30m", "A depth to work out END, EAD, ppO2 and density for.")
@click.option(
    "--oxygen-narcotic",
    default="yes",
    show_default=True,
    metavar="yes|no",
    help="Whether oxygen counts as narcotic.",
)
@shared
def depth(gas: str, **options: Any) -> None:
    """Work out where a gas may be breathed: MOD, floor, END, EAD, exposure."""
    from tui.commands import depth as command

    answer = command.answer(gas, **options)
    show(answer, command.lines(answer))


@click.command()
@click.argument("at")
@option("--ppo2", "1.4", "Highest oxygen partial pressure.", default="1.4", show_default=True)
@option("--end", "30m", "Deepest END, or none; else 30 m or 100 ft.")
@option(
    "--density", "5.2", "Highest gas density in g/L, or none.", default="5.2", show_default=True
)
@option("--water", "salt|fresh|en13319", "The water; else the handbook convention.")
@option("--altitude", "0m", "Height of the surface above sea level.")
@click.option(
    "--oxygen-narcotic",
    default="yes",
    show_default=True,
    metavar="yes|no",
    help="Whether oxygen counts as narcotic.",
)
@shared
def best(at: str, **options: Any) -> None:
    """Find the mix for a depth: all the oxygen it allows, the helium its limits need."""
    from tui.commands import best as command

    answer = command.answer(at, **options)
    show(answer, command.lines(answer))


@click.command()
@option("--reading", "32.4", "What the analyser shows, in percent.", required=True)
@option("--helium", "44.1", "Helium reading, in percent.")
@option("--calibrated", "air@20.9", "Gas it was set on and what it was set to show.")
@option("--calibration-air", "20C/50%", "State of the room's air while it was set.")
@option(
    "--calibration-ambient",
    "1.01325bar",
    "Ambient pressure then.",
    default="1.01325bar",
    show_default=True,
)
@option("--ambient", "1.01325bar", "Ambient pressure now.", default="1.01325bar")
@option("--wanted", "EAN32", "The mix that was asked for.")
@shared
def analyse(**options: Any) -> None:
    """Correct an analyser's reading and decide what becomes of the cylinder."""
    from tui.commands import analyse as command

    answer = command.answer(**options)
    show(answer, command.lines(answer))
