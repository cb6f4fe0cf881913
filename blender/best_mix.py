"""The mix for a dive: as much oxygen as the depth allows, as little helium as the limits need."""

from __future__ import annotations

from dataclasses import dataclass

from blender.atmosphere import WaterColumn
from blender.depth import (
    AIR_NITROGEN,
    NARCOTIC_LIMIT,
    RECOMMENDED_DENSITY_G_L,
    best_o2,
    density_g_l,
)
from blender.errors import InputError, NoFillError
from blender.gas import Mix, mix
from blender.rounding import round_down, round_up

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class DiveLimits:
    """What a mix has to keep to at its deepest.

    Parameters
    ----------
    ppo2 : float
        Highest partial pressure of oxygen [pressure unit of the column].
    end : float or None
        Deepest equivalent narcotic depth [depth unit of the column]; None is not asked.
    density_g_l : float or None
        Highest density of the breathed gas, taken at 0 degC [g/L]; None is not asked.
    oxygen_narcotic : bool
        Which convention of the END.
    """

    ppo2: float = 1.4
    end: float | None = None
    density_g_l: float | None = RECOMMENDED_DENSITY_G_L
    oxygen_narcotic: bool = True


@dataclass(frozen=True, slots=True)
class BestMix:
    """A mix for a dive.

    Parameters
    ----------
    exact : Mix
        Just at the limits.
    whole : Mix
        In whole percent, oxygen rounded down and helium up: within the limits.
    helium_for : str
        What asks for the helium: ``end``, ``density``, or empty if none is needed.
    """

    exact: Mix
    whole: Mix
    helium_for: str


def best_mix(depth: float, column: WaterColumn, limits: DiveLimits | None = None) -> BestMix:
    """Richest mix for a depth with the least helium that the limits need.

    Parameters
    ----------
    depth : float
        Deepest point of the dive [depth unit of the column].
    column : WaterColumn
        What depths are counted in.
    limits : DiveLimits or None
        What to keep to; None is ppO2 1.4, END 30 m (100 ft) with oxygen counted, 5.2 g/L.

    Returns
    -------
    BestMix
        The mix, exact and in whole percent.

    Raises
    ------
    NoFillError
        If even without any nitrogen a limit is not kept.
    InputError
        If the END asked for is above the surface.

    Notes
    -----
    Oxygen is ppO2 / P, helium what END and density leave no other way: both formulas are those
    of `blender.depth`, solved for helium.  The density limit of 5.2 g/L: Anthony and Mitchell
    2016, from memory; 30 m for the END: common practice, no source.

    Examples
    --------
    >>> from blender.atmosphere import HANDBOOK
    >>> from blender.planning.supplies import plain_name
    >>> plain_name(best_mix(60.0, HANDBOOK.metric).whole)
    '20/50'
    """
    asked = limits or DiveLimits(end=NARCOTIC_LIMIT[column.depth_unit])
    if asked.end is not None and asked.end < 0.0:
        raise InputError("END", f"{asked.end:g}", "0 or deeper")
    o2 = best_o2(asked.ppo2, depth, column)
    helium, reason = max(_for_end(o2, depth, column, asked), _for_density(o2, depth, column, asked))
    _check_room(o2, helium, reason)
    percent_o2 = max(round_down(o2 * 100.0), 1.0)
    whole_o2 = percent_o2 / 100.0
    # With a little less oxygen there is a little more nitrogen: the helium is worked out again.
    again = max(
        _for_end(whole_o2, depth, column, asked)[0], _for_density(whole_o2, depth, column, asked)[0]
    )
    percent_he = min(round_up(again * 100.0), 100.0 - percent_o2)
    return BestMix(mix(o2, helium), mix(whole_o2, percent_he / 100.0), reason if helium else "")


def _check_room(o2: float, helium: float, reason: str) -> None:
    if o2 + helium > 1.0 + _ROUNDING:
        what = "END" if reason == "end" else "density"
        raise NoFillError(
            f"no mix keeps the {what} asked for at this depth: with {o2:.1%} oxygen and the rest "
            "helium it is still over; choose a shallower depth or a deeper limit",
            code="limits",
        )


def _for_end(o2: float, depth: float, column: WaterColumn, asked: DiveLimits) -> tuple[float, str]:
    """Return the helium the END needs, and the word for it."""
    if asked.end is None:
        return 0.0, ""
    share = (asked.end + column.head) / (depth + column.head)
    narcotic = share if asked.oxygen_narcotic else o2 + AIR_NITROGEN * share
    return _positive(1.0 - narcotic, "end")


def _for_density(
    o2: float, depth: float, column: WaterColumn, asked: DiveLimits
) -> tuple[float, str]:
    """Return the helium the density needs; density is a straight line in it."""
    if asked.density_g_l is None:
        return 0.0, ""
    pressure = column.pressure_bar(depth)
    none, full = (density_g_l(mix(o2, he), pressure) for he in (0.0, 1.0 - o2))
    if none <= asked.density_g_l or none - full < _ROUNDING:
        return 0.0, ""
    return _positive((none - asked.density_g_l) / (none - full) * (1.0 - o2), "density")


def _positive(helium: float, reason: str) -> tuple[float, str]:
    return (helium, reason) if helium > _ROUNDING else (0.0, "")
