"""Forms of the register of equipment: an item added, what was done to it, taken out of use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from blender.record.text import clean_text
from blender.station import items, upkeep
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import MANAGER, MANAGER_SECRET, reason_field, signature_fields

if TYPE_CHECKING:
    from blender.station.actor import Actor

_ACTS = {
    "calibrated": "It was calibrated, or compared with a known one",
    "swapped": "It was swapped for another",
    "cleaned": "It was cleaned for oxygen",
    "tested": "It was tested",
    "changed": "It was changed for a new one",
    "ran": "Its hour meter was read",
    "oil": "Its oil was changed",
    "serviced": "It was serviced",
}
# Label, hint and explanation of what an act may say.
_OF_ACT = {
    "hours": ("Hours on the meter", "1234.5", ""),
    "temperature": ("Air drawn in", "28C; empty: 20C",
                    "Warm damp air uses a filter up sooner."),
    "off": ("How far it was off", "-0.5bar: it shows less", ""),
    "found": ("Found sound", "yes or no; empty: not said", ""),
    "by": ("Swapped for", "G2, an item in use", ""),
}  # fmt: skip
# Label and hint of an item's facts.
_OF_ITEM = {
    "range": ("Class and scale", "1.6@400bar"),
    "serves": ("For which gas", "oxygen, helium, top or all"),
    "on": ("On which", "the compressor or analyser it is on"),
    "life": ("Life in hours", "40h, as its maker says"),
    "at": ("Life counts at", "20C, air drawn in; may be empty"),
    "measures": ("It measures", "oxygen or helium"),
}


def offer(act: str) -> str:
    """Return an act as a choice."""
    return _ACTS[act]


def did_title(kind: str, name: str, act: str) -> str:
    """Return the title of the form of what was done."""
    return f"{kind} {name}: {act}"


def did_form(kind: str, name: str, act: str, drafts: Drafts) -> Form:
    """Return the form of what was done to an item, with what that act may say."""
    return Form(
        did_title(kind, name, act),
        [
            *(_act_field(one, needed=upkeep.NEEDS.get(act) == one) for one in upkeep.TAKES[act]),
            Field("on", "Day", "2026-03-01; empty: today", "", day_or_none),
            Field("note", "Note", "who did it, a certificate's number; may be empty", "",
                  lambda text: clean_text(text, "note", 200, empty=True)),
        ],
        drafts,
    )  # fmt: skip


def _act_field(name: str, *, needed: bool) -> Field:
    label, hint, text = _OF_ACT[name]
    check: Callable[[str], object] | None = None
    if needed:

        def check(typed: str) -> object:
            return clean_text(typed, label.lower(), 40)

    return Field(name, label, hint, "", check, text=text)


def add_title(kind: str) -> str:
    """Return the title of the form of a new item."""
    return f"Add a {items.KINDS[kind].meaning}"


def add_form(kind: str, on: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of a new item, which a manager signs."""
    known = items.KINDS[kind]
    named = [*known.needs, *known.may]
    return Form(
        add_title(kind),
        [
            Field("name", "Name", "as it is called here", "",
                  lambda text: clean_text(text, "name", 40)),
            *(Field(one, *_OF_ITEM[one], on if one == "on" else "",
                    _needed(one) if one in known.needs else None) for one in named),
            Field("since", "In use since", "2026-03-01; empty: today", "", day_or_none),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def _needed(name: str) -> Callable[[str], object]:
    return lambda text: clean_text(text, _OF_ITEM[name][0].lower(), 60)


def facts(given: Mapping[str, str]) -> dict[str, Any]:
    """Return what a form says of an item, without the signature."""
    return {
        name: text.strip() for name, text in given.items() if name not in (MANAGER, MANAGER_SECRET)
    }


def retire_title(kind: str, name: str) -> str:
    """Return the title of the form that takes an item out of use."""
    return f"Take {kind} {name} out of use"


def retire_form(kind: str, name: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of why an item goes out of use, which a manager signs."""
    fields = [reason_field("worn out", 200), *signature_fields(actor)]
    return Form(retire_title(kind, name), fields, drafts)


def day_or_none(text: str) -> None:
    """Refuse what is neither a day nor nothing."""
    from blender.station.privacy import date_of

    if text.strip():
        date_of(text, "day")
