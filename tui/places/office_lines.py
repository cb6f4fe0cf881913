"""What the Office shows, page by page: each line short, and in full for when it is marked."""

from __future__ import annotations

from typing import Any

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import drifting, duties, register, rule_sets, ruling, safekeeping, staff, watch
from blender.station.rules import Rules
from tui.plain import fit
from tui.saying import said
from tui.shown import Units
from tui.widgets.roll import RollRow

PAGES = ("Exceptions", "Due", "People", "Rules", "Sets")
MOST = 2000  # exceptions listed; the Book finds the older ones
NONE = {
    "Exceptions": "Nothing went another way than usual.",
    "Due": "Nothing is due.",
    "People": "Nobody is here.",
    "Rules": "",
    "Sets": "",
}
# What Enter does with the marked line of a page.
ENTER = {
    "Exceptions": "Enter opens its fill's story",
    "Due": "",
    "People": "Enter: what can be done",
    "Rules": "Enter changes the rule",
    "Sets": "Enter puts the set into force",
}
Lines = list[tuple[RollRow, str]]


def page_lines(record: Record, page: str, now: Moment, rules: Rules, units: Units) -> Lines:
    """Return a page's lines, each with what it says in full."""
    if page == "Exceptions":
        return [*_alarms(record, units), *_exceptions(record, units)]
    if page == "Due":
        return _due(record, now, rules, units)
    if page == "People":
        return [_accounts(record, now), *_people(record, now)]
    if page == "Sets":
        return _sets(rules, units)
    copies = safekeeping.line(safekeeping.standing(record, now))
    return [*_rules(record, units), (RollRow("copies", copies), copies)]


def matching(lines: Lines, sought: str) -> Lines:
    """Return the lines that have every word of what is sought, in any letters' size."""
    words = sought.casefold().split()
    if not words:
        return lines
    return [
        (row, whole)
        for row, whole in lines
        if all(word in f"{row.words} {whole}".casefold() for word in words)
    ]


def _alarms(record: Record, units: Units) -> Lines:
    """Return that the charts raised an alarm which stands, before all that is over."""
    made: Lines = []
    for one in drifting.show(record)["standing"]:
        off = [abs(each["bias"]) for each in one["suspects"] if each["unit"] == "bar"]
        text = said(one["text"], units, {"off_bar": off})
        whole = f"{text}\nIts evidence, and what can be done: Charts"
        made.append((RollRow("alarm", f"ALARM: {text}", True), whole))
    return made


def _exceptions(record: Record, units: Units) -> Lines:
    made = []
    for one in watch.exceptions(record, limit=MOST):
        text = said(
            _rule_named(one["text"]) if one["kind"] == "rule-changed" else one["text"], units
        )
        about = f"fill {one['fill']}" if one["fill"] else "-"
        words = f"{one['when'][:10]} {one['when'][11:16]}  {fit(about, 10)} {fit(one['kind'], 16)} "
        row = RollRow(f"fill/{one['fill'] or 0}/{one['seq']}/{one['kind']}", words + text)
        who = one["who"] or "the station"
        whole = f"{one['kind']}: {text}\n{who}, {one['when']}, entry {one['seq']}"
        made.append((row, whole))
    if len(made) == MOST:
        older = RollRow("older", f"Only the newest {MOST} are listed; the Book finds older ones.")
        made.append((older, ""))
    return made


def _rule_named(text: str) -> str:
    """Return a change of a rule with its name as it is typed; the record has it by its field."""
    field, colon, rest = text.partition(":")
    known = ruling.SETTINGS.get(field)
    return f"{known.name}{colon}{rest}" if known else text


def _due(record: Record, now: Moment, rules: Rules, units: Units) -> Lines:
    """Return everything that falls due; of a cylinder also who had it last, to be told."""
    made: Lines = []
    found = duties.due(record, now, rules)["due"]
    who = duties.last_had(record, [one["name"] for one in found if one["kind"] == "cylinder"])
    for at, one in enumerate(found):
        days = one["days"]
        when = "now" if days is None else f"{-days} d over" if days < 0 else f"in {days} d"
        had, day = who.get(one["name"], ("", "")) if one["kind"] == "cylinder" else ("", "")
        last = had or one["date"] or ""
        words = f"{when:>10}  {fit(one['name'], 20)} {fit(one['what'], 18)} {last}"
        whole = said(duties.named(one), units) + (f"\nlast filled for {had}, {day}" if had else "")
        made.append((RollRow(f"due/{at}", words, days is None or days < 0), whole))
    return made


def _accounts(record: Record, now: Moment) -> tuple[RollRow, str]:
    """Return the line of the yearly review of accounts."""
    known = staff.standing(record, now)
    last = known["reviewed_at"]
    told = f"Accounts reviewed {last[:10]}" if last else "Accounts never reviewed"
    told += ", a review is due" if known["review_due"] else ""
    if missing := len(known["not_undertaken"]):
        told += f"; {missing} of the staff have not signed what signing means"
    row = RollRow("accounts", told, known["review_due"])
    whole = f"{told}\nEnter or alt+v: enter that the list below was gone through (manager)"
    return row, whole


def _people(record: Record, now: Moment) -> Lines:
    made = []
    missing = staff.standing(record, now)["not_undertaken"]
    people = register.people(record)["people"]
    for one in sorted(people, key=lambda one: (one["role"] == "customer", one["name"] or "~")):
        name = one["name"] or "(erased)"
        may = ", ".join(one["qualified"])
        card = f"card: {one['certified']}" if one["certified"] else ""
        words = f"{fit(name, 30)} {fit(one['role'], 9)} {card or may}"
        whole = f"{name}, {one['role']}, {one['person']}"
        if one["role"] != "customer":
            whole += (
                f"\nqualified for {may}" if may else "\nno method named that they are qualified for"
            )
            whole += "; has not signed what signing means" if name in missing else ""
        made.append((RollRow(f"person/{one['person']}", words), whole))
    return made


def _rules(record: Record, units: Units) -> Lines:
    made = []
    for one in ruling.listing(record)["rules"]:
        value, is_usual = rule_value(one, units), one["value"] == one["usual"]
        mark = " " if is_usual else "*"
        words = f"{fit(one['rule'], 16)} {mark}{fit(value, 14)} {one['meaning']}"
        whole = f"{one['rule']} {value}: {one['meaning']}"
        if not is_usual:
            whole += f"; * usually {rule_value(one, units, 'usual_text')}"
        story = [_was(one, change, units) for change in reversed(one["changes"])]
        made.append((RollRow(f"rule/{one['rule']}", words), "\n".join([whole, *story])))
    return made


def _sets(rules: Rules, units: Units) -> Lines:
    """Return every rule set with its values; local codes come before all of them."""
    listing = rule_sets.listing()
    made: Lines = [(RollRow("", listing["first"]), "")]
    for one in listing["sets"]:
        is_here = rules.name == one["title"]
        mark = "  IN FORCE" if is_here else ""
        words = f"{one['set']}: {one['title']}{mark}"
        made.append((RollRow(f"set/{one['set']}", words), f"{words}\n{listing['first']}"))
        for rule in one["rules"]:
            value = rule_value(rule, units)
            line = f"   {fit(rule['rule'], 16)} {fit(value, 12)} {rule['source']}"
            whole = f"{one['set']}, {rule['rule']} {value}: {rule['meaning']}\n{rule['source']}"
            made.append((RollRow(f"set/{one['set']}/{rule['rule']}", line), whole))
    return made


def rule_value(rule: dict[str, Any], units: Units, which: str = "text") -> str:
    """Return a rule's value in the units shown; a partial pressure is in bar everywhere."""
    return str(rule[which]) if "ppo2" in rule["rule"] else said(rule[which], units)


def _was(rule: dict[str, Any], change: dict[str, Any], units: Units) -> str:
    """Return what a rule was before a change, who changed it and why, the reason as typed."""
    until = f"{change['at'][:16].replace('T', ' ')}, {change['by']}"
    was = rule_value({"rule": rule["rule"], "text": change["old_text"]}, units)
    return f"was {was} until {until}: {change['reason']}"
