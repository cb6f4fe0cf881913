"""A hot stop against the panel's maximum and the bank: refused, with what can be done instead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from blender.errors import NoFillError
from blender.heat.cooling import AT_REST_PA, until_at_rest
from blender.heat.state import Warm
from blender.heat.stop import HeatedFill, hot_stop
from blender.units import bar_to_pa, k_to_c, pa_to_bar

_MOST_STAGES = 6


@dataclass(frozen=True, slots=True)
class Stage:
    """Part of a fill: gas goes in up to a stop, then the cylinder rests.

    Parameters
    ----------
    stop : Warm
        When the valve is shut.
    rested : Warm
        When its gauge is within 1 bar of where it ends.
    """

    stop: Warm
    rested: Warm


def check_panel(asked: HeatedFill, stop: Warm, panel_bar: float, ambient_bar: float) -> None:
    """Refuse a hot stop above the panel's highest pressure.

    Parameters
    ----------
    asked : HeatedFill
        The fill.
    stop : Warm
        Its hot stop.
    panel_bar : float
        Highest gauge pressure the panel may show [bar].
    ambient_bar : float
        Ambient pressure [bar].

    Raises
    ------
    NoFillError
        If the stop is above it; `alternatives` has the stages that stay below, if there are,
        and what it settles at if shut at the maximum.
    """
    stop_bar = stop.gauge_bar(ambient_bar)
    if stop_bar <= panel_bar + 1e-6:
        return
    want_bar = pa_to_bar(asked.want_pa) - ambient_bar
    text = (
        f"to settle at {want_bar:.1f} bar it would be shut at {stop_bar:.1f} bar, above the "
        f"{panel_bar:g} bar of the panel"
    )
    found = stages(asked, panel_bar, ambient_bar)
    others = [_told(found, ambient_bar)] if found else []
    highest_pa = bar_to_pa(panel_bar + ambient_bar)
    others += _shut_early(asked, stop, highest_pa, "at the panel's maximum", ambient_bar)
    raise NoFillError(text, code="panel-max", alternatives=others)


def check_bank(asked: HeatedFill, stop: Warm, ambient_bar: float) -> None:
    """Refuse a hot stop above the bank's own pressure.

    Parameters
    ----------
    asked : HeatedFill
        The fill.
    stop : Warm
        Its hot stop.
    ambient_bar : float
        Ambient pressure [bar].

    Raises
    ------
    NoFillError
        If the bank is lower; `alternatives` has what it can do at once.
    """
    bank_pa = asked.feed.bank_pa
    if bank_pa is None or stop.pressure_pa <= bank_pa:
        return
    bank_bar = pa_to_bar(bank_pa) - ambient_bar
    text = (
        f"it would be shut at {stop.gauge_bar(ambient_bar):.1f} bar, and the bank has only "
        f"{bank_bar:.1f} bar"
    )
    others = _shut_early(asked, stop, bank_pa, "level with the bank", ambient_bar)
    raise NoFillError(text, code="bank-low", alternatives=others)


def shut_early(asked: HeatedFill, stop: Warm, to_pa: float) -> Warm:
    """Shut the valve before the stop, the gauge having risen at the same rate.

    Parameters
    ----------
    asked : HeatedFill
        The fill.
    stop : Warm
        Its hot stop.
    to_pa : float
        Absolute pressure to shut it at [Pa], above the start's.

    Returns
    -------
    Warm
        The state as it is shut.

    Raises
    ------
    InputError
        If the start is not below that pressure.
    """
    from_pa = asked.start.pressure_pa
    share = (to_pa - from_pa) / (stop.pressure_pa - from_pa)
    return asked.to(to_pa, max(share, 0.0) * asked.seconds)[-1]


def _shut_early(
    asked: HeatedFill, stop: Warm, to_pa: float, where: str, ambient_bar: float
) -> list[dict[str, Any]]:
    if to_pa <= asked.start.pressure_pa + AT_REST_PA:
        return []
    inside = shut_early(asked, stop, to_pa).contents
    settled_bar = inside.gauge_bar(k_to_c(asked.settle_k), ambient_bar)
    to_bar = pa_to_bar(to_pa) - ambient_bar
    told = f"shut {where}, {to_bar:.1f} bar, it settles at {settled_bar:.1f} bar"
    return [{"kind": "shut-early", "text": told, "settled_bar": settled_bar}]


def stages(asked: HeatedFill, panel_bar: float, ambient_bar: float) -> tuple[Stage, ...]:
    """Split a fill: to the panel's maximum, rest, and on, until the rest can be let in.

    Each stage takes time by the gas it lets in.

    Parameters
    ----------
    asked : HeatedFill
        The fill.
    panel_bar : float
        Highest gauge pressure the panel may show [bar].
    ambient_bar : float
        Ambient pressure [bar].

    Returns
    -------
    tuple of Stage
        The stages; none if six are not enough, or the cylinder would not come to rest.

    Raises
    ------
    ModelRangeError
        If the gas would leave the range of the equation of state.
    """
    whole_mol = asked.wanted().total_mol
    per_mol_s = asked.seconds / (whole_mol - asked.start.contents.total_mol)
    highest_pa = bar_to_pa(panel_bar + ambient_bar)
    done: list[Stage] = []
    for _ in range(_MOST_STAGES):
        if asked.start.pressure_pa > highest_pa - AT_REST_PA:  # a stage would bring nothing
            break
        left_s = per_mol_s * (whole_mol - asked.start.contents.total_mol)
        now = replace(asked, seconds=left_s)
        stop = hot_stop(now)[-1]
        is_last = stop.pressure_pa <= highest_pa
        if not is_last:
            stop = shut_early(now, stop, highest_pa)
        rested = until_at_rest(stop, asked.wall, asked.room_k)
        if rested is None:
            break
        done.append(Stage(stop, rested))
        if is_last:
            return tuple(done)
        asked = replace(asked, start=rested)
    return ()


def _told(found: tuple[Stage, ...], ambient_bar: float) -> dict[str, Any]:
    rows = [_row(stage, ambient_bar) for stage in found]
    parts = [
        f"fill to {row['stop_bar']:.1f} bar and let it cool {row['rest_minutes']:.0f} min to "
        f"about {row['rested_bar']:.0f} bar"
        for row in rows[:-1]
    ]
    last = f"then fill to {rows[-1]['stop_bar']:.1f} bar"
    return {"kind": "in-stages", "text": ", ".join([*parts, last]), "stages": rows}


def _row(stage: Stage, ambient_bar: float) -> dict[str, float]:
    return {
        "stop_bar": stage.stop.gauge_bar(ambient_bar),
        "gas_c": stage.stop.gas_c,
        "rest_minutes": (stage.rested.seconds - stage.stop.seconds) / 60.0,
        "rested_bar": stage.rested.gauge_bar(ambient_bar),
    }
