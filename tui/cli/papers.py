"""`label`, `tag`, `certificate` and `card`: the papers that go with a cylinder."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import kept, option, record, shared, show

NUMBER = click.IntRange(min=1, max=2**31)


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option(
    "--out", "FILE", "PDF to write; default label-STATION-FILL.pdf here; a copy lies beside it."
)
@option("--stock", "NAME", "Label stock.", default="roll-100x62", show_default=True)
@shared
def label(number: int, out: str | None, stock: str) -> None:
    """Print the label of an accepted fill; printed again it is marked as a copy."""
    from blender.station.printing import print_label
    from reports.label import label_pdf
    from tui.wiring import clock, free_name, open_to_print, write_file

    def put(view: Any) -> str:
        # The first label's file is never written over: a copy lies beside it.
        usual = f"label-{view.proof.station}-{number}"
        name = out or free_name(f"{usual}.pdf", f"{usual}-copy{view.copy_number}.pdf")
        return write_file(name, label_pdf(view, stock))

    opened, keys = open_to_print(kept("station"))
    try:
        view, path = print_label(opened, number, clock(), put, keys)
    finally:
        opened.close()
    answer = {
        "fill": number,
        "file": path,
        "anchor": view.proof.anchor,
        "seq": view.proof.seq,
        "o2_percent": view.o2_percent,
        "he_percent": view.he_percent,
        "mod_m": view.mod_agreed_m,
        "mod_ft": view.mod_agreed_ft,
        "floor_m": view.floor_m,
        "copy": view.copy_number,
    }
    what = "Label" if view.copy_number == 1 else f"Copy {view.copy_number} of the label"
    show(answer, [f"{what} of fill {number}: {path}", view.proof.anchor])


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; default tag-STATION-FILL.pdf here.")
@shared
def tag(number: int, out: str | None) -> None:
    """Print the work tag to hang on a cylinder while it is filled."""
    from blender.station.papers import tag_view
    from reports.tag import tag_pdf
    from tui.wiring import write_file

    with record() as opened:
        view = tag_view(opened, number)
    path = write_file(out or f"tag-{view.proof.station}-{number}.pdf", tag_pdf(view))
    answer = {"fill": number, "file": path, "anchor": view.proof.anchor, "holds": view.holds_now}
    show(answer, [f"Work tag of fill {number}: {path}"])


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; default certificate-STATION-FILL.pdf here.")
@shared
def certificate(number: int, out: str | None) -> None:
    """Print the certificate of analysis of an accepted fill, with every signature."""
    from blender.station.certificate import certificate_view
    from reports.certificate import certificate_pdf
    from tui.wiring import write_file

    with record() as opened:
        view = certificate_view(opened, number)
    proof = view.label.proof
    path = write_file(out or f"certificate-{proof.station}-{number}.pdf", certificate_pdf(view))
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
    }
    show(answer, [f"Certificate of fill {number}: {path}", proof.anchor])


@click.command()
@click.argument("number", metavar="FILL", type=NUMBER)
@option("--out", "FILE", "PDF to write; default card-STATION-FILL.pdf here.")
@shared
def card(number: int, out: str | None) -> None:
    """Print the card that explains a label's figures to its diver."""
    from blender.station.papers import label_view
    from reports.diver_card import diver_card_pdf
    from tui.wiring import write_file

    with record() as opened:
        view = label_view(opened, number)
    path = write_file(out or f"card-{view.proof.station}-{number}.pdf", diver_card_pdf(view))
    answer = {"fill": number, "file": path, "anchor": view.proof.anchor}
    show(answer, [f"Card of fill {number}: {path}"])
