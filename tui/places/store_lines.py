"""What the Store shows, as lines: banks with their level, analysers, the day, what waits."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import compressors, day, plant, register
from blender.station.rules import Rules
from blender.units import parse_ambient
from tui.places.store_plant_lines import air_rows, plant_rows
from tui.plain import fit
from tui.saying import said
from tui.shown import Units
from tui.widgets.roll import RollRow

HOUR_US = 3_600_000_000
CELLS = 8  # of a level bar
# Fullest bank of one scale [bar] unless one holds more; shares of it that have a word
# (common practice, no source).
SCALE_BAR = 200.0
_WORDS = ((0.66, "high"), (0.33, "half"), (0.1, "low"), (0.0, "empty"))
_WAITING = {
    "not_collected": "Cylinders not collected",
    "held": "Fills held part-way",
    "open": "Fills still open",
    "quarantined": "In quarantine",
}


@dataclass(frozen=True, slots=True)
class Shelves:
    """The store as it stands now.

    Parameters
    ----------
    supplies, analysers : list of dict
        As the register has them; what is out of use comes last.
    status : dict
        How the day stands.
    compressors : list of dict
        Those in use.
    hours, air : dict
        The last reading of each one's counter, and how their air stands.
    """

    supplies: list[dict[str, Any]]
    analysers: list[dict[str, Any]]
    status: dict[str, Any]
    compressors: list[dict[str, Any]] = field(default_factory=list)
    hours: dict[str, Any] = field(default_factory=dict)
    air: dict[str, Any] = field(default_factory=lambda: {"co": None, "test": None})

    @property
    def meters(self) -> list[dict[str, Any]]:
        """The analysers in use."""
        return [one for one in self.analysers if not one["retired"]]

    def supply(self, name: str) -> dict[str, Any]:
        """Return a supply by its name, empty if it is not there any more."""
        return next((one for one in self.supplies if one["name"] == name), {})

    def compressor(self, name: str) -> dict[str, Any]:
        """Return a compressor by its name, empty if it is not there."""
        return next((one for one in self.compressors if one["name"] == name), {})

    def analyser(self, name: str) -> dict[str, Any]:
        """Return an analyser by its name, empty if it is not there."""
        return next((one for one in self.analysers if one["name"] == name), {})


def shelves(record: Record, now: Moment, rules: Rules) -> Shelves:
    """Return the store as it stands."""
    gases = register.supplies(record)["supplies"]
    return Shelves(
        sorted(gases, key=_is_retired),
        sorted(register.analysers(record, retired=True)["analysers"], key=_is_retired),
        day.day_status(record, now, rules),
        [one for one in compressors.listing(record)["compressors"] if not one["retired"]],
        plant.hours_of(record),
        plant.air(record),
    )


def _is_retired(one: dict[str, Any]) -> bool:
    return bool(one["retired"])


def rows(store: Shelves, now: Moment, rules: Rules, units: Units, width: int) -> list[RollRow]:
    """Return supplies and analysers, and what waits, as lines of a width [cells]."""
    name_width = min(max(width - 68, 12), 40)
    unread = set(store.status["banks_not_read"])
    full_bar = max([SCALE_BAR, *(one["pressure_bar"] or 0.0 for one in store.supplies)])
    made = [RollRow("", f"Supplies: what each gauge should show at {units.temperature(20.0)}")]
    for one in store.supplies:
        words = f"{fit(one['name'], name_width)} {_supply(one, now, units, full_bar)}"
        made.append(RollRow(f"supply/{one['name']}", words, one["name"] in unread))
    if not store.supplies:
        made.append(RollRow("", "  none yet: alt+n adds one; until then gas counts as unlimited"))
    made += [RollRow("", ""), RollRow("", "Analysers: good till, set to, when, by whom")]
    for one in store.analysers:
        words = f"{fit(one['name'], name_width)} {_analyser(one, now, rules)}"
        is_asked = not one["retired"] and is_due(one, now, rules)
        made.append(RollRow(f"analyser/{one['name']}", words, is_asked))
    if not store.analysers:
        made.append(RollRow("", "  none yet: alt+n adds one"))
    made += plant_rows(store.compressors, store.hours, name_width, units)
    made += air_rows(store.air, now, rules, name_width)
    return [*made, *waiting(store.status, units)]


def waiting(status: dict[str, Any], units: Units) -> list[RollRow]:
    """Return what somebody still has to do something about, as lines."""
    made = []
    for name, heading in _WAITING.items():
        if status["counts"][name]:
            made += [RollRow("", ""), RollRow("", f"{heading}: {status['counts'][name]}")]
            made += [
                RollRow(f"fill/{one['fill']}", _waits(one, units), one["do_not_breathe"])
                for one in status[name]
            ]
    return made


def _waits(one: dict[str, Any], units: Units) -> str:
    last = units.wanted(one["want"])
    if one["do_not_breathe"]:
        last = f"DO NOT BREATHE {said(one['holds_text'], units).partition(' (')[0]}"
    return (
        f"{one['fill']:>6}  {fit(one['cylinder'], 15)} {fit(one['state'], 11)} "
        f"{fit(one['customer'], 14)} {last}"
    )


def _supply(one: dict[str, Any], now: Moment, units: Units, full_bar: float) -> str:
    gas = fit(one["gas"], 10)
    if one["retired"]:
        return f"{gas} out of use; alt+x brings it back with another bottle"
    if one["pressure_bar"] is None:
        return f"{gas} does not run out"
    bar, word = level(one["pressure_bar"], full_bar)
    shown = fit(units.pressure(one["pressure_bar"]), 9, "right")
    size = fit(units.volume(one["size_l"]), 10, "right")
    return f"{gas} {bar} {word:5} {shown} {size}  {_read(one, now)}"


def _read(one: dict[str, Any], now: Moment) -> str:
    return f"read {ago(now.us - one['read_us'])}" if one["read_us"] else "not read"


def level(pressure_bar: float, full_bar: float) -> tuple[str, str]:
    """Return a bar for a bank's pressure against the fullest [bar], and a word for it.

    Examples
    --------
    >>> level(150.0, 200.0), level(3.0, 200.0)
    (('######..', 'high'), ('........', 'empty'))
    """
    share = min(max(pressure_bar / full_bar, 0.0), 1.0)
    cells = round(share * CELLS)
    return "#" * cells + "." * (CELLS - cells), next(w for least, w in _WORDS if share >= least)


def ago(past_us: int) -> str:
    """Return how long ago something was, in a few letters.

    Examples
    --------
    >>> ago(5 * 60 * 1_000_000), ago(30 * HOUR_US), ago(200 * HOUR_US)
    ('5 min ago', '30 h ago', '8 d ago')
    """
    minutes = max(past_us, 0) // 60_000_000
    if minutes < 120:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 48 * 60 else f"{minutes // 1440} d ago"


def is_due(one: dict[str, Any], now: Moment, rules: Rules) -> bool:
    """Tell whether an analyser has to be set before it is believed."""
    since = one["calibrated_us"]
    return since is None or now.us - since > rules.calibration_hours * HOUR_US


def _analyser(one: dict[str, Any], now: Moment, rules: Rules) -> str:
    if one["retired"]:
        return f"out of use: {one['retired']}"
    if one["calibrated_us"] is None:
        return "NEVER SET: set it before it is believed"
    when = Moment(one["calibrated_us"], now.offset_min)
    until = when.local + timedelta(hours=rules.calibration_hours)
    good = f"{until:%H:%M}" if until.date() == now.local.date() else f"{until:%m-%d %H:%M}"
    state = "SET IT AGAIN" if is_due(one, now, rules) else f"till {good}"
    is_today = when.local.date() == now.local.date()
    at = f"{when.local:%H:%M}" if is_today else f"{when.local:%Y-%m-%d}"
    on = fit(f"{one['reading']} on {one['gas']}", 18)
    return f"{fit(state, 16)} {on} {at:10} {one['by']}"


def around(typed: str, units: Units) -> str:
    """Return an ambient pressure as typed in the units shown."""
    return said(f"{parse_ambient(typed):.5g} bar", units)


def whole(store: Shelves, key: str, units: Units) -> str:
    """Return what is known of a marked line beyond what its width has room for."""
    kind, _, name = key.partition("/")
    if kind == "analyser" and (one := store.analyser(name)):
        air = f", in air {one['air']}" if one["air"] else ""
        at = around(one["ambient"], units)
        was = f"set to {one['reading']} % on {one['gas']} at {at}{air}, by {one['by']}"
        told = f"{name}: {was if one['calibrated_us'] else 'never set'}"
        return f"{told}; out of use: {one['retired']}" if one["retired"] else told
    if kind == "supply" and (one := store.supply(name)):
        size = f", {units.volume(one['size_l'])}" if one["size_l"] else ""
        price = one["price_m3"]
        costs = "" if price is None else f", {price:g} a m3 of free gas"
        return f"{name}: {one['gas']}{size}{costs}"
    return ""


def day_words(status: dict[str, Any]) -> list[str]:
    """Return how the day stands, in a few lines."""
    opened, closed = status["opened"], status["closed"]
    if status["is_open"]:
        lines = [f"The day is open since {opened['at'][11:16]}, by {opened['by']}."]
    elif closed:
        lines = [f"The day was closed at {closed['at'][11:16]}, by {closed['by']}."]
    else:
        lines = ["The day is not open: alt+d starts it."]
    if status["left_open"]:
        lines.append(f"! The day {status['left_open']} was never closed: alt+d.")
    due, unread = status["analysers_due"], status["banks_not_read"]
    if due:
        lines.append(f"! {len(due)} {'analyser' if len(due) == 1 else 'analysers'} to be set.")
    if unread:
        lines.append(f"! Not read today: {', '.join(unread)}")
    counts = [f"{n} {name.replace('_', ' ')}" for name, n in status["counts"].items() if n]
    return [*lines, f"Fills: {', '.join(counts)}"] if counts else lines
