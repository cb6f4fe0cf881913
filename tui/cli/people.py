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
def init(name: str, id: str, manager: str, secret_file: str | None) -> None:  # noqa: A002 - the option's name
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
    told = [f"Added {answer['name']} as {role}: id {answer['person']}."]
    told += [f"Mind: {one}" for one in answer["cautions"]]
    if first is not None and wiring.has_one_secret(new_secret_file):
        told.append(f"{name} has the secret you signed with: let `person secret` change it now.")
    show(answer, told)


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
    """Give a member of staff a secret for once (manager): they replace it before they sign."""
    from blender.station import people
    from tui import wiring

    with at_work(who, secret_file) as (station, actor):
        fresh = wiring.new_secret(new_secret_file, name, secret_file)
        answer = people.reset_secret(station, actor, name, reason=reason, secret=fresh)
    show(
        answer,
        [f"{answer['name']}: a secret for once: it signs nothing before `person secret`."],
    )


@person.command("role")
@click.argument("name")
@option("--role", "blender|manager|auditor", "Their new role.", required=True)
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def role(name: str, who: str | None, secret_file: str | None, **facts: Any) -> None:
    """Give a member of staff another role (manager); it holds at once."""
    from blender.station import staff

    with at_work(who, secret_file) as (station, actor):
        answer = staff.change_role(station, actor, name, **facts)
    show(answer, [f"{answer['name']}: {answer['old']} -> {answer['role']}."])


@person.command("retire")
@click.argument("name")
@option("--reason", "TEXT", "Why.", required=True)
@signer
@shared
def retire(name: str, reason: str, who: str | None, secret_file: str | None) -> None:
    """Take a member of staff off the roll (manager): they sign nothing any more, at once."""
    from blender.station import staff

    with at_work(who, secret_file) as (station, actor):
        answer = staff.retire(station, actor, name, reason=reason)
    show(answer, [f"{answer['name']} is off the roll."])


@person.command("qualify")
@click.argument("name")
@option("--qualified", "METHOD", "Method they are qualified for; repeat it.", multiple=True)
@option("--reason", "TEXT", "What was seen of it.", required=True)
@signer
@shared
def qualify(
    name: str, qualified: tuple[str, ...], reason: str, who: str | None, secret_file: str | None
) -> None:
    """Enter which methods a member of staff is qualified for (manager)."""
    from blender.station import staff

    with at_work(who, secret_file) as (station, actor):
        answer = staff.qualify(station, actor, name, qualified, reason=reason)
    methods = ", ".join(answer["qualified"]) or "no method"
    show(answer, [f"{answer['name']}: qualified for {methods}."])


@person.command("undertake")
@signer
@shared
def undertake(who: str | None, secret_file: str | None) -> None:
    """Sign, once, what signing means here."""
    from blender.station import staff

    with at_work(who, secret_file) as (station, actor):
        answer = staff.undertake(station, actor)
    show(answer, [answer["words"], f"Signed by {answer['name']}."])


@person.command("review")
@option("--note", "TEXT", "What was found.", required=True)
@signer
@shared
def review(note: str, who: str | None, secret_file: str | None) -> None:
    """Enter that the list of accounts was gone through (manager)."""
    from blender.station import staff

    with at_work(who, secret_file) as (station, actor):
        answer = staff.review(station, actor, note=note)
    show(answer, [f"{answer['accounts']} accounts reviewed."])


@person.command("list")
@shared
def listed() -> None:
    """List everybody in the record, and what is due about the accounts."""
    from blender.station import register, staff
    from tui import wiring

    with record() as opened:
        answer = register.people(opened) | {"accounts": staff.standing(opened, wiring.clock())}
    due = answer["accounts"]
    told = [f"{p['person']}  {p['role']:9} {p['name'] or '(erased)'}" for p in answer["people"]]
    told.append(f"accounts reviewed: {due['reviewed_at'] or 'never'}")
    if due["not_undertaken"]:
        told.append(f"have not signed what signing means: {', '.join(due['not_undertaken'])}")
    show(answer, told)


for _command in (contact, page, erase):
    person.add_command(_command)
