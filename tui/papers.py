"""From a key to paper: made, kept beside the record, and sent to the printer if there is one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blender.record.journal import Record
from blender.station import printing
from blender.station.batch_papers import batch_view
from blender.station.certificate import CertificateView
from blender.station.papers import tag_view
from blender.station.receipt import Receipt
from blender.station.sheets import sheets
from blender.station.views import LabelView
from tui.house import House


def print_tag(record: Record, house: House, number: int) -> str:
    """Print a fill's work tag and return where it is kept."""
    from reports.tag import tag_pdf

    view = tag_view(record, number)
    return house.put_paper(f"tag-{view.proof.station}-{number}.pdf", tag_pdf(view))


def print_label(record: Record, house: House, number: int) -> str:
    """Print an accepted fill's label, a later one as a copy, and return where it is kept."""
    from reports.label import label_pdf

    stock = sheets(record).label

    def put(view: LabelView) -> str:
        return house.put_paper(_label_name(view), label_pdf(view, stock))

    _, path = printing.print_label(record, number, house.clock(), put)
    return path


def print_labels(
    record: Record, house: House, numbers: Sequence[int], stock: str, first: int
) -> str:
    """Print labels of several fills on a stock, from a position on that counts from 1."""
    from reports.label import labels_sheet_pdf

    def put(views: Sequence[LabelView]) -> str:
        when = house.clock().local  # in the name, so that no sheet takes the place of another
        name = f"labels-{views[0].proof.station}-{numbers[0]}-{when:%Y-%m-%d-%H%M%S}.pdf"
        return house.put_paper(name, labels_sheet_pdf(views, stock, first - 1))

    _, path = printing.print_labels(record, numbers, house.clock(), put)
    return path


def print_certificate(record: Record, house: House, number: int) -> str:
    """Print a fill's certificate of analysis, a later one as a copy; return where it is kept."""
    from reports.certificate import certificate_pdf

    sheet = sheets(record).paper

    def put(view: CertificateView) -> str:
        name = f"certificate-{view.label.proof.station}-{number}"
        copy = _copy(view.label.copy_number)
        return house.put_paper(f"{name}{copy}.pdf", certificate_pdf(view, sheet))

    _, path = printing.print_certificate(record, number, house.clock(), put)
    return path


def print_receipt(record: Record, house: House, number: int, imperial: bool) -> str:
    """Print a fill's receipt, a later one as a copy, and return where it is kept."""
    from reports.receipt import receipt_pdf

    sheet = sheets(record).paper

    def put(view: Receipt) -> str:
        name = f"receipt-{view.proof.station}-{number}{_copy(view.copy_number)}.pdf"
        return house.put_paper(name, receipt_pdf(replace(view, imperial=imperial), sheet))

    _, path = printing.print_receipt(record, number, house.clock(), put)
    return path


def _copy(number: int) -> str:
    """Return what a copy's name has after it, so that it does not take the place of the first."""
    return f"-copy-{number}" if number > 1 else ""


def _label_name(view: LabelView) -> str:
    return f"label-{view.proof.station}-{view.fill}{_copy(view.copy_number)}.pdf"


def print_batch_sheet(record: Record, house: House, number: int) -> str:
    """Print what no diver has analysed of a batch and return where it is kept."""
    from reports.batch_sheet import batch_sheet_pdf

    view = batch_view(record, number, house.clock())
    content = batch_sheet_pdf(view, sheets(record).paper)
    return house.put_paper(f"batch-{view.proof.station}-{number}.pdf", content)
