"""The papers of the day, written as they would come out of the printer."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station.desk import Station
from blender.station.export import log_view
from blender.station.papers import tag_view
from blender.station.printing import print_label
from blender.station.views import LabelView
from reports.fill_csv import fill_csv
from reports.fill_log import fill_log_pdf
from reports.label import label_pdf, labels_sheet_pdf
from reports.tag import tag_pdf
from tui.wiring import write_file

# Whatever of these an earlier demonstration left is replaced by the next.
PATTERNS = ("label-fill-*.pdf", "labels-a4.pdf", "tag-fill-*.pdf", "fill-log.pdf", "fill-log.csv")


@dataclass
class Papers:
    """A folder that takes the papers, in the order in which they are made."""

    folder: Path
    files: list[str] = field(default_factory=list)
    labels: list[LabelView] = field(default_factory=list)

    def keep(self, name: str, content: bytes) -> None:
        """Write one paper."""
        self.files.append(write_file(str(self.folder / name), content, "--out"))

    def label(self, station: Station, fill: int) -> None:
        """Print the label of an accepted fill; the record knows that it was printed."""

        def put(view: LabelView) -> str:
            self.labels.append(view)
            self.keep(f"label-fill-{fill}.pdf", label_pdf(view))
            return self.files[-1]

        print_label(station.record, fill, station.clock(), put, station.keys)

    def tag(self, record: Record, fill: int) -> None:
        """Print the work tag of a fill that is under way."""
        self.keep(f"tag-fill-{fill}.pdf", tag_pdf(tag_view(record, fill)))

    def closing(self, record: Record, day: str, now: Moment) -> str:
        """Print the sheet of labels and the fill log; return the log's anchor."""
        if self.labels:
            self.keep("labels-a4.pdf", labels_sheet_pdf(self.labels))
        view = log_view(record, day, day, now)
        self.keep("fill-log.pdf", fill_log_pdf(view))
        self.keep("fill-log.csv", fill_csv(view).encode())
        return view.proof.anchor
