"""`recall`: which cylinders had a gas, or were read with an analyser, and whom to call."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import on_paper, option, paper_of, record, shared, show


@click.command()
@option("--supply", "NAME", "Fills that had gas of this supply; top for top gas.", default="")
@option("--lot", "TEXT", "Fills that had gas of a bottle of this lot.", default="")
@option("--analyser", "NAME", "Fills that were read with this analyser.", default="")
@option("--since", "2026-11-01", "First day; else from the beginning.", default="")
@option("--until", "2026-11-25", "Last day; else until now.", default="")
@option("--out", "FILE", "PDF to write, to tick off.")
@on_paper
@shared
def recall(out: str | None, paper: str | None, **asked: Any) -> None:
    """List the cylinders and fills that a bad gas or a bad analyser concerns, and whom to call."""
    from blender.station import recalling
    from reports.recall_page import lines, recall_pdf
    from tui.wiring import clock, write_file

    with record() as opened:
        view = recalling.recall(opened, clock(), **asked)
        paper = paper_of(opened, paper)
    answer = view.as_dict()
    told = [f"{caption:11} {text}" for caption, text, _ in lines(view)]
    if out is not None:
        answer["file"] = write_file(out, recall_pdf(view, paper))
        told.append(f"Written: {answer['file']}")
    show(answer, told)
