"""What every command shares: `--json`, `--station`, the signer, and how answers are printed."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, TypeVar

import click

Function = TypeVar("Function", bound=Callable[..., Any])


def _keep(ctx: click.Context, parameter: click.Parameter, value: Any) -> Any:
    """Keep an option for the whole run, whether it came before or after the sub-command."""
    kept = ctx.find_root().ensure_object(dict)
    if value:
        kept[parameter.name] = value
    return value


def shared(function: Function) -> Function:
    """Add `--json` and `--station` to a command or group."""
    as_json = click.option(
        "--json",
        is_flag=True,
        expose_value=False,
        callback=_keep,
        help="One JSON document on standard output, numbers unrounded.",
    )
    station = click.option(
        "--station",
        metavar="PATH_OR_URL",
        expose_value=False,
        callback=_keep,
        help="The station's record; else FILLWRIGHT_STATION, else your data folder.",
    )
    return as_json(station(function))


def option(flag: str, metavar: str, text: str, **more: Any) -> Callable[[Function], Function]:
    """Return an option that shows an example of its value."""
    return click.option(flag, metavar=metavar, help=text, **more)


def signer(function: Function) -> Function:
    """Add the signer's options to a command."""
    who = click.option("--as", "who", metavar="NAME", help="Who signs; else FILLWRIGHT_AS.")
    file = click.option(
        "--secret-file",
        metavar="FILE",
        help="File with the signer's secret; else FILLWRIGHT_SECRET, else a prompt.",
    )
    return who(file(function))


def on_paper(function: Function) -> Function:
    """Add what a paper is printed on; without it the station's own sheet."""
    told = "Sheet: a4 or letter; else the station's, by its rule `paper`."
    return option("--paper", "NAME", told)(function)


def paper_of(opened: Any, asked: str | None) -> str:
    """Return the sheet that was asked for, else the station's."""
    from blender.station.sheets import sheets

    return asked or sheets(opened).paper


def in_units_of(function: Function) -> Function:
    """Add the units a paper is in; without them the station's own."""
    told = "bar or psi (with °F and ft); else the station's, by its rule `units`."
    return option("--units", "NAME", told)(function)


def led_by(function: Function) -> Function:
    """Add the units a paper of one fill leads with."""
    told = "bar or psi (with °F and ft) first; else by the rule `units`, unset as was asked for."
    return option("--units", "NAME", told)(function)


def shown_in(opened: Any, asked: str | None, view: Any) -> Any:
    """Return a paper's view in the units that were asked for, else in the station's."""
    from dataclasses import replace

    return replace(view, imperial=units_of(opened, asked))


def leading(asked: str | None, view: Any) -> Any:
    """Return a paper of one fill with the units first that were asked for, else as it is."""
    from dataclasses import replace

    from blender.station.sheets import is_imperial

    return replace(view, imperial=is_imperial(asked)) if asked else view


def units_of(opened: Any, asked: str | None) -> bool:
    """Return whether psi were asked for, or are the station's where nothing was."""
    from blender.station.sheets import is_imperial, sheets

    return is_imperial(asked or sheets(opened).units)


def kept(name: str) -> Any:
    """Return an option shared by the whole run."""
    return click.get_current_context().find_root().ensure_object(dict).get(name)


def show(answer: Mapping[str, Any], lines: Iterable[str]) -> None:
    """Print an answer: as JSON if that was asked for, else as lines for people."""
    if kept("json"):
        click.echo(json.dumps(answer, allow_nan=False))
        return
    for line in lines:
        click.echo(line)


@contextmanager
def record() -> Iterator[Any]:
    """Open the record to be read only, and close it."""
    from tui.wiring import open_record

    opened = open_record(kept("station"))
    try:
        yield opened
    finally:
        opened.close()


@contextmanager
def at_work(who: str | None, secret_file: str | None) -> Iterator[tuple[Any, Any]]:
    """Open the station and sign somebody in; give both."""
    from blender.station.safekeeping import low_disk
    from tui.wiring import open_station, sign_in

    station = open_station(kept("station"))
    try:
        actor = sign_in(station, who, secret_file)
        if told := low_disk(station.rules, station.record.location):
            click.echo(f"fillwright: {told}", err=True)
        yield station, actor
    finally:
        station.record.close()


def cautioned_before(station: Any, number: object) -> frozenset[str]:
    """Return of which gates of a fill it was said already that no rule asks for them."""
    from blender.errors import InputError
    from blender.station import gates_asked

    try:
        return gates_asked.cautioned_before(station.record, int(str(number)))
    except (InputError, ValueError):
        return frozenset()  # no such fill, or none yet: the act itself says so


def finish(answer: Any, told_before: frozenset[str] = frozenset()) -> int:
    """Print a use case's answer and return its exit code: 0 if done, 5 if a gate refused."""
    from blender.station.gates_asked import unchecked

    if answer.done:
        told = [answer.text, *(f"  {g.gate}: {g.answer}: {g.reason}" for g in answer.objections)]
        if left := unchecked(answer.gates, told_before):
            told.append(f"  {left}")
        show(answer.as_dict(), told)
        return 0
    show(answer.as_dict(), [])
    click.echo(f"fillwright: {answer.text}", err=True)
    return 5


def finish_all(answers: Iterable[Any]) -> int:
    """Say in one message what was refused of several acts, and return the exit code.

    5 if a gate refused any; 3 if none did, but some plan is not possible; else 0.
    """
    left = [answer for answer in answers if not answer.done]
    if not left:
        return 0
    told = "; ".join(f"fill {answer.fill}: {answer.text}" for answer in left)
    click.echo(f"fillwright: {told}", err=True)
    return 3 if all("alternatives" in answer.facts for answer in left) else 5
