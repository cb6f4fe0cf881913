"""`serve` and `tablet ...`: the app in a browser on the counter, and what it is handed."""

from __future__ import annotations

import asyncio
import importlib.util
import json
from typing import TYPE_CHECKING, Any

import click

from tui.cli.shared import at_work, kept, option, shared, show, signer

if TYPE_CHECKING:
    from blender.station.desk import Station

NUMBER = click.IntRange(min=1, max=2**31)
_PORT = 8023
_MISSING = (
    "the tablet needs the extra `tablet`, which is not installed: pip install 'fillwright[tablet]'"
)


@click.command()
@option("--port", "N", "Port to listen at; 0 takes any that is free.", type=int, default=_PORT)
@option("--listen", "ADDRESS", "Address to listen at: this machine alone, unless another is given.",
        default="127.0.0.1")  # fmt: skip
@option("--allowed-host", "NAME", "Name or address browsers ask for; needed where others reach it.",
        multiple=True)  # fmt: skip
@option("--public", "URL", "Where TLS in front of it is reached: https://NAME.", default="")
@shared
def serve(port: int, listen: str, allowed_host: tuple[str, ...], public: str) -> None:
    """Serve a tablet on the counter: the app in a browser, for whoever is handed a code."""
    if any(importlib.util.find_spec(name) is None for name in ("aiohttp", "textual_serve")):
        raise click.UsageError(_MISSING)
    from tui import wiring
    from tui.tablet import address

    host, is_loopback = address.listening(listen, port)
    address.reached(host, port, is_loopback=is_loopback, names=allowed_host, public=public)
    station = wiring.open_station(kept("station"))
    try:
        with address.bound(host, port) as taken:
            here = address.reached(
                host, taken.getsockname()[1], is_loopback=is_loopback, names=allowed_host,
                public=public,
            )  # fmt: skip
            if not is_loopback:
                click.echo(f"fillwright: {address.CAUTION.format(where=here.url)}", err=True)
            _serve(station, taken, here)
    finally:
        station.record.close()


def _serve(station: Station, taken: Any, here: Any) -> None:
    """Serve until stopped; the record says from when until when, and where."""
    from blender.station import tablet
    from tui.tablet import wiring as own
    from tui.tablet.server import Outside, Tablet, serve_until_stopped
    from tui.wiring import location, report_bug

    place = location(kept("station"))
    outside = Outside(station, own.command(), lambda seq: own.environment(place, seq), report_bug)
    served = Tablet(outside, here, own.monotonic)
    tablet.serve_at(station, here.url)
    try:
        handed = tablet.hand_terminal(station)
        asyncio.run(serve_until_stopped(taken, served, lambda: _say_ready(here.url, handed)))
    finally:
        tablet.serve_at(station, "")


def _say_ready(url: str, handed: dict[str, Any]) -> None:
    """Say where it is served, and show the code that opens the terminal there."""
    if kept("json"):
        click.echo(json.dumps({"address": url, **handed}))
        return
    click.echo(f"The tablet is served at {url} until you press Ctrl+C.")
    click.echo(f"The terminal, for staff to sign in, once, until {handed['open_until'][11:16]}:")
    click.echo(handed["url"])
    click.echo(qr(handed["url"]))
    click.echo("Customers get codes of their own: `fillwright tablet hand FILL`, or alt+q.")


def qr(text: str) -> str:
    """Return a QR code in half blocks, dark on light whatever the terminal's colours."""
    from tui.tablet.qr import code

    return "\n".join(f"\x1b[30;107m{line}\x1b[0m" for line in code(text))


@click.group()
@shared
def tablet() -> None:
    """Hand something to the tablet on the counter, see what it has, take it back."""


def _hand(who: str | None, secret_file: str | None, purpose: str, **about: Any) -> None:
    from blender.station import tablet as use_case

    with at_work(who, secret_file) as (station, actor):
        answer = use_case.hand(station, actor, purpose, **about)
    until = answer["open_until"][11:16]
    told = [f"Handed to the tablet as {answer['handed']}. Open it there once, until {until}:"]
    show(answer, [*told, answer["url"], qr(answer["url"])])


@tablet.command()
@click.argument("fill", type=NUMBER)
@signer
@shared
def hand(fill: int, who: str | None, secret_file: str | None) -> None:
    """Hand an analysed fill to the tablet, for its customer to read and sign."""
    _hand(who, secret_file, "sign", fill=fill)


@tablet.command()
@option("--customer", "NAME", "One who is known and has yet to sign the undertaking.", default="")
@signer
@shared
def register(customer: str, who: str | None, secret_file: str | None) -> None:
    """Let a customer register at the tablet, and read and sign the undertaking."""
    _hand(who, secret_file, "register", customer=customer)


@tablet.command()
@signer
@shared
def staff(who: str | None, secret_file: str | None) -> None:
    """Open the terminal on the tablet: whoever it is signs in there."""
    _hand(who, secret_file, "staff")


@tablet.command()
@click.argument("number", type=NUMBER, required=False)
@signer
@shared
def withdraw(number: int | None, who: str | None, secret_file: str | None) -> None:
    """Take what was handed to the tablet back: that one, or all there is."""
    from blender.station import tablet as use_case

    with at_work(who, secret_file) as (station, actor):
        answer = use_case.withdraw(station, actor, number or 0)
    gone = ", ".join(map(str, answer["withdrawn"]))
    show(answer, [f"Withdrawn from the tablet: {gone or 'it had nothing'}."])


@tablet.command(name="list")
@shared
def list_() -> None:
    """Show what the tablet has now."""
    from blender.station import tablet as use_case
    from tui.wiring import open_station

    station = open_station(kept("station"))
    try:
        answer = use_case.with_tablet(station)
    finally:
        station.record.close()
    stopped = [f"{one['handed']:>6}  fill {one['fill']}, {one['text']}, {one['at'][11:16]}"
               for one in answer["stopped"]]  # fmt: skip
    here = f"Served at {answer['address'] or 'no address'}."
    show(answer, [here, *map(_line, answer["handed"]), *stopped])


def _line(one: dict[str, Any]) -> str:
    about = f"fill {one['fill']}" if one["fill"] else one["purpose"]
    done = "open there" if one["opened"] else "not opened yet"
    by, until = one["by"] or "the server", one["until"][11:16]
    return f"{one['handed']:>6}  {about}, by {by}, {done}, until {until}"
