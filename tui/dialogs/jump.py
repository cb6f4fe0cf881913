"""To a date or a fill's number, where a million lines are too many to scroll through."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from blender.errors import InputError
from blender.record.journal import Record
from tui.dialogs.form import Drafts, Field, Form
from tui.widgets.ledger import place_of

TITLE = "Jump to a date or a fill"
_ALLOWED = "type a month (2026-11), a day (2026-11-25) or a fill's number (1204)"
_NUMBER = re.compile(r"[0-9]{1,15}")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}(-[0-9]{2})?")


def form(drafts: Drafts) -> Form:
    """Return the dialog."""
    hint = "2026-11, 2026-11-25 or 1204"
    return Form(TITLE, [Field("to", "Date or number", hint, check=check)], drafts)


def check(text: str) -> str:
    """Return where to go, as typed.

    Raises
    ------
    InputError
        If it is neither a date nor a number.

    Examples
    --------
    >>> check(" 2026-11 "), check("1204")
    ('2026-11', '1204')
    """
    wanted = text.strip()
    if _NUMBER.fullmatch(wanted):
        return wanted
    try:
        if _DATE.fullmatch(wanted):
            date.fromisoformat(wanted if len(wanted) == 10 else f"{wanted}-01")
            return wanted
    except ValueError:
        pass
    raise InputError("jump", repr(wanted[:40]) if wanted else None, _ALLOWED)


def place(record: Record, numbers: Sequence[int], wanted: str) -> int:
    """Return which line of those shown, newest first, a date or number means."""
    if _NUMBER.fullmatch(wanted):
        return place_of(numbers, int(wanted))
    from blender.station.search import at_date

    return at_date(record, numbers, wanted)
