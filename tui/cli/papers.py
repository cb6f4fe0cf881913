"""`label`, `labels`, `tag`, `certificate`, `card`, `paper`: what goes with a cylinder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from tui.cli.shared import (
    Function,
    in_units_of,
    kept,
    leading,
    led_by,
    on_paper,
    option,
    paper_of,
    record,
    shared,
    show,
    shown_in,
    units_of,
)

NUMBER = click.IntRange(min=1, max=2**31)


to_the_printer = click.option(
    "--print", "to_printer", is_flag=True, help="Send it to the printer too."
)


def _stock(function: Function) -> Function:
    """Add what labels are printed on."""
    told = "Label stock, of `paper list`; else the station's, by its rules `label-stock`, `paper`."
    return option("--stock", "NAME", told)(function)


def _write(name: str, content: bytes, *, to_printer: bool = False) -> str:
    """Write a paper, as pictures where the name ends in .png, and print it if that was asked."""
    from tui.wiring import send_to_printer, write_file

    if Path(name).suffix.lower() != ".png":
        path = write_file(name, content)
    else:
        from reports.picture import pngs

        first, *more = pngs(content)
        path = write_file(name, first)
        for number, picture in enumerate(more, start=2):
            write_file(str(Path(name).with_stem(f"{Path(name).stem}-{number}")), picture)
    if to_printer:
        send_to_printer(path)
    return path


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF or PNG to write; default label-STATION-FILL.pdf here.")
@_stock
@option("--first", "N", "Position to begin at on a part-used sheet, from 1.",
        type=click.IntRange(min=1, max=100), default=1)  # fmt: skip
@led_by
@to_the_printer
@shared
def label(
    number: int,
    out: str | None,
    stock: str | None,
    first: int,
    units: str | None,
    to_printer: bool,
) -> None:
    """Print the label of an accepted fill; printed again it is marked as a copy."""

    def name(view: Any) -> str:
        return out or _beside_the_first(f"label-{view.proof.station}-{number}", view.copy_number)

    (view,), path = _print_labels([number], name, _On(stock, first, units), to_printer)
    what = "Label" if view.copy_number == 1 else f"Copy {view.copy_number} of the label"
    show(
        _label_facts(view) | {"file": path},
        [f"{what} of fill {number}: {path}", view.proof.anchor],
    )


@click.command()
@click.argument("numbers", metavar="FILL...", type=NUMBER, nargs=-1, required=True)
@option("--out", "FILE", "PDF or PNG to write; default labels-STATION-FILL.pdf here.")
@_stock
@option("--first", "N", "Position to begin at on a part-used sheet, from 1.",
        type=click.IntRange(min=1, max=100), default=1)  # fmt: skip
@led_by
@to_the_printer
@shared
def labels(
    numbers: tuple[int, ...],
    out: str | None,
    stock: str | None,
    first: int,
    units: str | None,
    to_printer: bool,
) -> None:
    """Print the labels of several accepted fills on one stock, one after another."""

    def name(view: Any) -> str:
        return out or f"labels-{view.proof.station}-{numbers[0]}.pdf"

    on = _On(stock, first, units, several=True)
    views, path = _print_labels(list(numbers), name, on, to_printer)
    show(
        {"file": path, "labels": [_label_facts(view) for view in views]},
        [f"{len(views)} labels: {path}"],
    )


@dataclass(frozen=True)
class _On:
    """What labels are printed on, from which position, and with which units first."""

    stock: str | None
    first: int
    units: str | None
    several: bool = False


def _print_labels(numbers: list[int], name: Any, on: _On, to_printer: bool) -> tuple[Any, str]:
    """Make the labels of fills, keep them under a name made from the first, and enter that."""
    from blender.station.printing import print_labels
    from blender.station.sheets import sheets
    from reports.label import labels_sheet_pdf

    def put(views: Any) -> str:
        stock = on.stock or (usual.labels if on.several else usual.label)
        led = [leading(on.units, view) for view in views]
        return _write(name(views[0]), labels_sheet_pdf(led, stock, on.first - 1))

    with _to_print() as (opened, keys, now):
        usual = sheets(opened)
        views, path = print_labels(opened, numbers, now, put, keys)
    _send(path, to_printer)
    return views, path


@contextmanager
def _to_print() -> Iterator[tuple[Any, Any, Any]]:
    """Open the record to enter that a paper was printed; give it, its keys and the moment."""
    from tui.wiring import clock, open_to_print

    opened, keys = open_to_print(kept("station"))
    try:
        yield opened, keys, clock()
    finally:
        opened.close()


def _send(path: str, to_printer: bool) -> None:
    from tui.wiring import send_to_printer

    if to_printer:
        send_to_printer(path)


def _beside_the_first(usual: str, copy: int) -> str:
    """Name a paper's file; a copy does not take the place of the first where that is kept."""
    taken = copy > 1 and Path(f"{usual}.pdf").exists()
    return f"{usual}-copy-{copy}.pdf" if taken else f"{usual}.pdf"


def _label_facts(view: Any) -> dict[str, Any]:
    return {
        "fill": view.fill,
        "anchor": view.proof.anchor,
        "seq": view.proof.seq,
        "o2_percent": view.o2_percent,
        "he_percent": view.he_percent,
        "posts": [
            {"serial": one.serial, "o2_percent": one.o2_percent, "he_percent": one.he_percent}
            for one in view.posts
        ],
        "mod_m": view.mod_agreed_m,
        "mod_ft": view.mod_agreed_ft,
        "floor_m": view.floor_m,
        "copy": view.copy_number,
    }


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; default tag-STATION-FILL.pdf here.")
@led_by
@to_the_printer
@shared
def tag(number: int, out: str | None, units: str | None, to_printer: bool) -> None:
    """Print the work tag to hang on a cylinder while it is filled."""
    from blender.station.papers import tag_view
    from reports.tag import tag_pdf

    with record() as opened:
        view = leading(units, tag_view(opened, number))
    name = out or f"tag-{view.proof.station}-{number}.pdf"
    path = _write(name, tag_pdf(view), to_printer=to_printer)
    answer = {"fill": number, "file": path, "anchor": view.proof.anchor, "holds": view.holds_now}
    show(answer, [f"Work tag of fill {number}: {path}"])


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; default certificate-STATION-FILL.pdf here.")
@on_paper
@led_by
@to_the_printer
@shared
def certificate(
    number: int, out: str | None, paper: str | None, units: str | None, to_printer: bool
) -> None:
    """Print the certificate of analysis of an accepted fill; printed again it is a copy."""
    from dataclasses import replace

    from blender.station.printing import print_certificate
    from reports.certificate import certificate_pdf

    def put(view: Any) -> str:
        usual = f"certificate-{view.label.proof.station}-{number}"
        name = out or _beside_the_first(usual, view.label.copy_number)
        led = replace(view, label=leading(units, view.label))
        return _write(name, certificate_pdf(led, sheet))

    with _to_print() as (opened, keys, now):
        sheet = paper_of(opened, paper)
        view, path = print_certificate(opened, number, now, put, keys)
    _send(path, to_printer)
    proof, copy = view.label.proof, view.label.copy_number
    answer = {
        "fill": number,
        "file": path,
        "anchor": proof.anchor,
        "o2_percent": view.label.o2_percent,
        "he_percent": view.label.he_percent,
        "signatures": [
            {"by": one.name, "role": one.role, "meaning": one.meaning, "seq": one.seq}
            for one in view.signatures
        ],
        "copy": copy,
    }
    what = "Certificate" if copy == 1 else f"Copy {copy} of the certificate"
    show(answer, [f"{what} of fill {number}: {path}", proof.anchor])


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; default card-STATION-FILL.pdf here.")
@led_by
@to_the_printer
@shared
def card(number: int, out: str | None, units: str | None, to_printer: bool) -> None:
    """Print the card that explains a label's figures to its diver."""
    from blender.station.papers import label_view
    from reports.diver_card import diver_card_pdf

    with record() as opened:
        view = leading(units, label_view(opened, number))
    name = out or f"card-{view.proof.station}-{number}.pdf"
    path = _write(name, diver_card_pdf(view), to_printer=to_printer)
    answer = {"fill": number, "file": path, "anchor": view.proof.anchor}
    show(answer, [f"Card of fill {number}: {path}"])


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; without it the receipt is only shown.")
@on_paper
@in_units_of
@to_the_printer
@shared
def receipt(
    number: int, out: str | None, paper: str | None, units: str | None, to_printer: bool
) -> None:
    """Reckon up the gas a fill really drew, at the station's prices."""
    from blender.station.receipt import receipt as reckoned
    from reports.receipt import lines
    from tui.wiring import clock

    if out:
        view, path = _print_receipt(number, out, paper, units)
        _send(path, to_printer)
    else:
        path = None
        with record() as opened:
            view = shown_in(opened, units, reckoned(opened, number, clock()))
    items = [
        {"supply": one.supply, "free_gas_m3": one.free_gas_m3, "price_m3": one.price_m3,
         "cost": one.cost}
        for one in view.items
    ]  # fmt: skip
    answer = {"fill": number, "items": items, "total": view.total, "unpriced": view.unpriced}
    what = "Receipt" if view.copy_number == 1 else f"Copy {view.copy_number} of the receipt"
    written = [f"{what}: {path}"] if path else []
    answer |= {"copy": view.copy_number} if path else {}
    show(answer | {"file": path}, [*_as_lines(lines(view)), *written])


def _print_receipt(number: int, out: str, paper: str | None, units: str | None) -> tuple[Any, str]:
    """Make a receipt, keep it and enter that; return it as it was printed, and where it is."""
    from dataclasses import replace

    from blender.station.printing import print_receipt
    from reports.receipt import receipt_pdf

    with _to_print() as (opened, keys, now):
        sheet, imperial = paper_of(opened, paper), units_of(opened, units)

        def put(view: Any) -> str:
            return _write(out, receipt_pdf(replace(view, imperial=imperial), sheet))

        view, path = print_receipt(opened, number, now, put, keys)
        return replace(view, imperial=imperial), path


def _as_lines(facts: Iterable[tuple[str, str, bool]]) -> Iterator[str]:
    """Give captions and texts of a paper as lines of a terminal."""
    for caption, text, _ in facts:
        yield f"{caption:14} {text}"


@click.group()
@shared
def paper() -> None:
    """The label stocks, a page to check each with, and the tag of a suit bottle."""


@paper.command("argon")
@click.argument("serial", metavar="SERIAL")
@option("--at", "50bar", "Gauge pressure it was filled to; without it there is room to write it.")
@option("--out", "FILE", "PDF to write; default argon-SERIAL.pdf here.")
@in_units_of
@to_the_printer
@shared
def argon(
    serial: str, at: str | None, out: str | None, units: str | None, to_printer: bool
) -> None:
    """Print the tag of a suit bottle of argon: NOT BREATHABLE."""
    from blender.record.text import clean_text
    from blender.station.suit_bottle import suit_bottle
    from reports.suit_tag import suit_tag_pdf
    from tui.wiring import clock

    with record() as opened:
        tag = suit_bottle(opened, clean_text(serial, "SERIAL", 60), at, clock())
        tag = shown_in(opened, units, tag)
    name = out or f"argon-{_plain(tag.serial)}.pdf"
    path = _write(name, suit_tag_pdf(tag), to_printer=to_printer)
    told = "Only for a bottle kept for suits; hang it on, and mark the bottle itself."
    show({"serial": tag.serial, "file": path}, [f"Tag: {path}", told])


def _plain(text: str) -> str:
    """Return a text as a part of a file's name."""
    return "".join(char if char.isalnum() else "-" for char in text)


@paper.command("list")
@shared
def stocks() -> None:
    """List the label stocks."""
    from reports.stock import label_stocks

    known = [
        {"name": one.name, "told": one.told, "labels": one.per_page}
        for one in label_stocks().values()
    ]
    show({"stocks": known}, [f"{one['name']:16} {one['told']}" for one in known])


@paper.command("check")
@click.argument("stock", metavar="STOCK")
@option("--out", "FILE", "PDF or PNG to write; default check-STOCK.pdf here.")
@to_the_printer
@shared
def check(stock: str, out: str | None, to_printer: bool) -> None:
    """Print the outline of every position and a line 50 mm long, to hold against a stock."""
    from blender.station.views import Stamp
    from reports.label import stock_check_pdf
    from reports.page import About
    from tui.wiring import clock

    now = clock()
    about = About("Check of a label stock", stock, "", "", Stamp.of(now))
    content = stock_check_pdf(stock, about)
    path = _write(out or f"check-{stock}.pdf", content, to_printer=to_printer)
    told = "Hold it against the stock, and the line against a rule: it is 50 mm long."
    show({"stock": stock, "file": path}, [f"Check page: {path}", told])
