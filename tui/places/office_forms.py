"""What is registered in the Office: staff, customers, one's own new secret."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.people import METHODS, MIN_SECRET
from blender.station.ruling import SETTINGS, field_named, parse_value
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import reason_field, signature_fields
from tui.plain import fit
from tui.saying import said
from tui.shown import Units

STAFF, SECRET = "Add a member of staff", "Change my own secret"
_LONGEST_REASON = 300
ROLES = ("blender", "manager", "auditor")
_HINT = f"{MIN_SECRET} characters or more, theirs alone"


def staff_form(drafts: Drafts) -> Form:
    """Return the form of a new member of staff; they type their secret themselves."""
    return Form(
        STAFF,
        [
            Field("name", "Name", "as papers print it", "", lambda text: clean_text(text, "name")),
            Field("role", "Role", ", ".join(ROLES), "", _role),
            Field("qualified", "Qualified for", "partial-pressure, banked ...; or nothing", "",
                  methods),
            Field("secret", "Their secret", _HINT, "", _secret, is_secret=True),
            Field("again", "The same again", "", "", _secret, is_secret=True),
        ],
        drafts,
        agreed,
    )  # fmt: skip


def secret_form(drafts: Drafts) -> Form:
    """Return the form of one's own new secret."""
    return Form(
        SECRET,
        [
            Field("old", "Old secret", "the one you signed in with", "", _secret, is_secret=True),
            Field("secret", "New secret", _HINT.replace("theirs", "yours"), "", _secret,
                  is_secret=True),
            Field("again", "The same again", "", "", _secret, is_secret=True),
        ],
        drafts,
        agreed,
    )  # fmt: skip


def rule_title(name: str) -> str:
    """Return the title of the form of a rule."""
    return f"Change the rule {name}"


def rule_form(rule: Mapping[str, Any], units: Units, drafts: Drafts) -> Form:
    """Return the form of a rule as `blender.station.ruling.listing` has it."""
    name = field_named(rule["rule"])
    is_partial = "ppo2" in rule["rule"]  # a partial pressure is in bar everywhere
    now, allowed = (
        text if is_partial else said(text, units) for text in (rule["text"], SETTINGS[name].allowed)
    )
    hint = allowed.removesuffix(", written with its unit")
    return Form(
        rule_title(rule["rule"]),
        [
            Field("value", "New value", fit(f"now {now}; {hint}", 44).rstrip(), "",
                  lambda text: parse_value(name, text),
                  text=f"{rule['meaning']}. Now {now}; allowed: {allowed}."),
            Field("reason", "Why", "it stands in the record beside your name", "", _reason),
        ],
        drafts,
    )  # fmt: skip


def set_title(name: str) -> str:
    """Return the title of the form that puts a rule set into force."""
    return f"Put the rule set {name} into force"


def set_form(name: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form that puts a rule set into force; a manager signs."""
    fields = [reason_field("where we are", 150), *signature_fields(actor)]
    return Form(set_title(name), fields, drafts)


def reset_title(name: str) -> str:
    """Return the title of the form of somebody's new secret."""
    return f"A new secret for {name}"


def reset_form(name: str, drafts: Drafts) -> Form:
    """Return the form of a member of staff's new secret, which they type themselves."""
    return Form(
        reset_title(name),
        [
            Field("reason", "Why", "forgotten, or seen by somebody", "", _reason,
                  text="What they signed before stays signed; the old secret opens nothing "
                  "any more. They choose another at their first sign-in."),
            Field("secret", "Their new secret", _HINT, "", _secret, is_secret=True),
            Field("again", "The same again", "", "", _secret, is_secret=True),
        ],
        drafts,
        agreed,
    )  # fmt: skip


def _reason(text: str) -> str:
    return clean_text(text, "reason", _LONGEST_REASON)


def _role(text: str) -> str:
    role = text.strip().lower()
    if role not in ROLES:
        raise InputError("role", ascii(text[:40]), "allowed are " + ", ".join(ROLES))
    return role


def methods(text: str) -> list[str]:
    """Return the methods somebody is qualified for, as typed with blanks or commas.

    Raises
    ------
    InputError
        If one is unknown.

    Examples
    --------
    >>> methods("banked, mass")
    ['banked', 'mass']
    """
    found = text.lower().replace(",", " ").split()
    for method in found:
        if method not in METHODS:
            allowed = "allowed are " + ", ".join(METHODS)
            raise InputError("qualified", ascii(method[:40]), allowed)
    return found


def _secret(text: str) -> None:
    if len(text) < MIN_SECRET:
        allowed = f"a secret has at least {MIN_SECRET} characters"
        raise InputError("secret", "(not shown)", allowed)


def agreed(answers: Mapping[str, str]) -> str:
    """Return the secret typed twice.

    Raises
    ------
    InputError
        If the two differ.
    """
    if answers["secret"] != answers["again"]:
        raise InputError("secret", "(not shown)", "the two differ: type both again")
    return answers["secret"]


def staff_facts(answers: Mapping[str, str]) -> dict[str, Any]:
    """Return what was typed as the use case takes it.

    Raises
    ------
    InputError
        If the two secrets differ, or role or methods cannot be used.
    """
    return {
        "name": answers["name"],
        "role": _role(answers["role"]),
        "qualified": methods(answers["qualified"]),
        "secret": agreed(answers),
    }
