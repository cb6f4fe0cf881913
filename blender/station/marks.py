"""What every view and paper of a fill must say: voided, amended, or not ours; with the entry."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol


class _Noted(Protocol):
    @property
    def kind(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def seq(self) -> int: ...


_WORDS = {
    "voided": "VOID by entry {}, entered by mistake",
    "amended": "AMENDED by entry {}",
    "amended-beyond-limits": "MIND, entry {}",
    "imported": "NOT SIGNED, NOT ANALYSED HERE: taken over by entry {}",
}


def marks(exceptions: Iterable[_Noted], signed_seq: int = 0) -> tuple[str, ...]:
    """Return the marks of a fill from its exceptions, a voided one's first.

    What an amendment meant for a label is over once it was signed for anew, by `signed_seq`.

    Examples
    --------
    >>> from blender.record.models import ExceptionRow
    >>> row = ExceptionRow(seq=9, fill=1, kind="voided", text="twice", person="P", at_us=0)
    >>> marks([row])
    ('VOID by entry 9, entered by mistake: twice',)
    """
    found = [
        row
        for row in exceptions
        if row.kind in _WORDS and (row.kind != "amended-beyond-limits" or row.seq > signed_seq)
    ]
    order = list(_WORDS)
    found.sort(key=lambda row: (order.index(row.kind) > 0, row.seq, order.index(row.kind)))
    return tuple(f"{_WORDS[row.kind].format(row.seq)}: {row.text}" for row in found)


def undone(exceptions: Iterable[_Noted], signed_seq: int) -> str:
    """Return why what was signed for does not hold any more, empty where it does.

    Examples
    --------
    >>> from blender.record.models import ExceptionRow
    >>> row = ExceptionRow(seq=9, fill=1, kind="voided", text="twice", person="P", at_us=0)
    >>> undone([row], 8), undone([], 8)
    ('VOID', '')
    """
    found = list(exceptions)
    if any(row.kind == "voided" for row in found):
        return "VOID"
    later = [row for row in found if row.kind == "amended" and row.seq > signed_seq]
    is_analysis = any(row.text.startswith(("reading: ", "helium: ")) for row in later)
    return "ANALYSIS AMENDED" if is_analysis else ""


def is_mark(row: _Noted) -> bool:
    """Tell whether an exception is said as a mark, and need not be said again."""
    return row.kind in _WORDS


def in_a_list(state: str, amended_by: int) -> dict[str, Any]:
    """Return what one line of a list says of it, as JSON has it."""
    said: dict[str, Any] = {"amended_by": amended_by or None}
    return said | {"voided": state == "voided", "imported": state == "imported"}
