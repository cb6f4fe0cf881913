"""`export ...`: the record taken away, to be verified elsewhere or read by other programs."""

from __future__ import annotations

from pathlib import Path

import click

from tui.cli.shared import option, record, shared, show
from tui.takeaway import VERIFIER


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
    from tui.wiring import PRIVATE, write_file, write_parts

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
    from tui.takeaway import table_files
    from tui.wiring import PRIVATE, clock, make_folder, write_parts

    folder, counts, written = make_folder(to, "--to"), dict[str, int](), list[str]()
    with record() as opened:
        for name, parts in table_files(opened, clock(), counts):
            written.append(write_parts(str(folder / name), parts, "--to", PRIVATE))
        text = takeaway.about(opened, counts)
    show({"files": written, "rows": counts}, [*text.splitlines(), f"Written into {folder}."])
