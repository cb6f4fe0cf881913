"""What a label states of depth, and from which oxygen.

Percentages are printed to a tenth.  A depth follows from whatever is more cautious, the
reading or its printed figure, so that nobody who works it out from the label finds a
shallower MOD, or a deeper floor, than the label says.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from blender.depth import limits_from_readings
from blender.record.models import AnalysisRow
from blender.rounding import deeper, round_down, round_up, shallower
from blender.station.numbers import bar, fraction, mbar
from blender.station.rules import Rules
from blender.units import m_to_ft

_TENTH_PPM = 1000
# What a statement of any but the first format says of its depths.
SIGNED = ("mod_o2_ppm", "floor_o2_ppm", "agreed_mbar", "high_mbar", "floor_mbar")


def printed_ppm(o2_ppm: int) -> int:
    """Return a fraction [ppm] as the tenth of a percent it is printed as; halves go up.

    Examples
    --------
    >>> printed_ppm(181_800), printed_ppm(324_499), printed_ppm(322_500)
    (182000, 324000, 323000)
    """
    return (o2_ppm + _TENTH_PPM // 2) // _TENTH_PPM * _TENTH_PPM


@dataclass(frozen=True, slots=True)
class Basis:
    """What the depths of a label rest on, in the journal's integers: signed with them.

    Parameters
    ----------
    mod_o2_ppm, floor_o2_ppm : int
        Oxygen that the maximum depths and the floor are worked out from [ppm].
    agreed_mbar, high_mbar, floor_mbar : int
        Oxygen partial pressures of the usual depth, the second and the floor [mbar].
    feet_of_metres : int
        1 where feet are those of the metres stated beside them, or more cautious; 0 for the
        handbook's own count, 33 ft to an atmosphere, which earlier statements were printed with.
    """

    mod_o2_ppm: int
    floor_o2_ppm: int
    agreed_mbar: int
    high_mbar: int
    floor_mbar: int
    feet_of_metres: int = 1

    def as_data(self) -> dict[str, int]:
        """The basis as journal data."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Depths:
    """Depths as a label states them, unrounded [m] and [ft], and their ppO2 [bar]."""

    agreed_ppo2_bar: float
    mod_agreed_m: float
    mod_agreed_ft: float
    high_ppo2_bar: float
    mod_high_m: float
    mod_high_ft: float
    floor_m: float
    floor_ft: float

    def in_mm(self) -> dict[str, int]:
        """The metres in whole [mm], to the side that keeps a diver safe."""
        return {
            "mod_mm": round(round_down(self.mod_agreed_m, 0.001) * 1000.0),
            "mod_high_mm": round(round_down(self.mod_high_m, 0.001) * 1000.0),
            "floor_mm": round(round_up(self.floor_m, 0.001) * 1000.0),
        }


def basis(o2_ppm: Iterable[int], rules: Rules) -> Basis:
    """Return what depths rest on: the richest reading for the MOD, the leanest for the floor.

    Parameters
    ----------
    o2_ppm : iterable of int
        Every valid reading of the gas [ppm].
    rules : Rules
        The station's, with its partial pressures.

    Examples
    --------
    >>> found = basis([181_800, 180_400], Rules())
    >>> found.mod_o2_ppm, found.floor_o2_ppm
    (182000, 180000)
    """
    read = list(o2_ppm)
    both = [*read, *map(printed_ppm, read)]
    return Basis(
        mod_o2_ppm=max(both),
        floor_o2_ppm=min(both),
        agreed_mbar=mbar(rules.agreed_ppo2_bar),
        high_mbar=mbar(rules.high_ppo2_bar),
        floor_mbar=mbar(rules.floor_ppo2_bar),
    )


def depths(rests_on: Basis) -> Depths:
    """Work out the depths of a basis.

    Partial pressures are stated in bar, and 33 ft to an atmosphere would take them for
    atmospheres: 111 ft beside 33 m.  Feet are never beyond the whole metres beside them.

    Examples
    --------
    >>> found = depths(basis([320_000], Rules()))
    >>> round(found.mod_agreed_m, 3), round(found.mod_agreed_ft, 1)
    (33.75, 108.3)
    """
    o2 = [fraction(rests_on.mod_o2_ppm), fraction(rests_on.floor_o2_ppm)]
    agreed, second = bar(rests_on.agreed_mbar), bar(rests_on.high_mbar)
    usual = limits_from_readings(o2, agreed, floor_ppo2=bar(rests_on.floor_mbar))
    high = limits_from_readings(o2, second)
    found = Depths(
        agreed_ppo2_bar=agreed,
        mod_agreed_m=usual["mod_m"],
        mod_agreed_ft=usual["mod_ft"],
        high_ppo2_bar=second,
        mod_high_m=high["mod_m"],
        mod_high_ft=high["mod_ft"],
        floor_m=usual["floor_m"],
        floor_ft=usual["floor_ft"],
    )
    return _in_feet(found) if rests_on.feet_of_metres else found


def _in_feet(found: Depths) -> Depths:
    return replace(
        found,
        mod_agreed_ft=min(found.mod_agreed_ft, m_to_ft(shallower(found.mod_agreed_m))),
        mod_high_ft=min(found.mod_high_ft, m_to_ft(shallower(found.mod_high_m))),
        floor_ft=max(found.floor_ft, m_to_ft(deeper(found.floor_m))),
    )


def signed_basis(label: Mapping[str, Any], standing: Sequence[AnalysisRow]) -> Basis:
    """Return what the depths of a signed statement rest on.

    Statements of the first format do not say: they were worked out from the readings
    themselves, at the usual partial pressures, and are printed again as they were then.
    """
    if all(name in label for name in SIGNED):
        signed = {name: label[name] for name in SIGNED}
        return Basis(**signed, feet_of_metres=label.get("feet_of_metres", 0))
    read = [row.o2_ppm for row in standing]
    return Basis(max(read), min(read), 1400, 1600, 180, feet_of_metres=0)


def another_reading(
    label: Mapping[str, Any], standing: Sequence[AnalysisRow]
) -> AnalysisRow | None:
    """Return the reading a MOD rests on, where that is not the one a label prints large."""
    richest = max(standing, key=lambda row: row.o2_ppm)
    return richest if printed_ppm(richest.o2_ppm) > printed_ppm(label["o2_ppm"]) else None
