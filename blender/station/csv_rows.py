"""A table from elsewhere, read row by row: nothing is guessed, bad rows are named."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from blender.errors import InputError

ENCODINGS = ("utf-8", "windows-1252")
DELIMITERS = (",", ";")
MOST_ROWS = 100_000
MOST_SHOWN = 80


@dataclass(frozen=True, slots=True)
class Bad:
    """A cell, or a whole row where `column` is empty, that cannot be taken."""

    line: int
    column: str
    given: str
    allowed: str

    @property
    def text(self) -> str:
        """It in a sentence."""
        where = f"line {self.line}, {self.column}" if self.column else f"line {self.line}"
        return f"{where}: {self.given!a} was given; {self.allowed}"


@dataclass(frozen=True, slots=True)
class Row:
    """A row: the line of the file it begins on, and its cells by column, trimmed."""

    line: int
    cells: Mapping[str, str]


def read_rows(
    content: bytes, columns: Mapping[str, bool], encoding: str = "utf-8", delimiter: str = ""
) -> tuple[list[Row], list[Bad]]:
    r"""Read a table with a heading.

    Parameters
    ----------
    content : bytes
        The file as it is.
    columns : mapping
        The columns there may be, and whether each must be.
    encoding : str
        ``utf-8``, with or without a mark at its start, or ``windows-1252``.
    delimiter : str
        ``,`` or ``;``; empty to go by the heading.

    Returns
    -------
    list of Row, list of Bad
        Every row that has its cells, and every one that has not.

    Raises
    ------
    InputError
        If the file or its heading cannot be understood at all.

    Examples
    --------
    >>> rows, bad = read_rows(b"name;phone\r\n'Kai';1\r\n", {"name": True, "phone": False})
    >>> rows[0].line, rows[0].cells["phone"], bad
    (2, '1', [])
    """
    text = _decoded(content, encoding)
    between = delimiter or _delimiter(text)
    rows: list[Row] = []
    bad: list[Bad] = []
    lines = _lines(text, between)
    heading = _heading(next(lines, (1, []))[1], columns)
    for line, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(heading):
            told = f"a row has {len(heading)} cells, as the heading has; this one has {len(cells)}"
            bad.append(Bad(line, "", between.join(cells)[:MOST_SHOWN], told))
            continue
        rows.append(Row(line, dict(zip(heading, map(str.strip, cells), strict=True))))
        if len(rows) > MOST_ROWS:
            raise InputError("FILE", f"more than {MOST_ROWS} rows", "split it into several files")
    return rows, bad


def _decoded(content: bytes, encoding: str) -> str:
    if encoding not in ENCODINGS:
        raise InputError("--encoding", repr(encoding[:40]), f"allowed are {', '.join(ENCODINGS)}")
    if content[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00" in content[:200]:
        raise InputError("FILE", "UTF-16 text", "save it as 'CSV UTF-8'")
    try:
        return content.decode("utf-8-sig" if encoding == "utf-8" else "cp1252")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        what = f"byte 0x{content[error.start]:02X} in line {line}"
        advice = f"it is no text in {encoding}: save it as 'CSV UTF-8'"
        if encoding == "utf-8":
            advice += ", or say --encoding windows-1252 if an older spreadsheet wrote it"
        raise InputError("FILE", what, advice) from None


def _delimiter(text: str) -> str:
    """Tell commas from semicolons by the heading, which has one kind only."""
    heading = text.lstrip("\r\n").partition("\n")[0]
    found = [mark for mark in DELIMITERS if mark in heading]
    if len(found) > 1:
        told = "its heading has commas and semicolons: say which with --delimiter"
        raise InputError("FILE", heading[:MOST_SHOWN], told)
    return found[0] if found else ","


def _lines(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Give each record and the line it begins on; a quoted cell may hold line breaks."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before = 0
    try:
        for cells in reader:
            if cells:
                yield before + 1, cells
            before = reader.line_num
    except csv.Error as error:
        told = f"its quotes do not close, or a cell is far too long ({error})"
        raise InputError("FILE", f"line {before + 1}", told) from None


def _heading(cells: Sequence[str], columns: Mapping[str, bool]) -> list[str]:
    names = [cell.strip().lower() for cell in cells]
    allowed = ", ".join(f"{name}{'' if needed else ' (may be left out)'}" for name, needed in
                        columns.items())  # fmt: skip
    for name in names:
        if name not in columns or names.count(name) > 1:
            told = f"columns are, each once: {allowed}"
            raise InputError("heading", repr(name[:MOST_SHOWN]), told)
    if missing := [name for name, needed in columns.items() if needed and name not in names]:
        raise InputError("heading", ", ".join(names)[:200] or None, f"missing: {missing[0]}")
    return names
