"""`person contact`, `person page`, `person erase`: what is held on somebody, and forgetting it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import click

from tui.cli.shared import at_work, on_paper, option, paper_of, record, shared, show, signer


@click.command("contact")
@click.argument("customer")
@option("--phone", "NUMBER", "Where they are called if their gas must be recalled.", required=True)
@signer
@shared
def contact(customer: str, phone: str, who: str | None, secret_file: str | None) -> None:
    """Enter a customer's telephone number."""
    from blender.station import privacy

    with at_work(who, secret_file) as (station, actor):
        answer = privacy.set_phone(station, actor, customer, phone)
    show(answer, [f"{answer['name']}: {answer['phone']}."])


@click.command("erase")
@click.argument("name")
@option("--reason", "TEXT", "Why, without naming them: it stays for ever.", required=True)
@option("--copies-until", "2027-06-30", "The day by which your older backups will be gone.",
        default="")  # fmt: skip
@signer
@shared
def erase(
    name: str, reason: str, copies_until: str, who: str | None, secret_file: str | None
) -> None:
    """Erase a customer (manager): name, telephone, signatures; their fills stay, unnamed."""
    from blender.station import privacy

    with at_work(who, secret_file) as (station, actor):
        answer = privacy.erase(station, actor, name, reason=reason, copies_until=copies_until)
    show(answer, _told(answer))


def _told(answer: dict[str, Any]) -> list[str]:
    ident = answer["person"]
    told = [f"Erased: {answer['rows']} private rows of {ident} (entry {answer['seq']})."]
    if answer["named_in"]:
        listed = ", ".join(map(str, answer["named_in"][:20]))
        told.append(f"  THE NAME STAYS in text that was typed into entries {listed}: it is signed.")
    told.append(f"  {_copies(answer)}")
    if answer["fills"]:
        listed = ", ".join(map(str, answer["fills"][:20]))
        told.append(f"  Papers kept of fills {listed} may show the name: destroy them.")
    if not answer["cleared"]:
        told.append("  Another terminal kept the log busy: close all of them once, to empty it.")
    return [*told, f"  For the customer: fillwright person page {ident} --out page.pdf"]


def _copies(answer: dict[str, Any]) -> str:
    """Say which copies hold it still, as the record knows of them."""
    left, until = answer["copies"], answer["copies_until"]
    last = f" until {until}, as you say" if until else " until you destroy them"
    exports = f"Exports made before {answer['copies_before']} hold it too"
    if not left["known"]:
        return f"No copy made before is known to be left. {exports}{last}."
    known = (
        f"{left['known']} known, the oldest of {left['oldest']}, {left['away']} off this machine"
    )
    return f"Copies made before ({known}) hold it{last}. {exports}."


@click.command("page")
@click.argument("name")
@option("--out", "FILE", "PDF to write; else it is printed here.")
@on_paper
@shared
def page(name: str, out: str | None, paper: str | None) -> None:
    """Show what the record holds on a person, by name or id; also what is left once erased."""
    from blender.station.person_page import person_view
    from reports.person_page import lines, person_page_pdf
    from tui.wiring import clock, write_file

    with record() as opened:
        view, paper = person_view(opened, name, clock()), paper_of(opened, paper)
    told = [f"{caption:14} {text}" for caption, text, _ in lines(view)]
    answer = asdict(view) | {"anchor": view.proof.anchor}
    if out is not None:
        answer["file"] = write_file(out, person_page_pdf(view, paper))
        told = [f"Page of {view.person}: {answer['file']}", view.proof.anchor]
    show(answer, told)
