"""`rule ...`: the rules the station works by, listed and changed."""

from __future__ import annotations

import click

from tui.cli.shared import at_work, option, record, shared, show, signer


@click.group()
@shared
def rule() -> None:
    """Rules of the station: limits, tolerances and intervals."""


@rule.command("list")
@shared
def listed() -> None:
    """List the rules in force, and what a changed one was before."""
    from blender.station import ruling

    with record() as opened:
        answer = ruling.listing(opened)
    show(answer, ruling.lines(answer))


@rule.command("sets")
@shared
def sets() -> None:
    """List the rule sets there are, each value with where it is in print."""
    from blender.station import rule_sets

    answer = rule_sets.listing()
    show(answer, rule_sets.lines(answer))


@rule.command("use")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def use(name: str, reason: str, who: str | None, secret_file: str | None) -> None:
    """Put a rule set into force (manager); single rules can be changed afterwards."""
    from blender.station import rule_sets

    with at_work(who, secret_file) as (station, actor):
        answer = rule_sets.use_rule_set(station, actor, name, reason=reason)
    told = [f"{one['rule']}: {one['old_text']} -> {one['text']}" for one in answer["changes"]]
    show(answer, [f"{answer['title']} is in force.", *told, answer["first"]])


@rule.command("set")
@click.argument("name")
@click.argument("value")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def changed(name: str, value: str, reason: str, who: str | None, secret_file: str | None) -> None:
    """Change a rule (manager), such as: rest 10min; clean-above 40%."""
    from blender.station import ruling

    with at_work(who, secret_file) as (station, actor):
        answer = ruling.set_rule(station, actor, name, value, reason=reason)
    show(answer, [f"{answer['rule']}: {answer['old_text']} -> {answer['text']}."])
