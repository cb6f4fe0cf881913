"""From a key to paper: made, kept beside the record, and sent to the printer if there is one."""

from __future__ import annotations

from blender.record.journal import Record
from blender.station.batch_papers import batch_view
from blender.station.papers import label_view, tag_view
from tui.house import House


def print_tag(record: Record, house: House, number: int) -> str:
    """Print a fill's work tag and return where it is kept."""
    from reports.tag import tag_pdf

    view = tag_view(record, number)
    return house.put_paper(f"tag-{view.proof.station}-{number}.pdf", tag_pdf(view))


def print_label(record: Record, house: House, number: int) -> str:
    """Print an accepted fill's label and return where it is kept."""
    from reports.label import label_pdf

    view = label_view(record, number)
    return house.put_paper(f"label-{view.proof.station}-{number}.pdf", label_pdf(view))


def print_batch_sheet(record: Record, house: House, number: int) -> str:
    """Print what no diver has analysed of a batch and return where it is kept."""
    from reports.batch_sheet import batch_sheet_pdf

    view = batch_view(record, number, house.clock())
    return house.put_paper(f"batch-{view.proof.station}-{number}.pdf", batch_sheet_pdf(view))
