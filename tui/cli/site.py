"""`site`: several stations of one shop, an office that has all their records, and one root."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import click

from tui.cli.backup import counting
from tui.cli.shared import at_work, finish, kept, option, record, shared, show, signer


@click.group()
@shared
def site() -> None:
    """Other stations of the shop: records go to the office, one signed root comes back."""


@contextmanager
def _station() -> Iterator[Any]:
    """Open the station to be entered into, and close it; nobody has to sign."""
    from tui.wiring import open_station

    opened = open_station(kept("station"))
    try:
        yield opened
    finally:
        opened.record.close()


@site.command("show")
@shared
def site_show() -> None:
    """Show this station's id and public key, its office, and the root witnessed last."""
    from blender.station.sites import identity

    with record() as opened:
        told = identity(opened)
    lines = [f"Station {told['station']}, {told['name']}", f"Public key {told['key']}"]
    office = told["office"]
    root = told["root"]
    unnamed = "No office is named."
    if root and root["office"] == told["station"]:
        unnamed = "This station is the office: it signs the roots."
    lines.append(f"Office {office['office']}, {office['name']}" if office else unnamed)
    if root:
        lines.append(f"Root {root['number']} of {root['office']} over {root['size']} stations:")
        lines.append(root["text"])
    show(told, [*lines, told["anchor"]])


@site.command("add")
@click.argument("ident", metavar="STATION")
@option("--name", "NAME", "What it is called.", required=True)
@option("--key", "HEX", "Its public key, read off its own `site show` or paper.", required=True)
@option("--at", "PATH_OR_URL", "Where its record can be read; else parcels come.", default="")
@signer
@shared
def site_add(
    ident: str, name: str, key: str, at: str, who: str | None, secret_file: str | None
) -> None:
    """Enter another station of the shop at the office (manager)."""
    from blender.station.sites import add_site

    with at_work(who, secret_file) as (station, actor):
        made = add_site(station, actor, site=ident, name=name, key=key, place=at)
    show(made, [f"Station {made['site']}, {made['name']}, is entered; its parcels are taken now."])


@site.command("office")
@click.argument("ident", metavar="STATION")
@option("--name", "NAME", "What it is called.", required=True)
@option("--key", "HEX", "Its public key, read off its own `site show` or paper.", required=True)
@signer
@shared
def site_office(ident: str, name: str, key: str, who: str | None, secret_file: str | None) -> None:
    """Enter which station is the shop's office: its roots are witnessed here (manager)."""
    from blender.station.sites import name_office

    with at_work(who, secret_file) as (station, actor):
        made = name_office(station, actor, office=ident, name=name, key=key)
    show(made, [f"The office is {made['office']}, {made['name']}."])


@site.command("send")
@option("--out", "FILE", "The parcel to write.", required=True)
@click.option("--after", type=int, metavar="ENTRY", help="Begin after this entry.")
@click.option("--all", "everything", is_flag=True, help="Begin with the first entry.")
@shared
def site_send(out: str, after: int | None, everything: bool) -> None:
    """Write a parcel for the office: the entries since it has them, without private rows."""
    from blender.record.parcel import spell
    from blender.station.sites import pack
    from tui.wiring import PRIVATE, clock, open_station, write_parts

    station = open_station(kept("station"))
    with station.record as opened:
        header, rows = pack(opened, station.keys, clock(), 0 if everything else after)
        path = write_parts(out, spell(header, rows, station.keys), "--out", PRIVATE)
        last = opened.head().seq
    told = {"file": path, "after": header.after, "entries": header.entries, "last": last}
    lines = [f"Parcel: {path}, entries {header.after + 1} to {header.entries}."]
    lines.append("In it are names of staff in their signatures, and no customer's.")
    if header.entries < last:
        lines.append(f"More is to be sent: `site send --after {header.entries}`.")
    show(told, lines)


@site.command("take")
@click.argument("source", metavar="FILE_OR_PLACE")
@shared
def site_take(source: str) -> None:
    """Take in another station's parcel, or its record from where that lies, at the office."""
    with _station() as station:
        made = _taken(station, source)
    show(made, [_taken_text(made)])


def _taken(station: Any, source: str) -> dict[str, Any]:
    from blender.record.parcel import MOST_BYTES, is_parcel
    from blender.record.server import is_url
    from blender.station.site_taking import take_from, take_parcel
    from tui.wiring import read_bytes, read_start

    if not is_url(source) and "://" not in source:
        begin = read_start(source, "FILE")
        if is_parcel(begin):
            content = read_bytes(source, "FILE", MOST_BYTES)
            return take_parcel(station, content, counting("kept"))
        _check_is_record(source, begin)
    return take_from(station, source, counting("kept"))


def _check_is_record(source: str, begin: bytes) -> None:
    """Refuse a file that is neither: no record is damaged by it.

    Raises
    ------
    InputError
        Saying what it is, where that can be told.
    """
    from blender.errors import InputError
    from blender.record.news import is_answer

    if is_answer(begin):
        told = "it is the office's answer: the other stations take it in with `site receive`"
        raise InputError("FILE", ascii(source), told)
    if not begin.startswith(b"SQLite format 3\0"):
        told = "it is neither a station's parcel (`site send` writes one) nor its record"
        raise InputError("FILE", ascii(source), told)


def _taken_text(made: dict[str, Any]) -> str:
    told = f"{made['site']}: {made['taken']} new, {made['entries']} entries in all, verified."
    return f"{told} Mind: {made['note']}." if made["note"] else told


@site.command("root")
@option("--out", "FILE", "The answer to write, one for all stations.", required=True)
@shared
def site_root(out: str) -> None:
    """Sign a root over the heads of all stations, and write what goes back to them."""
    with _station() as station:
        told = _rooted(station, out)
    show(told, _root_lines(told))


def _rooted(station: Any, out: str) -> dict[str, Any]:
    from blender.station.site_answer import make_answer
    from tui.wiring import PRIVATE, write_parts

    content, told = make_answer(station)
    return told | {"file": write_parts(out, [content], "--out", PRIVATE)}


def _root_lines(told: dict[str, Any]) -> list[str]:
    new = "signed now" if told["new"] else "nothing was entered since it was signed"
    heads = [f"  {head}" for head in told["heads"]]
    return [f"Root {told['number']}, {new}: {told['root']}", *heads, f"Answer: {told['file']}"]


@site.command("receive")
@click.argument("file", metavar="FILE")
@shared
def site_receive(file: str) -> None:
    """Take in the office's answer: witness its root, learn what other stations know."""
    from blender.record.news import MOST_BYTES
    from blender.station.site_news import receive
    from tui.wiring import read_bytes

    content = read_bytes(file, "FILE", MOST_BYTES)
    with _station() as station:
        made = receive(station, content)
    if not made["new"]:
        lines = [f"Root {made['number']} of {made['office']} is known here, or a later one."]
    else:
        counts = (
            f"{made['cylinders']} cylinders, {made['fills']} fills, {made['analysed']} analyses"
        )
        lines = [f"Witnessed: {made['root']}", f"New from other stations: {counts}."]
    show(made, lines)


@site.command("sync")
@option("--out", "FILE", "Sign a root as well, and write the answer there.")
@shared
def site_sync(out: str | None) -> int:
    """Take in every station whose place is known; a timetable may do it, nobody has to sign."""
    from blender.errors import InputError
    from blender.station.site_taking import sync

    with _station() as station:
        found = sync(station, counting("kept"))
        if not found:
            told = "no station's place is known: `site add --at`, or `site take` its parcel"
            raise InputError("sync", "nothing", told)
        rooted = _rooted(station, out) if out else None
    lines = [_taken_text(one) for one in found if "error" not in one]
    show({"sites": found, "root": rooted}, [*lines, *(_root_lines(rooted) if rooted else ())])
    for one in found:
        if "error" in one:
            click.echo(f"fillwright: {one['site']}: {one['error']}", err=True)
    failed = [one["code"] for one in found if "error" in one]
    return 5 if "site" in failed else 2 if failed else 0


@site.command("board")
@click.argument("ident", metavar="STATION", required=False)
@shared
def site_board(ident: str | None) -> None:
    """Show all stations side by side, or all that is known of one."""
    from blender.errors import InputError
    from blender.station.site_board import HEADING, board, detail_lines, head_line
    from tui.wiring import clock

    with record() as opened:
        told = board(opened, clock())
    chosen = [one for one in told["sites"] if ident in (None, one["site"])]
    if not chosen:
        raise InputError("station", repr(ident), "no such station is entered here: `site board`")
    lines = [HEADING, *map(head_line, chosen)]
    if ident is not None:
        lines = [f"{caption:16} {text}" for caption, text, _ in detail_lines(chosen[0])]
    elif told["root"]:
        lines.append(told["root"])
    show({**told, "sites": chosen}, lines)


@site.command("check")
@shared
def site_check() -> int:
    """Verify the office's copy of every station: chain, signatures, tables, the head entered."""
    from blender.station.site_board import check

    with record() as opened:
        found = check(opened, counting("verified"))
    lines = []
    for one in found:
        lines.append(f"{one['site']}: {'whole' if one['ok'] else 'DAMAGED OR ALTERED'},"
                     f" {one['entries']} entries")  # fmt: skip
        lines += [f"  {text}" for text in [*one["problems"], one["mark"]] if text]
    show({"sites": found}, lines or ["No other station's record came yet."])
    return 0 if all(one["ok"] for one in found) else 4


@site.command("cylinder")
@click.argument("serial")
@click.option("--add", is_flag=True, help="Enter it here with the stamps read there (signed).")
@signer
@shared
def site_cylinder(serial: str, add: bool, who: str | None, secret_file: str | None) -> None:
    """Show what other stations know of a cylinder; enter it here with their stamps."""
    from blender.station import site_cylinders
    from blender.station.other_site import known_text

    if add:
        with at_work(who, secret_file) as (station, actor):
            made = site_cylinders.add_known(station, actor, serial)
        told = f"Added cylinder {made['serial']} as {made['known_from']} knows it."
        show(made, [f"{told} Compare its stamps."])
        return
    with record() as opened:
        found = site_cylinders.known_away(opened, serial)
    fills = [f"fill {one['fill']} of {one['site']}: {one['want']}, {one['state']}; `site bring`"
             for one in found["fills"]]  # fmt: skip
    show(found, [*map(known_text, found["known_at"]), *fills] or ["No other station knows it."])


@site.command("bring")
@click.argument("ident", metavar="STATION")
@click.argument("number", type=int, metavar="FILL")
@option("--customer", "NAME", "Whose it is, as this record knows them.", required=True)
@signer
@shared
def site_bring(
    ident: str, number: int, customer: str, who: str | None, secret_file: str | None
) -> int:
    """Take in a cylinder another station filled, to be analysed and signed for here."""
    from blender.station.bringing import bring

    with at_work(who, secret_file) as (station, actor):
        answer = bring(station, actor, site=ident, number=number, customer=customer)
    return finish(answer)
