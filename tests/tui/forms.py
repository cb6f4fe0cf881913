"""A form filled in at once: its fields are typed in one by one in `test_fields`."""

from __future__ import annotations

from typing import Any

from textual.widgets import Input

from tests.tui.house import Rig


async def fill_form(rig: Rig, pilot: Any, *texts: str) -> None:
    """Put a text into each field of the form that stands there, and enter it."""
    fields = list(rig.terminal.screen.query(Input))
    assert len(fields) == len(texts), [field.id for field in fields]
    for field, text in zip(fields, texts, strict=True):
        field.value = text
    fields[-1].focus()
    await pilot.press("enter")
    await rig.settle(pilot)
