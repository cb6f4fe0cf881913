"""`move` and `grant`: the record in another place, and who may enter in it on a server."""

from __future__ import annotations

import click

from tui.cli.backup import counting
from tui.cli.shared import kept, option, shared, show, signer


@click.command()
@option(
    "--to", "PATH_OR_URL", "Where it goes on: a file, or a database on a server.", required=True
)
@signer
@shared
def move(to: str, who: str | None, secret_file: str | None) -> int:
    """Move the record to a server or back to a file (manager).

    It is verified before and after; both places say so under your signature.
    """
    from blender.station import moving
    from tui.wiring import open_to_move, place_for_move, sign_in

    place, station = place_for_move(to), open_to_move(kept("station"))
    with station.record:
        actor = sign_in(station, who, secret_file)
        answer = moving.move(station, actor, place.at, progress=counting("done"))
    answer["keys"] = place.settle(station.keys)
    told = [
        f"Moved to {answer['record']}, verified there, entered as entry {answer['seq']}.",
        answer["anchor"],
        f"Its key file: {answer['keys']}.",
        moving.AFTER,
    ]
    show(answer, told)
    return 0


@click.command()
@click.argument("role")
@shared
def grant(role: str) -> int:
    """Let a user of the server enter in the record, but never change or delete an entry.

    Give --station with the URL of the user who owns the tables.
    """
    from blender.record.rights import let_enter
    from tui.wiring import open_to_copy

    record, _ = open_to_copy(kept("station"))
    with record:
        let_enter(record, role)
        told = f"{role} may read the record and enter in it, and not change or delete an entry."
        show({"role": role, "record": str(record.location)}, [told])
    return 0
