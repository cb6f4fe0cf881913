"""`fillwright fill ...`: each step of a fill's life, from a script or over ssh."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from typing import Any

import click

from tui.cli.gas import planning_options
from tui.cli.shared import (
    at_work,
    cautioned_before,
    finish,
    finish_all,
    kept,
    option,
    shared,
    show,
    signer,
)

NUMBER = click.IntRange(min=1, max=2**31)


@click.group()
@shared
def fill() -> None:
    """Enter one step of a fill's life: request, plan, start, read, analyse, accept, hand over."""


_key = option(
    "--key",
    "WORD",
    "Enter this only once: the same key again enters nothing (for scripts that try again).",
)


def _command(name: str, text: str, run: Callable[..., int], *options: Any) -> None:
    """Add a command that signs; its options are given in the order they are shown."""
    for decorate in reversed((*options, _key, signer, shared)):
        run = decorate(run)
    fill.add_command(click.command(name, help=text)(run))


def _use_case(place: str) -> Callable[..., int]:
    """Return a command's function that signs in and calls one use case of the station."""
    module, name = place.split(".")

    def run(who: str | None, secret_file: str | None, key: str | None, **facts: Any) -> int:
        case = getattr(import_module(f"blender.station.{module}"), name)
        with at_work(who, secret_file) as (station, actor):
            before = cautioned_before(station, facts.get("number"))
            return finish(_once(case, station, actor, key, **facts), before)

    return run


def _once(case: Callable[..., Any], station: Any, actor: Any, key: str | None, **facts: Any) -> Any:
    """Call a use case; under a key that was used before, say so and enter nothing."""
    from blender.station import desk

    keyed = replace(station, key=key)
    try:
        return case(keyed, actor, **facts)
    except desk.AlreadyEnteredError as done:
        return desk.repeated(keyed, actor, done.entry, case.__name__, facts.get("number"))


def _plan(
    number: int, who: str | None, secret_file: str | None, key: str | None, **options: Any
) -> int:
    from blender.planning.options import Options
    from blender.station import planning
    from blender.station.gates_asked import unchecked
    from tui.commands.plan import lines

    with at_work(who, secret_file) as (station, actor):
        facts = {"number": number, "options": Options(**options)}
        before = cautioned_before(station, number)
        answer = _once(planning.plan, station, actor, key, **facts)
    if kept("json") or "plan" not in answer.facts:
        return finish(answer, before)
    left = unchecked(answer.gates, before)
    show({}, [*lines(answer.facts["plan"]), *([left] if left else [])])
    return 0


@fill.command("start-together")
@click.argument("numbers", metavar="FILL FILL...", type=NUMBER, nargs=-1, required=True)
@option("--serial", "SERIAL", "A serial as scanned; repeat it.", multiple=True, required=True)
@option("--isolator", "open|closed", "The isolators of the sets among them.", default="")
@signer
@shared
def start_together(
    numbers: tuple[int, ...],
    serial: tuple[str, ...],
    isolator: str,
    who: str | None,
    secret_file: str | None,
) -> int:
    """Start fills opened together on one manifold: all of them, if they hold alike, or none."""
    from blender.station import manifold

    with at_work(who, secret_file) as (station, actor):
        answers = manifold.start_together(station, actor, numbers, serial, isolator)
    told = [f"Fill {answer.fill}: {answer.text}" for answer in answers if answer.done]
    show({"starts": [answer.as_dict() for answer in answers]}, told)
    return finish_all(answers)


_number = click.argument("number", metavar="FILL", type=NUMBER)
_serial = option("--serial", "SERIAL", "The serial as scanned from the cylinder.", required=True)
_reason = option("--reason", "TEXT", "Why.", required=True)
_helium = option("--helium", "44.1", "Helium reading, in percent.")

_waive = option("--waive", "TEXT", "Why it need not rest first (manager).", default="")

_command(
    "request",
    "Take a cylinder in: whose it is, what is left in it, what is wanted.",
    _use_case("requesting.request"),
    option("--cylinder", "SERIAL", "Serial; a set is A+B.", required=True),
    option("--customer", "NAME_OR_ID", "Whose it is.", required=True),
    option("--have", "60bar@20C:EAN28", "What is left in it.", required=True),
    option("--residual", "analysed|label|stated|unknown", "How that is known.", required=True),
    option("--want", "230bar:EAN32", "What is wanted.", required=True),
    option("--ambient", "1.01325bar", "Ambient pressure here, if it is not the standard one."),
    option(
        "--filled-elsewhere",
        "yes|no",
        "Whether it was filled elsewhere since: that ends oxygen service.",
        default="",
    ),
)
_command(
    "look",
    "Enter what is seen of the cylinder: yes where it is sound, 'no, what is wrong' where not.",
    _use_case("looking.look"),
    _number,
    option("--outside", "yes|'no, WHY'", "Dents, corrosion, heat, foreign threads.", default=""),
    option("--valve", "yes|'no, WHY'", "Its rating and condition.", default=""),
    option("--marking", "yes|'no, WHY'", "Stamps and labels.", default=""),
    option("--inside", "yes|'no, WHY'", "Water, rust; if it came without pressure.", default=""),
)
_command(
    "allow",
    "Allow, for this fill, what a gate asks a manager about; the reason is shown for ever.",
    _use_case("looking.allow"),
    _number,
    option("--gate", "NAME", "Which gate, such as visual-inspection.", required=True),
    _reason,
)
_command(
    "plan",
    "Plan the fill, or plan it again from where it stands.",
    _plan,
    _number,
    planning_options,
)
_command(
    "start",
    "Start letting gas in, once the serial in hand matches.",
    _use_case("filling.start"),
    _number,
    _serial,
    option("--isolator", "open|closed", "The isolator of a set.", default=""),
)
_command(
    "reading",
    "Enter what the gauge shows.",
    _use_case("filling.reading"),
    _number,
    option("--at", "74.5bar", "What the gauge shows.", default=""),
    option("--temperature", "31C", "The temperature.", default=""),
    option("--scale", "1.234kg", "What the scale shows instead (by mass).", default=""),
    option("--kind", "gas|wall|room", "Of what it is.", default="gas", show_default=True),
    option("--gauge", "NAME", "Which gauge.", default=""),
    _waive,
)


def _correct(who: str | None, secret_file: str | None, key: str | None, **facts: Any) -> int:
    """Correct an analysis or what was left where that is given, else the gauge's reading."""
    analysis = {name: facts.pop(name) for name in ("reading", "helium")}
    left = {name: facts.pop(name) for name in ("have", "residual")}
    is_reading = bool(facts["at"] or facts["temperature"] or facts["scale"])
    is_analysis = bool(analysis["reading"] or analysis["helium"])
    if is_reading + is_analysis + bool(left["have"]) > 1:
        from blender.errors import InputError

        told = "correct one thing at a time: --at, --reading or --have"
        raise InputError("fill correct", "several", told)
    case, given = "mending.correct_reading", facts
    if is_analysis:
        case, given = "slips.correct_analysis", {"number": facts["number"], **analysis}
    elif left["have"]:
        case, given = "slips.correct_residual", {"number": facts["number"], **left}
    return _use_case(case)(who, secret_file, key, **given)


_command(
    "correct",
    "Correct what was mistyped last: a reading, an analysis (--reading), what was left (--have); "
    "it stays in the record, marked.",
    _correct,
    _number,
    option("--reading", "32.4", "What the analyser showed; only by who entered it.", default=""),
    _helium,
    option("--have", "60bar@20C:EAN28", "What was left in it; only by who took it in.", default=""),
    option("--residual", "label|stated|unknown", "How that is known.", default=""),
    option("--at", "84.5bar", "What the gauge showed.", default=""),
    option("--temperature", "31C", "The temperature.", default=""),
    option("--scale", "1.234kg", "What the scale showed instead (by mass).", default=""),
    option("--kind", "gas|wall|room", "Of what it is.", default="gas", show_default=True),
    option("--gauge", "NAME", "Which gauge.", default=""),
)
_command("hold", "Stop part-way.", _use_case("filling.hold"), _number, _reason)
_command(
    "resume",
    "Go on with a held fill, if serial and gauge agree with the record.",
    _use_case("filling.resume"),
    _number,
    _serial,
    option("--at", "81.6bar", "What the gauge shows now.", required=True),
    option("--temperature", "12C", "Temperature of the gas now.", required=True),
)
_command(
    "analyse",
    "Enter an analysis: of the residual before gas goes in, of the mix afterwards.",
    _use_case("analysing.analyse"),
    _number,
    _serial,
    option("--analyser", "NAME", "Which analyser.", required=True),
    option("--reading", "32.4", "Oxygen reading, in percent.", required=True),
    _helium,
    option("--ambient", "1.01325bar", "Ambient pressure now; else as at calibration."),
    _waive,
)
_command(
    "accept",
    "Let the diver sign for the cylinder with their own reading.",
    _use_case("handover.accept"),
    _number,
    option("--name", "TEXT", "The name the diver signs with.", required=True),
    option("--reading", "32.3", "What the diver read, in percent.", required=True),
    _helium,
)
_command(
    "collect",
    "Hand the cylinder over, once serial and label match.",
    _use_case("handover.collect"),
    _number,
    _serial,
    option("--label", "QRTEXT", "The text of the label's QR code.", required=True),
)
_command(
    "reject",
    "Give the fill up; the cylinder is drained.",
    _use_case("ending.reject"),
    _number,
    _reason,
)
_command(
    "quarantine",
    "Set the cylinder apart until a manager says so.",
    _use_case("ending.quarantine"),
    _number,
    _reason,
)
_command(
    "release",
    "Release a quarantined cylinder (manager).",
    _use_case("ending.release"),
    _number,
    _reason,
)
_command(
    "amend",
    "Amend what was entered wrongly (manager); old and new value stay in the record.",
    _use_case("amending.amend"),
    _number,
    option("--field", "customer|cylinder|reading|helium", "What was wrong.", required=True),
    option("--to", "VALUE", "What it should have been.", required=True),
    option("--post", "SERIAL", "Whose reading it was, of a set.", default=""),
    _reason,
)
_command(
    "void",
    "Void a fill that was entered by mistake (manager); nothing is deleted.",
    _use_case("amending.void"),
    _number,
    _reason,
)
