"""`init` and `person ...`: founding a station, its staff and its customers."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.privacy import contact, erase, page
from tui.cli.shared import at_work, kept, option, record, shared, show, signer


@click.command()
@option("--name", "TEXT", "The station's name, as papers print it.", required=True)
@option("--id", "STATION-ID", "Its id in the record: A-Z, 0-9 and hyphen.", required=True)
@option("--manager", "NAME", "The first manager.", required=True)
@option("--secret-file", "FILE", "File with the manager's secret; else FILLWRIGHT_SECRET.")
@shared
def init(name: str, id: str, manager: str, secret_file: str | None) -> None:  # noqa: A002
    """Start a station's record."""
    from tui import wiring

    place = wiring.location(kept("station"))
    answer = wiring.found_station(place, id, name, manager, secret_file)
    show(
        answer,
        [
            f"Station {id} founded in {answer['record']}.",
            f"Keep a copy of {answer['keys']} apart from the record: without it nobody can sign.",
        ],
    )


@click.group()
@shared
def person() -> None:
    """Staff and customers."""


@person.command()
@click.argument("name")
@option("--role", "blender|manager|auditor|customer", "What they may do.", required=True)
@option("--qualified", "METHOD", "Method they are qualified for; repeat it.", multiple=True)
@option("--certified", "air|nitrox|trimix", "Gas a customer is certified for.", default="")
@option("--new-secret-file", "FILE", "File with their secret; else FILLWRIGHT_NEW_SECRET.")
@signer
@shared
def add(
    name: str,
    new_secret_file: str | None,
    who: str | None,
    secret_file: str | None,
    role: str,
    **facts: Any,
) -> None:
    """Add a person; staff get a secret of their own to sign with."""
    from blender.station import people
    from tui import wiring

    with at_work(who, secret_file) as (station, actor):
        first = None
        if role != "customer":
            first = wiring.new_secret(new_secret_file, name, secret_file)
        answer = people.add_person(station, actor, name=name, role=role, secret=first, **facts)
    show(answer, [f"Added {answer['name']} as {role}: id {answer['person']}."])


@person.command("card")
@click.argument("customer")
@option("--certified", "air|nitrox|trimix", "What the card they showed is for.", required=True)
@signer
@shared
def card(customer: str, certified: str, who: str | None, secret_file: str | None) -> None:
    """Enter that a customer's card was seen; name the customer by id."""
    from blender.station import people

    with at_work(who, secret_file) as (station, actor):
        answer = people.see_card(station, actor, customer, certified)
    show(answer, [f"{answer['name']}: shown a {certified} card."])


@person.command("secret")
@option("--new-secret-file", "FILE", "File with the new secret; else FILLWRIGHT_NEW_SECRET.")
@signer
@shared
def change(new_secret_file: str | None, who: str | None, secret_file: str | None) -> None:
    """Change your own secret, with the old one."""
    from blender.station import people
    from tui import wiring

    with at_work(who, secret_file) as (station, actor):
        old = wiring.secret(secret_file, f"Old secret of {actor.name}")
        fresh = wiring.secret(new_secret_file, "New secret", wiring.NEW_SECRET)
        answer = people.change_secret(station, actor, old, fresh)
    show(answer, [f"{answer['name']}: secret changed."])


@person.command("reset")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@option("--new-secret-file", "FILE", "File with their new secret; else FILLWRIGHT_NEW_SECRET.")
@signer
@shared
def reset(
    name: str, reason: str, new_secret_file: str | None, who: str | None, secret_file: str | None
) -> None:
    """Give a member of staff a new secret (manager); their old one opens nothing any more."""
    from blender.station import people
    from tui import wiring

    with at_work(who, secret_file) as (station, actor):
        fresh = wiring.new_secret(new_secret_file, name, secret_file)
        answer = people.reset_secret(station, actor, name, reason=reason, secret=fresh)
    show(answer, [f"{answer['name']}: a new secret, to be changed with `person secret`."])


@person.command("list")
@shared
def listed() -> None:
    """List everybody in the record."""
    from blender.station import register

    with record() as opened:
        answer = register.people(opened)
    show(answer, (f"{p['person']}  {p['role']:9} {p['name']}" for p in answer["people"]))


for _command in (contact, page, erase):
    person.add_command(_command)
