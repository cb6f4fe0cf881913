"""The forms about a person: role, qualifications, leaving, telephone, forgetting, the review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.people import METHODS
from blender.station.privacy import date_of, phone_number
from blender.station.staff import ROLES
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import reason_field, signature_fields
from tui.places.office_forms import methods

REVIEW = "Review the accounts"


def role_title(name: str) -> str:
    """Return the title of the form of somebody's role."""
    return f"Another role for {name}"


def role_form(name: str, now: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of somebody's role."""
    return Form(
        role_title(name),
        [
            Field("role", "New role", f"now {now}; {', '.join(ROLES)}", "", _role,
                  text="It holds from their next act on. The last manager stays one."),
            reason_field("passed the examination"),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def _role(text: str) -> None:
    if text.strip().lower() not in ROLES:
        raise InputError("role", ascii(text[:40]), "allowed are " + ", ".join(ROLES))


def qualified_title(name: str) -> str:
    """Return the title of the form of what somebody is qualified for."""
    return f"What {name} is qualified for"


def qualified_form(name: str, now: Sequence[str], actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of what somebody is qualified for."""
    return Form(
        qualified_title(name),
        [
            Field("qualified", "Methods", "with blanks; empty: none", " ".join(now), methods,
                  text=f"All of them: {', '.join(METHODS)}. It takes the place of the last."),
            reason_field("certificate seen"),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def retire_title(name: str) -> str:
    """Return the title of the form that takes somebody off the roll."""
    return f"Take {name} off the roll"


def retire_form(name: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form that takes somebody off the roll."""
    fields = [reason_field("left in October"), *signature_fields(actor)]
    return Form(retire_title(name), fields, drafts)


def review_form(standing: Mapping[str, Any], actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of a review, which says when the last was and who is missing."""
    last = (standing["reviewed_at"] or "never")[:10]
    return Form(
        REVIEW,
        [
            Field("note", "What was found", f"last review: {last}", "",
                  lambda text: clean_text(text, "what was found", 400),
                  text="Go through the page of people: is everybody still here, in the right "
                  "role, qualified for what they do? What is wrong is put right there first."),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def phone_title(name: str) -> str:
    """Return the title of the form of a customer's telephone."""
    return f"Telephone of {name}"


def phone_form(name: str, drafts: Drafts) -> Form:
    """Return the form of where a customer is called if their gas must be recalled."""
    asked = Field(
        "phone", "Number", "+49 30 23125 017", "", lambda text: phone_number(text, "number"),
        text="They are called on it if their gas must be recalled.",
    )  # fmt: skip
    return Form(phone_title(name), [asked], drafts)


def erase_title(name: str) -> str:
    """Return the title of the form that erases a customer."""
    return f"Erase {name}"


def erase_form(name: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of why a customer is erased and how long older copies are kept."""
    return Form(
        erase_title(name),
        [
            reason_field("asked for it; do not name them here"),
            Field("until", "Older copies until", "2027-06-30; empty: not known", "", _day,
                  text="The day by which your older backups and exports will be gone."),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def _day(text: str) -> None:
    if text.strip():
        date_of(text, "older copies until")
