"""A form filled in at once: its fields are typed in one by one in `test_fields`."""

from __future__ import annotations

from typing import Any

from textual.widgets import Input

from tests.tui.house import Rig
from tui.dialogs.form import Form


async def fill_form(rig: Rig, pilot: Any, *texts: str, stay: bool = False) -> None:
    """Put a text into each field of the form that stands there, and enter it.

    Where it was not signed, the form that asks for a signature again is left, unless to `stay`.
    """
    fields = list(rig.terminal.screen.query(Input))
    assert len(fields) == len(texts), [field.id for field in fields]
    for field, text in zip(fields, texts, strict=True):
        field.value = text
    fields[-1].focus()
    await pilot.press("enter")
    await rig.settle(pilot)
    if not stay and is_unsigned(rig):
        await pilot.press("escape")
        await rig.settle(pilot)


def is_unsigned(rig: Rig) -> bool:
    """Tell whether a signature is asked for again."""
    return isinstance(rig.terminal.screen, Form) and "Not signed: " in rig.screen_text()
