"""Putting right what was entered wrongly, from the Book: a manager amends a fill, or voids it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from textual import work

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station import amending
from blender.station.answer import Answer
from tui.dialogs.confirm import Confirm
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import reason_field, signature_fields
from tui.places.place import Place

if TYPE_CHECKING:
    from blender.station.actor import Actor

FIELDS = ("reading", "helium", "customer", "cylinder")
_SAYS = {
    "reading": "the station's oxygen reading, in percent as the analyser showed it",
    "helium": "the station's helium reading, in percent as the analyser showed it",
    "customer": "a customer's name or id",
    "cylinder": "the serial of the cylinder that was meant",
}
_STAYS = "The old value stays in the record with the new one, who changed it and why."


class Mending(Place):
    """A place at which the fill that is shown can be amended and voided."""

    def fill_shown(self) -> int:
        """Return the number of the fill that is shown or marked, 0 where there is none."""
        return 0

    @work(group="dialog")
    async def action_amend(self) -> None:
        """Amend what was entered wrongly with this fill."""
        number, actor = self.fill_shown(), self.terminal.floor.actor
        if not number:
            self.say("note", "There is no fill here.")
            return
        form = amend_form(number, actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        facts = {"field": given["field"].strip().lower(), "to": given["to"],
                 "reason": given["reason"], "post": given["post"].strip()}  # fmt: skip
        answer = await self.perform_signed(given, amending.amend, number, **facts)
        self._told(answer, amend_title(number))

    @work(group="dialog")
    async def action_void(self) -> None:
        """Void this fill, which was entered by mistake."""
        number, actor = self.fill_shown(), self.terminal.floor.actor
        if not number:
            self.say("note", "There is no fill here.")
            return
        form = void_form(number, actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None or not await self.over(Confirm(_void_question(number))):
            return
        answer = await self.perform_signed(given, amending.void, number, reason=given["reason"])
        self._told(answer, void_title(number))

    def _told(self, answer: Answer | None, title: str) -> None:
        """Say what came of it; what was typed is kept where nothing was entered."""
        if answer is None:
            return
        if answer.done:
            self.terminal.drafts.pop(title, None)
        is_grave = not answer.done or "Mind:" in answer.text or "label" in answer.text
        kind = "refused" if not answer.done else "mind" if is_grave else "done"
        self.say(kind, answer.spoken)
        self.renew()


def _void_question(number: int) -> str:
    return (
        f"Void fill {number}? It stays in the record, marked VOID wherever it is shown, and can "
        "not be taken up again. Gas it drew goes back to its banks' reckoning."
    )


def amend_title(number: int) -> str:
    """Return the title of the form of an amendment."""
    return f"Amend fill {number}"


def amend_form(number: int, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of what was wrong, what it should have been, why, and who signs it."""
    meaning = "; ".join(f"{name}: {says}" for name, says in _SAYS.items())
    return Form(
        amend_title(number),
        [
            Field("field", "What was wrong", " or ".join(FIELDS), "", _field, text=f"{meaning}."),
            Field("to", "It should have been", "32.4, or a name, or a serial", "",
                  lambda text: clean_text(text, "it should have been", 200), text=_STAYS),
            Field("post", "Of which post", "a set's post; else leave it empty", "",
                  text="Of a set, whose reading it was: that post's own serial."),
            reason_field("misread by the blender"),
            *signature_fields(actor),
        ],
        drafts,
        _fits,
    )  # fmt: skip


def void_title(number: int) -> str:
    """Return the title of the form that voids a fill."""
    return f"Void fill {number}, which was entered by mistake"


def void_form(number: int, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of why a fill is void, and who signs that."""
    fields = [reason_field("entered twice"), *signature_fields(actor)]
    return Form(void_title(number), fields, drafts)


def _field(text: str) -> None:
    if text.strip().lower() not in FIELDS:
        raise InputError("what was wrong", ascii(text[:40]), f"type {', '.join(FIELDS)}")


def _fits(given: Mapping[str, str]) -> None:
    """Refuse a post where no reading is meant."""
    if given["post"].strip() and given["field"].strip().lower() not in ("reading", "helium"):
        raise InputError("post", ascii(given["post"][:40]), "only a reading is of one post")
