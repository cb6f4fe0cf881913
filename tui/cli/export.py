"""`export ...`: the record taken away, to be verified elsewhere or read by other programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from tui.cli.shared import option, record, shared, show

PRIVATE = 0o600  # what is taken away holds personal data
VERIFIER = "verify_journal.py"


@click.group()
@shared
def export() -> None:
    """Take the record away: the journal with its verifier, or everything as tables."""


@export.command("journal")
@option("--to", "FILE", "File to write, such as journal.jsonl.", required=True)
@shared
def journal(to: str) -> None:
    """Write every entry and, beside it, a script that verifies them without Fillwright."""
    from blender.errors import InputError
    from blender.station import takeaway
    from tui.wiring import write_file, write_parts

    beside = Path(to).parent / VERIFIER
    if Path(to).name == VERIFIER:
        raise InputError("--to", to, "that is the verifier's name; choose another")
    with record() as opened:
        head = opened.head()
        path = write_parts(to, takeaway.journal_lines(opened), "--to", PRIVATE)
        script = write_file(str(beside), takeaway.verifier(), "--to")
        key = opened.public_key.hex()
    answer = {"file": path, "verifier": script, "entries": head.seq, "anchor": head.text}
    told = [
        f"{head.seq} entries: {path}",
        f"Verify them with: python3 {script} {path} --anchor 'TEXT OF A LABEL'",
        f"The station's key: {key}",
        head.text,
    ]
    show(answer | {"key": key}, told)


@export.command("all")
@option("--to", "DIR", "Folder to write the tables into.", required=True)
@shared
def everything(to: str) -> None:
    """Write everything as tables, CSV and JSON lines; a README says what personal data is in it."""
    from blender.station import takeaway
    from reports.tables import csv_lines, json_lines
    from tui.wiring import clock, make_folder, write_parts

    folder, counts, files = make_folder(to, "--to"), dict[str, int](), list[str]()
    with record() as opened:
        for table in takeaway.TABLES:
            for ending, lines in ((".csv", csv_lines), (".jsonl", json_lines)):
                rows = _Counted(table.rows(opened, clock()))
                name = str(folder / f"{table.name}{ending}")
                files.append(write_parts(name, lines(table.columns, rows), "--to", PRIVATE))
                counts[table.name] = rows.count
        text = takeaway.about(opened, counts)
        files.append(write_parts(str(folder / "README.txt"), [text.encode()], "--to", PRIVATE))
    show({"files": files, "rows": counts}, [*text.splitlines(), f"Written into {folder}."])


class _Counted:
    """Rows, counted as they go by."""

    def __init__(self, rows: Iterable[Sequence[Any]]) -> None:
        self._rows = rows
        self.count = 0

    def __iter__(self) -> Iterator[Sequence[Any]]:
        for row in self._rows:
            self.count += 1
            yield row
