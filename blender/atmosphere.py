"""Pressure above and below the surface: the standard atmosphere and the column of water."""

from __future__ import annotations

from dataclasses import dataclass

from blender.errors import InputError
from blender.units import M_PER_FT, PA_PER_ATM, PA_PER_BAR, STANDARD_AMBIENT_PA

G_M_S2 = 9.80665
# ISO 2533 (identical with ICAO Doc 7488 below 32 km): sea level and the lowest layer.
EARTH_RADIUS_M = 6_356_766.0
SEA_LEVEL_K = 288.15
LAPSE_K_M = 0.0065
AIR_CONSTANT_J_KG_K = 287.05287
MIN_ALTITUDE_M, MAX_ALTITUDE_M = -450.0, 5000.0

# Densities [kg/m3]; EN 13319 is the convention of depth gauges.
WATER_KG_M3 = {"salt": 1030.0, "fresh": 1000.0, "en13319": 1019.7}


def geopotential_m(altitude_m: float) -> float:
    """Convert a geometric altitude to the geopotential one, H = r h / (r + h).

    Parameters
    ----------
    altitude_m : float
        Height above mean sea level [m].

    Returns
    -------
    float
        Geopotential altitude [m].

    Notes
    -----
    Source: ISO 2533, Standard Atmosphere, with r = 6 356 766 m.

    Examples
    --------
    >>> round(geopotential_m(1000.0), 2)
    999.84
    """
    return EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)


def standard_pressure_pa(height_m: float) -> float:
    """Pressure of the standard atmosphere at a geopotential altitude.

    p = p0 (1 - L H / T0) ** (g / (R L)).

    Parameters
    ----------
    height_m : float
        Geopotential altitude [m].

    Returns
    -------
    float
        Pressure [Pa].

    Raises
    ------
    InputError
        If the altitude is outside the layer the formula holds in, -5 000 to 11 000 m.

    Notes
    -----
    Source: ISO 2533, Standard Atmosphere, lowest layer.

    Examples
    --------
    >>> round(standard_pressure_pa(11_000.0), 1)
    22632.0
    """
    if not -5000.0 <= height_m <= 11_000.0:
        raise InputError("altitude", f"{height_m:g} m", "the formula holds -5000 to 11000 m")
    ratio = 1.0 - LAPSE_K_M * height_m / SEA_LEVEL_K
    return STANDARD_AMBIENT_PA * float(ratio ** (G_M_S2 / (AIR_CONSTANT_J_KG_K * LAPSE_K_M)))


def ambient_pa(altitude_m: float) -> float:
    """Ambient pressure the standard atmosphere has at a place.

    The weather moves the true pressure by some 3 % either way: a barometer, where there
    is one, is better.

    Parameters
    ----------
    altitude_m : float
        Height above mean sea level [m], -5 000 to 11 000.

    Returns
    -------
    float
        Pressure [Pa].

    Raises
    ------
    InputError
        If the altitude is outside the range.

    Examples
    --------
    >>> round(ambient_pa(2000.0), 1)
    79501.4
    """
    return standard_pressure_pa(geopotential_m(altitude_m))


@dataclass(frozen=True, slots=True)
class WaterColumn:
    """How absolute pressure grows with depth, in one pair of units.

    Parameters
    ----------
    depth_unit, pressure_unit : str
        The units: ``m`` or ``ft``, ``bar`` or ``ata``.
    surface : float
        Absolute pressure at the surface [pressure_unit].
    head : float
        Depth of water that weighs as much as the surface pressure [depth_unit]; the k of
        the handbooks' formulas.
    unit_bar : float
        One pressure unit in bar [bar].

    Examples
    --------
    >>> METRIC_HANDBOOK.pressure(30.0), IMPERIAL_HANDBOOK.pressure(132.0)
    (4.0, 5.0)
    """

    depth_unit: str
    pressure_unit: str
    surface: float
    head: float
    unit_bar: float

    def pressure(self, depth: float) -> float:
        """Absolute pressure [pressure_unit] at a depth [depth_unit]."""
        return self.surface * (depth + self.head) / self.head

    def depth(self, pressure: float) -> float:
        """Depth [depth_unit] of an absolute pressure [pressure_unit]; negative in the air."""
        return (pressure / self.surface - 1.0) * self.head

    def pressure_bar(self, depth: float) -> float:
        """Absolute pressure [bar] at a depth [depth_unit]."""
        return self.pressure(depth) * self.unit_bar


METRIC_HANDBOOK = WaterColumn("m", "bar", 1.0, 10.0, 1.0)
IMPERIAL_HANDBOOK = WaterColumn("ft", "ata", 1.0, 33.0, PA_PER_ATM / PA_PER_BAR)


@dataclass(frozen=True, slots=True)
class Place:
    """The water and surface pressure that depths are counted in, in both unit systems.

    Parameters
    ----------
    name : str
        What is assumed, in words for the person who reads the figures.
    metric, imperial : WaterColumn
        The column in metres and in feet.

    Examples
    --------
    >>> HANDBOOK.metric.head, HANDBOOK.imperial.head
    (10.0, 33.0)
    """

    name: str
    metric: WaterColumn
    imperial: WaterColumn


HANDBOOK = Place(
    "handbook: 10 m of sea water = 1 bar on 1 bar; 33 ft = 1 atm on 1 atm",
    METRIC_HANDBOOK,
    IMPERIAL_HANDBOOK,
)


def true_place(surface_pa: float, density_kg_m3: float, name: str = "") -> Place:
    """Return the place with true absolute pressure, p = p0 + rho g d.

    Parameters
    ----------
    surface_pa : float
        Absolute pressure at the surface [Pa].
    density_kg_m3 : float
        Density of the water [kg/m3].
    name : str
        What is assumed, in words; made from the figures if left out.

    Returns
    -------
    Place
        Columns in metres and in feet, both with pressures in bar.

    Raises
    ------
    InputError
        If the surface pressure or the density is not that of any dive site.

    Examples
    --------
    >>> lake = true_place(79_500.0, 1000.0)
    >>> round(lake.metric.depth(1.4 / 0.32), 2)
    36.51
    """
    if not 40_000.0 <= surface_pa <= 120_000.0:
        raise InputError("surface pressure", f"{surface_pa:g} Pa", "allowed is 40000 to 120000 Pa")
    if not 990.0 <= density_kg_m3 <= 1300.0:
        raise InputError("water density", f"{density_kg_m3:g}", "allowed is 990 to 1300 kg/m3")
    surface = surface_pa / PA_PER_BAR
    head_m = surface_pa / (density_kg_m3 * G_M_S2)
    words = name or f"water {density_kg_m3:g} kg/m3, surface {surface * 1000:.0f} mbar"
    return Place(
        words,
        WaterColumn("m", "bar", surface, head_m, 1.0),
        WaterColumn("ft", "bar", surface, head_m / M_PER_FT, 1.0),
    )


def place(water: str | None, altitude_m: float | None) -> Place:
    """Return the handbook place, or the true one if water or altitude is given.

    Altitude without water counts as salt: the heavier water makes the MOD the shallower.

    Parameters
    ----------
    water : str or None
        ``salt``, ``fresh`` or ``en13319``.
    altitude_m : float or None
        Height of the surface above mean sea level [m], -450 to 5000.

    Returns
    -------
    Place
        The columns to count depths with.

    Raises
    ------
    InputError
        If the water is not known or the altitude is out of range.

    Examples
    --------
    >>> place("salt", None).name
    'salt water 1030 kg/m3, surface 1013 mbar'
    """
    if water is None and altitude_m is None:
        return HANDBOOK
    kind = water or "salt"
    if kind not in WATER_KG_M3:
        raise InputError("water", repr(water), "allowed are salt, fresh and en13319")
    height = altitude_m or 0.0
    if not MIN_ALTITUDE_M <= height <= MAX_ALTITUDE_M:
        raise InputError("altitude", f"{height:g} m", "allowed is -450 to 5000 m")
    surface_pa, density = ambient_pa(height), WATER_KG_M3[kind]
    where = f" at {height:g} m altitude" if height else ""
    name = f"{kind} water {density:g} kg/m3, surface {surface_pa / 100:.0f} mbar{where}"
    return true_place(surface_pa, density, name)
