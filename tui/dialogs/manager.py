"""What a manager signs on the spot: their name and secret, asked with what they sign.

Whoever is signed in stays signed in: the manager comes by, signs this one act, and goes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from blender.errors import InputError
from blender.record.roll_call import staff, the_one
from blender.record.text import clean_text
from blender.station.actor import Actor
from tui.dialogs.form import Field, Form

MANAGER, MANAGER_SECRET = "manager", "manager-secret"
_LONGEST_REASON = 300


def reason_field(hint: str, longest: int = _LONGEST_REASON) -> Field:
    """Return the field of why something is done."""
    return Field(
        "reason", "Why", hint, "", lambda text: clean_text(text, "reason", longest),
        text="It stands in the record for ever, beside the manager's name.",
    )  # fmt: skip


def signature_fields(actor: Actor | None) -> list[Field]:
    """Return the fields of a manager's signature: name and secret, or one's own secret alone.

    A manager who is signed in is not asked for their name: a name that stands there already
    would be in the way of a secret typed after it, and show it.
    """
    says = "signs this, and nothing else"
    if actor is not None and actor.role == "manager":
        return [Field(MANAGER_SECRET, "Your secret", says, "", _secret, is_secret=True,
                      text=f"{actor.name} signs this.")]  # fmt: skip
    return [
        Field(MANAGER, "Signed by (manager)", "who signs this, by name", "",
              lambda text: clean_text(text, "manager"),
              text="A manager signs this one act; whoever is signed in stays signed in. A part "
              "of the name will do where nobody else's is like it.", whole=_whole_name),
        Field(MANAGER_SECRET, "Their secret", says, "", _secret, is_secret=True),
    ]  # fmt: skip


def sign_again(actor: Actor | None, given: Mapping[str, str], why: str) -> Form:
    """Return the form that asks for a signature again, saying why the last was none.

    Nothing of it is kept: a name that was typed wrong stands there to be put right once.
    """
    fields = [
        replace(field, initial=given.get(MANAGER, "")) if field.ident == MANAGER else field
        for field in signature_fields(actor)
    ]
    return Form(f"Not signed: {why}", fields, {})


def _whole_name(typed: str, location: str) -> str:
    """Return the name as printed that a part of it means; as typed where it means nobody."""
    everybody = staff(location)
    known = the_one(typed, everybody)
    if known is None:
        return typed
    is_alone = sum(one.name == known.name for one in everybody) == 1
    return known.name if is_alone else known.person


def _secret(text: str) -> None:
    if not text:
        raise InputError("secret", "(not shown)", "the manager's secret signs it")
