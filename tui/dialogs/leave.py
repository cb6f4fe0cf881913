"""What a manager is asked before a gate lets them on: both numbers, a plain yes, and why."""

from __future__ import annotations

from collections.abc import Awaitable
from typing import TypeVar

from blender.errors import InputError, LeaveNeededError
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import reason_field

Result = TypeVar("Result")


class Asked:
    """Keeps what a manager must be asked before an act, if that is what kept it from being done."""

    def __init__(self) -> None:
        self.needed: LeaveNeededError | None = None

    async def watched(self, doing: Awaitable[Result]) -> Result:
        """Wait for an act."""
        try:
            return await doing
        except LeaveNeededError as error:
            self.needed = error
            raise


def leave_form(number: int, found: str, drafts: Drafts) -> Form:
    """Return the form that asks a manager whether what a gate found is allowed for this fill."""
    told = f"{found[:1].upper()}{found[1:]}"
    yes = Field(
        "yes", "Allow it? yes", "Esc does not allow it", "", _yes,
        text="Type yes to allow it for this fill alone, with your name.",
    )  # fmt: skip
    drafts.pop(title := f"Fill {number}, a manager decides. {told}", None)  # each yes is typed
    return Form(title, [yes, reason_field("what explains it")], drafts)


def _yes(text: str) -> None:
    if text.strip().lower() != "yes":
        given = ascii(text[:20]) if text.strip() else "nothing"
        raise InputError("yes", given, "type yes to allow it, or leave with Esc")
