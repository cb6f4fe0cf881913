"""What a blender wants to see of one fill: what is in it, the next stop, and how fast it comes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from blender.planning.cautions import HYPOXIC_O2, OXYGEN_SERVICE_O2
from blender.planning.request import parse_gas_at
from blender.planning.supplies import plain_name
from blender.record import read
from blender.record.journal import Record
from blender.record.models import CylinderRow, FillRow, ReadingRow, StepRow
from blender.station.ahead import ADDS, what_next
from blender.station.contents import ambient_bar, analysed_text, contents, holds_text, stop_bar
from blender.station.doubts import WAY_OUT, doubts, gas_lost
from blender.station.gates import PASS
from blender.station.gauges import stop_on_dial
from blender.station.judging import BELOW
from blender.station.numbers import bar, celsius, fraction
from blender.station.overshot import overshot
from blender.station.posts import missing
from blender.station.rules import Rules, in_force
from blender.station.set_apart import quarantine_gate
from blender.station.slips import mends
from blender.station.states import NEXT, do_not_breathe
from blender.station.step_words import falls, gas_text, notes, source
from blender.station.steps import gas_of, more_of
from blender.station.wording import gas_typed, pressure_text, residual_text
from blender.vessel import Contents

MINUTE_US = 60_000_000
_SEEN_BAR = 0.5  # less than this is not drawn as gas
_PURE = 0.9  # from here on a gas is drawn as what it is named after
_LEAST_MINUTES = 0.5  # two readings nearer together in time tell no rate


@dataclass(frozen=True, slots=True)
class Layer:
    """One gas of the plan as it lies in the cylinder, by the gauge.

    Parameters
    ----------
    kind : str
        ``residual``, ``helium``, ``oxygen`` or ``top``; ``open`` where nothing is planned yet.
    gas : str
        Its name.
    from_bar, to_bar : float
        Gauge pressures it reaches from and to, at the plan's temperatures [bar].
    step : int
        Its step of the plan, -1 for what was in it.
    """

    kind: str
    gas: str
    from_bar: float
    to_bar: float
    step: int


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One step of the plan; `mark` is ``done``, ``now`` or ``later``; `to_bar` gauge or None.

    `scale_g` is what the scale then shows, by mass [g].
    """

    mark: str
    words: str
    to_bar: float | None
    at_c: float
    scale_g: float | None = None


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a step goes, by its gauge readings.

    Parameters
    ----------
    rate_bar_min : float or None
        Rate seen so far [bar/min], None before a second reading.
    stop_us : int
        When the stop will be reached at that rate [us UTC], 0 if it cannot be told.
    least_minutes : float or None
        How long the step takes at least, where oxygen is let in [min].
    """

    rate_bar_min: float | None = None
    stop_us: int = 0
    least_minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """The next stop of the gauge.

    Parameters
    ----------
    action, gas, supply : str
        What is done until then.
    here_bar, here_c : float
        The stop at the gas temperature just read, and that [bar], [degC].
    planned_bar, planned_c : float
        As planned.
    settled_bar, settled_c : float
        What the gauge will show when that has settled.
    vent_to_bar : float or None
        Of a purge: where it is vented to [bar].
    source : str
        Where the gas comes from: `` from o1``.
    boosted : bool
        Whether it takes the booster.
    scale_g : float or None
        By mass: what the scale shows then [g].
    notes, falls : tuple of str
        What else must be held, watched and done; what the bottles fall to.
    dial_bar : float or None
        What the gauge shows then, where a correction of it is in force [bar].
    """

    action: str
    gas: str
    supply: str
    here_bar: float
    here_c: float
    planned_bar: float
    planned_c: float
    settled_bar: float
    settled_c: float
    vent_to_bar: float | None = None
    source: str = ""
    boosted: bool = False
    scale_g: float | None = None
    notes: tuple[str, ...] = ()
    falls: tuple[str, ...] = ()
    dial_bar: float | None = None

    @property
    def shown_bar(self) -> float:
        """Where the needle stands at the stop: the hand at the valve goes by that [bar]."""
        return self.here_bar if self.dial_bar is None else self.dial_bar


@dataclass(frozen=True, slots=True)
class PanelFill:
    """One fill as the Panel shows it large; pressures gauge [bar], temperatures [degC]."""

    fill: int
    serial: str
    posts: int
    customer: str
    state: str
    batch: int
    want_text: str
    want_bar: float
    settle_c: float
    left_bar: float
    left_c: float | None
    wp_bar: float
    residual_text: str
    holds: str
    do_not_breathe: bool
    has_helium: bool
    action: str
    next_text: str
    leads_to: str
    gauge_bar: float
    gauge_c: float
    gauge_us: int
    stop: Stop | None
    layers: tuple[Layer, ...]
    plan: tuple[PlanLine, ...]
    pace: Pace
    warnings: tuple[str, ...]
    can_correct: bool
    have_typed: str
    residual: str
    mends: str = ""
    posts_left: tuple[str, ...] = ()
    is_overshot: bool = False
    is_lost: bool = False
    is_to_plan: bool = False


def panel_fill(record: Record, number: int, rules: Rules | None = None) -> PanelFill:
    """Return what the Panel shows of one fill.

    Raises
    ------
    InputError
        If there is no such fill.
    """
    with record.read() as conn:
        fill = read.fill(conn, number)
        cylinder = read.cylinder(conn, fill.serial)
        steps = read.steps(conn, number)
        customer = read.person(conn, fill.customer)
        readings = [row for row in read.readings(conn, number) if not _corrected(row)]
        shown = _shown(fill, cylinder, steps, readings, customer, rules or in_force(conn))
        shown = replace(shown, mends=mends(conn, record.station, fill))
        if over := overshot(conn, fill, steps, readings):
            told = f"PLAN AGAIN: {over}"
            shown = replace(shown, stop=None, next_text=told, is_overshot=True)
        if _analysed_since(conn, fill, steps):
            told = "Next: plan again from what was analysed, then resume."
            shown = replace(shown, next_text=told, is_to_plan=True)
        found = doubts(conn, fill, rules or in_force(conn))
        if lost := gas_lost(conn, fill):
            shown = replace(shown, next_text=f"GAS LOST: {WAY_OUT}.", is_lost=True)
            found = found or (lost.removeprefix("GAS LOST: "),)  # held, it is no doubt yet
        apart = quarantine_gate(conn, fill.serial)
        if apart.answer != PASS and fill.state != "quarantined":  # with another of its fills
            found = (apart.reason, *found)
        shown = replace(shown, warnings=(*found, *shown.warnings))
        if differ := _differ(conn, fill):
            shown = replace(shown, next_text=f"{shown.next_text} They differ: {differ}.")
        if left := _posts_left(conn, fill):
            told = f"Next: analyse the other post, {' and '.join(left)}."
            shown = replace(shown, posts_left=left, next_text=told)
        return _on_the_dial(conn, fill, steps, shown)


def _analysed_since(conn: Connection, fill: FillRow, steps: Sequence[StepRow]) -> bool:
    """Tell whether a held fill was analysed after its plan was made: that leads elsewhere now."""
    if fill.state != "held" or not steps:
        return False
    found = read.analyses(conn, fill.fill)
    return any(row.party == "residual" and row.seq > steps[0].seq for row in found)


def _differ(conn: Connection, fill: FillRow) -> str:
    """Return the readings a fill in recheck is in doubt by; empty in any other state."""
    if fill.state != "recheck":
        return ""
    return ", ".join(
        f"{row.analyser or 'diver'} {row.o2_ppm / 1e4:.1f} %"
        + (f" He {row.he_ppm / 1e4:.1f} %" if row.he_ppm >= 0 else "")
        + (f" at {row.serial}" if "+" in fill.serial and row.party == "staff" else "")
        for row in read.analyses(conn, fill.fill, valid_only=True)
    )


def _posts_left(conn: Connection, fill: FillRow) -> tuple[str, ...]:
    """Return the posts of a set that are still to be analysed, once the first was."""
    if fill.state != "analysed" or fill.decision == "reject":
        return ()
    return missing(fill.serial, read.analyses(conn, fill.fill, valid_only=True))


def _on_the_dial(
    conn: Connection, fill: FillRow, steps: Sequence[StepRow], shown: PanelFill
) -> PanelFill:
    """Say beside the stop what the dial shows then, where a correction is in force."""
    stop = shown.stop
    found = stop_on_dial(conn, fill, steps, fill.step, stop.here_bar) if stop else {}
    if stop is None or not found:
        return shown
    minded = replace(stop, notes=(*stop.notes, found["text"]), dial_bar=found["gauge_shows_bar"])
    return replace(shown, stop=minded)


def _corrected(row: ReadingRow) -> bool:
    return bool(row.corrected_by)


def _shown(
    fill: FillRow,
    cylinder: CylinderRow,
    steps: Sequence[StepRow],
    readings: Sequence[ReadingRow],
    customer: Any,
    rules: Rules,
) -> PanelFill:
    inside = contents(fill, cylinder)
    here_c = celsius(fill.temp_mk) if fill.state == "filling" and fill.temp_kind == "gas" else None
    ahead = _ahead(fill, inside, steps, here_c, rules)
    stop = _stop(fill, inside, steps, here_c)
    over = _over(fill, inside, cylinder, rules)
    doubt = _doubt(fill, inside, steps, rules)
    stop = None if doubt else stop  # nobody lets gas in towards a stop before it is explained
    left = parse_gas_at(fill.have_typed, "--have")
    return PanelFill(
        fill=fill.fill,
        serial=fill.serial,
        posts=cylinder.posts,
        customer=read.called(customer) if customer else fill.customer,
        state=fill.state,
        batch=getattr(fill, "batch", 0),
        want_text=gas_typed(fill.want_typed),
        want_bar=bar(fill.want_mbar),
        settle_c=celsius(fill.settle_mk) if fill.settle_mk else 20.0,
        left_bar=left.gauge_bar,
        left_c=left.temperature_c,
        wp_bar=bar(cylinder.wp_mbar),
        residual_text=f"{residual_text(fill)} ({fill.residual})",
        holds=analysed_text(fill) or holds_text(inside),
        do_not_breathe=do_not_breathe(fill.state, has_gas=fill.has_gas),
        has_helium=fill.has_helium,
        action=ahead.get("next", {}).get("action", ""),
        next_text=over or doubt or _next(fill, ahead),
        leads_to=_leads_to(ahead),
        gauge_bar=bar(fill.gauge_mbar),
        gauge_c=celsius(fill.temp_mk),
        gauge_us=max([row.at_us for row in readings], default=fill.started_us),
        stop=stop,
        layers=_layers(
            fill, steps, planned_fresh=not (readings and steps and readings[0].seq < steps[0].seq)
        ),
        plan=tuple(_plan_line(fill, step) for step in steps),
        pace=_pace(fill, steps, readings, stop, rules),
        warnings=(*filter(None, [over, doubt]), *_warnings(fill, steps)),
        can_correct=bool(readings) and fill.state in ("filling", "resting"),
        have_typed=fill.have_typed,
        residual=fill.residual,
    )


def _ahead(
    fill: FillRow, inside: Contents, steps: Sequence[StepRow], here_c: float | None, rules: Rules
) -> dict[str, Any]:
    if not steps:
        return {}
    return what_next(fill, inside, steps, fill.step, here_c, rules.advised_rest_minutes)


def _over(fill: FillRow, inside: Contents, cylinder: CylinderRow, rules: Rules) -> str:
    """Say that it holds more than it may; empty if it does not."""
    rated = bar(cylinder.wp_mbar)
    at_reference = inside.gauge_bar(rules.reference_c, ambient_bar(fill))
    if fill.state not in _FULL or at_reference <= rated + rules.rating_tolerance_bar:
        return ""
    return (
        f"STOP: over the working pressure of {pressure_text(fill, rated)} (at "
        f"{rules.reference_c:g} degC it shows {pressure_text(fill, at_reference)}): bleed it down"
    )


def _doubt(fill: FillRow, inside: Contents, steps: Sequence[StepRow], rules: Rules) -> str:
    """Say that the gauge shows less than the gas that is in; empty if it does not."""
    if fill.state != "filling" or fill.step >= len(steps) or fill.temp_kind != "gas":
        return ""
    shown, gas_c = bar(fill.gauge_mbar), celsius(fill.temp_mk)
    should = inside.gauge_bar(gas_c, ambient_bar(fill))
    if steps[fill.step].action not in ADDS or shown >= should - rules.pressure_tolerance_bar:
        return ""
    told = f"STOP: the gauge shows {pressure_text(fill, shown)}, the gas that is in shows "
    return f"{told}{pressure_text(fill, should)}: {BELOW}"


_FULL = ("filling", "held", "resting", "analysed", "recheck", "correcting", "accepted")


def _next(fill: FillRow, ahead: dict[str, Any]) -> str:
    """Return what comes next: by the plan while gas goes in, else by where the fill stands."""
    if ahead and fill.state == "filling":
        return str(ahead["next_text"])
    if fill.state == "analysed" and fill.decision == "reject":
        return "Next: REJECTED by its analysis: analyse again, put it right, or give it up."
    return f"Next: {NEXT[fill.state]}."


_ANALYSED = ("analysed", "accepted", "collected")


def _plan_line(fill: FillRow, step: StepRow) -> PlanLine:
    mark = "now" if step.number == fill.step else "later"
    if step.number < fill.step or fill.state in _ANALYSED:
        mark = "done"
    more = more_of(step)
    words = f"{step.action} {gas_text(step)}".strip() + (" boosted" if more.boosted else "")
    stops = step.to_mbar >= 0 and step.action not in ("rest", "analyse")
    to_bar = bar(step.to_mbar) if stops else None
    return PlanLine(mark, words, to_bar, celsius(step.temp_mk), more.scale_g)


_GOES_IN = ("requested", "planned", "filling", "held", "correcting")
_UNTIL_ANALYSED = ("off-target", "helium-pairs")


def _warnings(fill: FillRow, steps: Sequence[StepRow]) -> list[str]:
    """Return the plan's cautions that are still of use where the fill stands."""
    plan = json.loads(fill.warnings or "[]")
    return [str(one["text"]) for one in plan if _is_ahead(one["code"], fill, steps)]


def _is_ahead(code: str, fill: FillRow, steps: Sequence[StepRow]) -> bool:
    """Tell whether what a caution warns of is not over: the gas itself, a step, the analysis."""
    if code == "hypoxic-step" and steps and fraction(steps[-1].holds_o2_ppm) < HYPOXIC_O2:
        return True  # the finished gas is meant
    if fill.state not in _GOES_IN:
        return code in _UNTIL_ANALYSED and fill.state in ("resting", "recheck")
    left = steps[fill.step :]
    if code == "oxygen-service":
        return any(step.action == "flow" or _is_rich(step) for step in left)
    return code != "mixed-bleed" or any(step.action == "drain" for step in left)


def _is_rich(step: StepRow) -> bool:
    return step.action in ("add", "purge") and gas_of(step).o2 > OXYGEN_SERVICE_O2


def _leads_to(ahead: dict[str, Any]) -> str:
    mix = ahead.get("leads_to")
    if mix is None:
        return ""
    helium = f" He {mix['he'] * 100:.1f} %" if mix["he"] > 0.0005 else ""
    return f"O2 {mix['o2'] * 100:.1f} %{helium}"


def _kind(step: StepRow) -> str:
    gas = gas_of(step)
    if gas.he >= _PURE:
        return "helium"
    return "oxygen" if gas.o2 >= _PURE else "top"


def _layers(fill: FillRow, steps: Sequence[StepRow], *, planned_fresh: bool) -> tuple[Layer, ...]:
    """Return the cylinder's layers from the bottom: what was in it, then each gas let in."""
    adds = [step for step in steps if step.action in ADDS]
    left = parse_gas_at(fill.have_typed, "--have")
    base = bar(adds[0].from_mbar) if adds else left.gauge_bar
    drains = [bar(step.to_mbar) for step in steps if step.action == "drain"]
    base = min([base, *drains])
    # Planned again with gas in it, the lowest layer is what it held by then.
    held = plain_name(left.mix) if planned_fresh else "held by then"
    layers = [Layer("residual" if base > _SEEN_BAR else "open", held, 0.0, base, -1)]
    for step in adds:
        layer = Layer(
            _kind(step), gas_text(step), layers[-1].to_bar, bar(step.to_mbar), step.number
        )
        layers.append(layer)
    if layers[-1].to_bar < bar(fill.want_mbar) - 1.0:
        layers.append(Layer("open", "", layers[-1].to_bar, bar(fill.want_mbar), len(steps)))
    return tuple(layers)


def _stop(
    fill: FillRow, inside: Contents, steps: Sequence[StepRow], here_c: float | None
) -> Stop | None:
    step = steps[fill.step] if fill.step < len(steps) else None
    if step is None or step.action not in (*ADDS, "drain", "purge"):
        return None
    planned_c = celsius(step.temp_mk)
    settle_c = celsius(fill.settle_mk) if fill.settle_mk else 20.0
    now_c = planned_c if here_c is None else here_c
    moves = step.action != "purge"
    planned, more = bar(step.to_mbar), more_of(step)
    return Stop(
        action=step.action,
        gas="" if step.action == "drain" else plain_name(gas_of(step)),
        supply=step.supply,
        here_bar=stop_bar(fill, inside, step, now_c) if moves and now_c != planned_c else planned,
        here_c=now_c,
        planned_bar=planned,
        planned_c=planned_c,
        settled_bar=stop_bar(fill, inside, step, settle_c) if moves else planned,
        settled_c=settle_c,
        vent_to_bar=bar(step.from_mbar) if step.action == "purge" else None,
        source=source(step),
        boosted=more.boosted,
        scale_g=more.scale_g,
        notes=notes(step),
        falls=falls(step),
    )


def _pace(
    fill: FillRow,
    steps: Sequence[StepRow],
    readings: Sequence[ReadingRow],
    stop: Stop | None,
    rules: Rules,
) -> Pace:
    """Return how fast the present step goes; the rate is that between its last two readings."""
    if stop is None or fill.state != "filling":
        return Pace()
    step = steps[fill.step]
    rich = step.action == "add" and gas_of(step).o2 > rules.clean_above_o2
    least = None
    if rich:
        least = max(stop.here_bar - bar(fill.gauge_mbar), 0.0) / rules.oxygen_rate_bar_min
    if len(readings) < 2 or step.action == "purge":
        return Pace(least_minutes=least)
    before, last = readings[-2], readings[-1]
    minutes = (last.at_us - before.at_us) / MINUTE_US
    gained = bar(last.gauge_mbar) - bar(before.gauge_mbar)
    is_of_step = last.number == fill.step and before.seq > step.seq  # of this plan, too
    falls = step.action == "drain"
    if not is_of_step or minutes < _LEAST_MINUTES or gained == 0.0 or (gained < 0.0) != falls:
        return Pace(least_minutes=least)
    rate = gained / minutes
    to_go = (stop.here_bar - bar(last.gauge_mbar)) / rate
    stop_us = last.at_us + round(to_go * MINUTE_US) if to_go > 0.0 else 0
    return Pace(rate, stop_us, least)
