"""From a key to paper: made, kept beside the record, and sent to the printer if there is one."""

from __future__ import annotations

from blender.record.journal import Record
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
