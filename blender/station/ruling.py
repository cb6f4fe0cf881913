"""The rules of a station as they are in force, read, and changed by a manager with a reason.

What was changed lies in the record; what was never changed is as `Rules` has it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from blender.errors import InputError
from blender.planning.choice import ORDERS
from blender.record import search
from blender.record.journal import Record
from blender.record.models import RuleRow
from blender.record.moment import Moment
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.equipment import yes_no
from blender.station.rules import Rules, in_force
from blender.station.sheets import LABEL_STOCKS, PAPERS, UNITS, units_named
from blender.units import PA_PER_PSI, f_to_c, pa_to_bar, parse_number

Value = str | float
_NAMES = {"sheet": PAPERS, "stock": LABEL_STOCKS, "units": UNITS}
FIRST = "Local codes and the cylinder's own marking come first, before any rule here."


@dataclass(frozen=True, slots=True)
class Setting:
    """How one rule is called, typed and shown.

    Parameters
    ----------
    name : str
        Its name on the command line.
    unit : str
        What its number is in; ``%`` is kept as a fraction.
    least, most : float
        What is allowed, own choice; no rule can be set so that its gate asks nothing.
    meaning : str
        What it is for.
    """

    name: str
    unit: str
    least: float
    most: float
    meaning: str

    def text(self, value: Value) -> str:
        """Return a value as people read it."""
        if isinstance(value, str):
            return value or "none"
        return f"{value:.1%}" if self.unit == "%" else f"{value:g} {self.unit}"

    @property
    def allowed(self) -> str:
        """What may be typed."""
        if self.unit == "order":
            return f"either, {' or '.join(ORDERS)}"
        if self.unit == "yes/no":
            return "yes or no"
        if self.unit in _NAMES:
            return " or ".join(_NAMES[self.unit])
        if not self.unit:
            return "any text"
        return f"{self.text(self.least)} to {self.text(self.most)}, written with its unit"


SETTINGS: dict[str, Setting] = {
    "name": Setting("name", "", 0, 0, "the rule set, named beside every refusal"),
    "reference_c": Setting(
        "reference", "degC", 0, 30, "gas temperature at which working pressure counts"
    ),
    "hot_c": Setting(
        "hot", "degC", 40, 80, "at this, the pressure developed stays within test pressure"
    ),
    "clean_above_o2": Setting(
        "clean-above", "%", 0.2, 0.4, "a gas richer than this needs a cylinder in oxygen service"
    ),
    "test_years": Setting("test", "years", 1, 10, "a periodic (hydrostatic) test is good so long"),
    "inspection_months": Setting(
        "inspection", "months", 1, 60, "a visual inspection is good so long"
    ),
    "agreed_ppo2_bar": Setting(
        "agreed-ppo2", "bar", 1.0, 1.6, "oxygen partial pressure the label's usual depth is for"
    ),
    "high_ppo2_bar": Setting(
        "high-ppo2", "bar", 1.0, 1.6, "oxygen partial pressure the label's second depth is for"
    ),
    "floor_ppo2_bar": Setting(
        "floor-ppo2", "bar", 0.16, 0.21, "oxygen partial pressure below which a mix is hypoxic"
    ),
    "pressure_tolerance_bar": Setting(
        "stop-tolerance", "bar", 0.1, 3, "a reading this near a stop closes its step"
    ),
    "leak_tolerance_bar": Setting(
        "leak-tolerance", "bar", 0.5, 10, "on resuming, a gauge further off means a leak"
    ),
    "bank_tolerance_bar": Setting(
        "bank-tolerance",
        "bar",
        1,
        30,
        "a bank further from what the record expects is an exception",
    ),
    "rating_tolerance_bar": Setting(
        "rating-tolerance", "bar", 0, 1, "rounding allowed over the working pressure"
    ),
    "settle_minutes": Setting(
        "settle", "min", 5, 240, "after gas went in, a wall's temperature is not the gas's"
    ),
    "rest_minutes": Setting(
        "rest",
        "min",
        0,
        240,
        "rest before a drained cylinder is read again and a filled one analysed; 0 only cautions",
    ),
    "empty_bar": Setting(
        "empty", "bar", 0, 5, "below this, what was left cannot matter to the mix"
    ),
    "oxygen_minimum": Setting(
        "oxygen-minimum", "%", 0.9, 1, "what a request for oxygen must reach"
    ),
    "calibration_hours": Setting(
        "calibration", "h", 1, 168, "after this a manager is asked about an analyser"
    ),
    "calculated_points": Setting(
        "calculated", "points", 0.5, 10, "an analysis further from the gauge asks a manager"
    ),
    "oxygen_rate_bar_min": Setting("oxygen-rate", "bar/min", 0.5, 10, "oxygen is let in no faster"),
    "gas_order": Setting(
        "gas-order", "order", 0, 0, "which goes in first where helium and oxygen do"
    ),
    "air_first_bar": Setting(
        "air-first",
        "bar",
        0,
        20,
        "least pressure in the cylinder before oxygen goes in; 0 is no such rule",
    ),
    "least_step_bar": Setting(
        "least-step",
        "bar",
        0,
        2,
        "a step smaller than this is left out where the mix lands within half a point; 0 is none",
    ),
    "copy_folder": Setting(
        "copy-to", "", 0, 0, "folder for copies of the record, best on another machine; or none"
    ),
    "copy_minutes": Setting(
        "copy-every", "min", 0, 10080, "a copy is made so often; 0 is never by itself"
    ),
    "copies_kept": Setting("copies-kept", "copies", 2, 10000, "so many copies are kept there"),
    "disk_least_mb": Setting(
        "disk-least", "MB", 20, 100_000, "with less room left on the disk everybody is warned"
    ),
    "paper": Setting("paper", "sheet", 0, 0, "the sheet that papers are printed on"),
    "label_stock": Setting(
        "label-stock", "stock", 0, 0, "what labels are printed on (`paper list` describes them)"
    ),
    "units": Setting(
        "units", "units", 0, 0, "what papers are in: bar, °C and m, or psi, °F and ft"
    ),
    "look": Setting("look", "yes/no", 0, 0, "outside, valve and marking are looked at first"),
    "inside_look": Setting(
        "inside-look", "yes/no", 0, 0, "a cylinder without pressure is looked into"
    ),
    "supply_analysis": Setting(
        "supply-analysis", "yes/no", 0, 0, "a supply is analysed before it is drawn from"
    ),
    "supply_points": Setting(
        "supply-tolerance", "points", 0.1, 5, "a supply analysed further off is not used"
    ),
    "co_hours": Setting(
        "co-reading", "h", 0, 168, "the air's carbon monoxide is read so often; 0 only cautions"
    ),
    "co_ppm": Setting("co", "ppm", 1, 20, "carbon monoxide in the air, at most"),
    "co2_ppm": Setting("co2", "ppm", 400, 1000, "carbon dioxide in the air, at most"),
    "oil_mg": Setting("oil", "mg/m3", 0.1, 5, "oil in the air, at most"),
    "water_mg": Setting("water", "mg/m3", 10, 100, "water in the air, at most"),
    "compatible_oil_mg": Setting(
        "compatible-oil", "mg/m3", 0.01, 0.1, "oil in air for oxygen service, at most"
    ),
    "compatible_air": Setting(
        "compatible-air", "yes/no", 0, 0, "oxygen service takes only air known to be so clean"
    ),
    "air_test_months": Setting(
        "air-test", "months", 0, 12, "the compressor's air is tested so often; 0 only cautions"
    ),
    "qualified": Setting("qualified", "yes/no", 0, 0, "whoever fills is qualified for the method"),
    "drift_points": Setting(
        "drift", "points", 0.2, 2, "an analyser further off a known gas is set afresh first"
    ),
    "one_person": Setting(
        "one-person", "yes/no", 0, 0, "who filled may sign as the customer, as an exception"
    ),
    "undertaking": Setting(
        "undertaking", "yes/no", 0, 0, "nobody signs before they signed what signing means"
    ),
    "allow_reason": Setting(
        "allow-reason", "yes/no", 0, 0, "a manager allows nothing without a reason"
    ),
    "sign_each": Setting(
        "sign-each", "yes/no", 0, 0, "a terminal asks for the secret at each signature again"
    ),
    "review_months": Setting(
        "account-review", "months", 0, 24, "accounts are gone through so often; 0 is no such rule"
    ),
}
_WHOLE = frozenset(one.name for one in fields(Rules) if one.type == "int")
_TYPED = re.compile(r"([-+\d.,]+)\s*([a-zA-Z%/°][a-zA-Z%/°\d]*)?")
_ALSO = {"degC": ("c", "°c"), "min": ("minutes",), "h": ("hours",), "points": ("%",)}
# What a terminal set to the other units types, brought to the rule's own.
_OTHER: dict[str, tuple[str, Callable[[float], float]]] = {
    "bar": ("psi", lambda psi: pa_to_bar(psi * PA_PER_PSI)),
    "degC": ("f", f_to_c),
}


def field_named(name: str) -> str:
    """Return the rule of a name: as listed, or as the record has it.

    Raises
    ------
    InputError
        If there is none.
    """
    given = name.strip().lower()
    for field, setting in SETTINGS.items():
        if given in (setting.name, field):
            return field
    known = ", ".join(setting.name for setting in SETTINGS.values())
    raise InputError("rule", ascii(name[:40]), f"there are {known}")


def parse_value(field: str, typed: str) -> Value:
    """Understand the value of a rule as typed, with its unit: ``10min``, ``23%``, ``1.3bar``.

    Raises
    ------
    InputError
        If it cannot be read, or lies outside what the rule may be.

    Examples
    --------
    >>> parse_value("rest_minutes", "10min"), parse_value("clean_above_o2", "40%")
    (10, 0.4)
    """
    setting = SETTINGS[field]
    if field == "name":
        return clean_text(typed, "VALUE", 120)
    if field == "gas_order":
        return _order(typed)
    if setting.unit == "yes/no":
        return "yes" if yes_no(typed.strip().lower(), "VALUE") else "no"
    if field == "copy_folder":
        return _folder(typed)
    if setting.unit in _NAMES:
        return _one_of(setting, typed)
    allowed = f"{setting.name} is {setting.allowed}"
    found = _TYPED.fullmatch(typed.strip())
    own = (setting.unit.lower(), *_ALSO.get(setting.unit, ()))
    other, brought = _OTHER.get(setting.unit, ("", _as_it_is))
    unit = (found[2] or "").lower().lstrip("°") if found else ""
    if found is None or unit not in (*own, other) or not unit:
        raise InputError("VALUE", ascii(typed[:40]), allowed)
    number = parse_number(found[1], "VALUE")
    number = round(brought(number), 6) if unit == other else number
    value = round(number / 100.0, 12) if setting.unit == "%" else number
    is_whole = field not in _WHOLE or value == int(value)
    if not setting.least <= value <= setting.most or not is_whole:
        raise InputError("VALUE", ascii(typed[:40]), allowed + (", whole" if not is_whole else ""))
    return int(value) if field in _WHOLE else value


def _as_it_is(number: float) -> float:
    return number


def _order(typed: str) -> str:
    wanted = " ".join(typed.lower().replace("-", " ").split())
    if wanted not in ("either", *ORDERS):
        told = f"gas-order is {SETTINGS['gas_order'].allowed}"
        raise InputError("VALUE", ascii(typed[:40]), told)
    return wanted


def _one_of(setting: Setting, typed: str) -> str:
    wanted = units_named(typed) if setting.unit == "units" else typed.strip().lower()
    if wanted not in _NAMES[setting.unit]:
        raise InputError("VALUE", ascii(typed[:40]), f"{setting.name} is {setting.allowed}")
    return wanted


def _folder(typed: str) -> str:
    wanted = clean_text(typed, "VALUE", 300)
    if wanted.lower() == "none":
        return ""
    if not Path(wanted).is_absolute():
        raise InputError("VALUE", ascii(typed[:40]), "copy-to is a whole path, or none")
    return wanted


def set_rule(
    station: Station, actor: Actor, name: str, value: str, *, reason: str
) -> dict[str, Any]:
    """Change a rule of the station; what it was stays in the record.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    name, value : str
        Which rule, and its new value with its unit.
    reason : str
        Why.

    Raises
    ------
    InputError
        If there is no such rule, the value is not allowed, or it is that already.
    RefusedError
        If the actor may not.
    """
    field, why = field_named(name), clean_text(reason, "--reason", 300)
    setting, new = SETTINGS[field], parse_value(field, value)
    with station.act(actor, "rule") as act:
        if getattr(act.rules, field) == new:
            raise InputError("VALUE", ascii(value[:40]), f"{setting.name} is that already")
        changed: dict[str, Any] = {field: new}
        check_together(replace(act.rules, **changed))
        return enter_change(act, act.rules, field, new, value, why)


def enter_change(
    act: Act, rules: Rules, field: str, new: Value, typed: str, why: str
) -> dict[str, Any]:
    """Enter one changed rule inside an act, and return what changed."""
    setting, old = SETTINGS[field], getattr(rules, field)
    data = {
        "rule": field,
        "old": str(old),
        "new": str(new),
        "old_text": setting.text(old),
        "new_text": setting.text(new),
        "typed": clean_text(typed, "VALUE", 120),
        "reason": why,
    }
    entry = act.enter("rule.changed", data, "rule changed")
    return {"rule": setting.name, "old": old, "value": new, "old_text": data["old_text"],
            "text": data["new_text"], "reason": why, "seq": entry.seq}  # fmt: skip


def check_together(rules: Rules) -> None:
    """Refuse rules that contradict each other.

    Raises
    ------
    InputError
        Saying which.
    """
    if rules.agreed_ppo2_bar > rules.high_ppo2_bar:
        told = f"agreed-ppo2 is at most high-ppo2, {rules.high_ppo2_bar:g} bar"
        raise InputError("VALUE", f"{rules.agreed_ppo2_bar:g} bar", told)


def listing(record: Record) -> dict[str, Any]:
    """Return every rule as it is in force, with what it was before and why, JSON-ready."""
    with record.read() as conn:
        rules, changes = in_force(conn), search.rule_changes(conn)
        names = search.names(conn, [row.person for row in changes])
    found = [_line(one.name, rules, changes, names) for one in fields(Rules)]
    return {"first": FIRST, "rules": found}


def _line(
    field: str, rules: Rules, changes: list[RuleRow], names: dict[str, str]
) -> dict[str, Any]:
    setting, value = SETTINGS[field], getattr(rules, field)
    story = [_change(row, names) for row in changes if row.rule == field]
    usual = getattr(Rules(), field)
    return {"rule": setting.name, "value": value, "text": setting.text(value),
            "usual": usual, "usual_text": setting.text(usual), "meaning": setting.meaning,
            "changes": story}  # fmt: skip


def _change(row: RuleRow, names: dict[str, str]) -> dict[str, Any]:
    return {"old_text": row.old_text, "text": row.new_text, "reason": row.reason,
            "by": names.get(row.person, row.person), "at": Moment(row.at_us, row.offset_min).iso,
            "seq": row.seq}  # fmt: skip


def lines(answer: dict[str, Any]) -> list[str]:
    """Return the rules as lines for people: what each is, and what it was before."""
    told = [FIRST]
    for one in answer["rules"]:
        told.append(f"{one['rule']:16} {one['text']:10} {one['meaning']}")
        told += [
            f"{'':16} {was['old_text']} until {was['at']}, {was['by']}: {was['reason']}"
            for was in one["changes"]
        ]
    return told
