"""Rule sets by name: listed with their sources, and put into force by a manager with a reason.

A set changes the rules it names and no other.  Local codes, and what is marked on a cylinder,
come before every one of them.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.ruling import FIRST, SETTINGS, Value, check_together, enter_change, field_named
from blender.station.ruling import parse_value as understood

NAMES = ("strictest", "europe", "us-work", "us-navy")
MARKS = {
    "P": "read in the source",
    "S": "read in a text that reprints it",
    "M": "from memory",
    "T": "trade practice, no source",
}


@dataclass(frozen=True, slots=True)
class Printed:
    """One value of a set.

    Parameters
    ----------
    field : str
        The rule, as `Rules` has it.
    typed : str
        The value with its unit, as a manager would type it.
    value : str or float
        As understood.
    source : str
        Where it is in print, and how that is known.
    """

    field: str
    typed: str
    value: Value
    source: str


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A named set of rules.

    Parameters
    ----------
    name, title : str
        What it is called in a command, and in words.
    values : tuple of Printed
        The rules it sets.
    """

    name: str
    title: str
    values: tuple[Printed, ...]


@cache
def rule_set(name: str) -> RuleSet:
    """Return a set by name.

    Parameters
    ----------
    name : str
        One of `NAMES`.

    Raises
    ------
    InputError
        If there is none of that name.

    Examples
    --------
    >>> [one.typed for one in rule_set("us-work").values if one.field == "clean_above_o2"]
    ['40%']
    """
    if name not in NAMES:
        raise InputError("rule set", ascii(name[:40]), f"there are {', '.join(NAMES)}")
    text = files("blender.station.rulesets").joinpath(f"{name}.toml").read_text("utf-8")
    found = tomllib.loads(text)
    values = tuple(_printed(rule, one) for rule, one in found["rules"].items())
    return RuleSet(name, found["title"], values)


def _printed(rule: str, given: dict[str, str]) -> Printed:
    field = field_named(rule)
    source = f"{given['source']} ({MARKS[given['mark']]})"
    return Printed(field, given["value"], understood(field, given["value"]), source)


def use_rule_set(station: Station, actor: Actor, name: str, *, reason: str) -> dict[str, Any]:
    """Put a set into force: each rule it names, all of them or none.

    Raises
    ------
    InputError
        If there is no such set, or everything is as it says already.
    RefusedError
        If the actor may not.
    """
    chosen, why = rule_set(name), clean_text(reason, "--reason", 150)
    with station.act(actor, "rule") as act:
        rules, changes = act.rules, []
        wanted = [one for one in chosen.values if getattr(rules, one.field) != one.value]
        check_together(replace(rules, **{one.field: one.value for one in wanted}))  # type: ignore[arg-type]  # of each field's own type
        for one in wanted:
            told = f"set {name}, {one.source}: {why}"[:300]
            changes.append(enter_change(act, rules, one.field, one.value, one.typed, told))
        if rules.name != chosen.title:
            changes.append(enter_change(act, rules, "name", chosen.title, chosen.title, why))
        if not changes:
            raise InputError("rule set", name, "it is in force already")
    return {"set": name, "title": chosen.title, "changes": changes, "first": FIRST}


def listing() -> dict[str, Any]:
    """Return every set with its values and their sources, JSON-ready."""
    sets = [rule_set(name) for name in NAMES]
    return {"first": FIRST, "sets": [{"set": one.name, "title": one.title,
            "rules": [_line(value) for value in one.values]} for one in sets]}  # fmt: skip


def _line(one: Printed) -> dict[str, Any]:
    setting = SETTINGS[one.field]
    return {"rule": setting.name, "value": one.value, "text": setting.text(one.value),
            "source": one.source, "meaning": setting.meaning}  # fmt: skip


def lines(answer: dict[str, Any]) -> list[str]:
    """Return the sets as lines for people."""
    told = [answer["first"]]
    for one in answer["sets"]:
        told.append(f"{one['set']}: {one['title']}")
        told += [f"  {r['rule']:16} {r['text']:10} {r['source']}" for r in one["rules"]]
    return told
