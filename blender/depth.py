"""What a gas allows under water: MOD, floor, EAD, END, MND, best mix, density, exposure.

Every function takes the column of water it counts in (see `blender.atmosphere`), so the
handbook's metres, the handbook's feet and true pressure are one formula each.  Figures
are unrounded; `blender.rounding` takes them to the safe side.
"""

from __future__ import annotations

from collections.abc import Sequence

from blender.atmosphere import HANDBOOK, Place, WaterColumn
from blender.errors import InputError
from blender.exposure import exposure_limits_min
from blender.gas import AIR_N2, AIR_O2, Mix
from blender.rounding import RELATIVE_TOLERANCE, deeper, shallower
from blender.units import GAS_CONSTANT_J_MOL_K, M_PER_FT, PA_PER_BAR, ZERO_C_K

Figure = float | int | str | bool | None

DEFAULT_PPO2, DEFAULT_FLOOR_PPO2 = 1.4, 0.18
MIN_PPO2, MAX_PPO2 = 0.2, 1.6
WORKING_PPO2 = 1.4  # NOAA's working limit since 2015
MIN_BREATHABLE_O2 = 0.005
MAX_DEPTH_M = 350.0
NARCOTIC_LIMIT = {"m": 30.0, "ft": 100.0}
AIR_NITROGEN = 0.79  # of the handbooks' EAD and END; argon counts as nitrogen
RECOMMENDED_DENSITY_G_L, LIMIT_DENSITY_G_L = 5.2, 6.2  # Anthony and Mitchell 2016, from memory
DENSITY_REFERENCE = "0 degC; g/L per bar as an ideal gas at 1 bar"

# Molar masses [g/mol], IUPAC 2021 abridged.  Nitrogen here comes from air and brings its
# carbon dioxide (0.033 % of dry air, IUPAC), which a mix counts as nitrogen.
_AIR_CO2 = 0.00033
_NITROGEN_G_MOL = (28.014 * (AIR_N2 - _AIR_CO2) + 44.009 * _AIR_CO2) / AIR_N2
MOLAR_MASS_G_MOL = (31.998, 4.0026, _NITROGEN_G_MOL, 39.95)  # O2, He, N2, Ar


def require_breathable(gas: Mix, field: str = "gas") -> None:
    """Refuse a gas that nobody may breathe at any depth.

    Parameters
    ----------
    gas : Mix
        The gas.
    field : str
        The field's name, for the error message.

    Raises
    ------
    InputError
        For argon, for helium, and for any gas with less than 0.5 % oxygen.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> require_breathable(AIR)
    """
    if not gas.breathable_kind:
        given = f"argon {gas.ar * 100:.0f} %"
        raise InputError(
            field,
            given,
            "NOT BREATHABLE: it has no maximum depth and is for drysuits alone",
            code="not-breathable",
        )
    if gas.o2 < MIN_BREATHABLE_O2:
        given = f"oxygen {gas.o2 * 100:.3g} %"
        raise InputError(
            field,
            given,
            "NOT BREATHABLE: it has too little oxygen for any depth; give a mix with oxygen",
            code="not-breathable",
        )


def is_air(gas: Mix) -> bool:
    """Whether a mix goes by the name of air.

    Parameters
    ----------
    gas : Mix
        The mix.

    Returns
    -------
    bool
        True within 0.05 % of dry air's oxygen and without helium.

    Examples
    --------
    >>> is_air(Mix(0.20946, 0.0, 0.7812, 0.00934))
    True
    """
    return abs(gas.o2 - AIR_O2) < 0.0005 and gas.he < 0.0005


def mod(gas: Mix, ppo2: float, column: WaterColumn) -> float:
    """Maximum operating depth, (ppO2 / FO2 - 1) k.

    Parameters
    ----------
    gas : Mix
        The gas.
    ppo2 : float
        Highest partial pressure of oxygen allowed [pressure unit of the column].
    column : WaterColumn
        What depths are counted in.

    Returns
    -------
    float
        Depth [depth unit of the column].

    Raises
    ------
    InputError
        If nobody may breathe the gas, or its ppO2 is beyond the limit at the surface.

    Notes
    -----
    Handbook convention with k = 10 msw or 33 fsw: US Navy and NOAA diving manuals.

    Examples
    --------
    >>> from blender.atmosphere import IMPERIAL_HANDBOOK
    >>> from blender.gas import mix
    >>> round(mod(mix(0.32), 1.4, IMPERIAL_HANDBOOK), 2)
    111.38
    """
    require_breathable(gas)
    depth = column.depth(ppo2 / gas.o2)
    if depth < -RELATIVE_TOLERANCE * column.head:
        at_surface = gas.o2 * column.surface
        allowed = f"this gas has a ppO2 of {at_surface:.3g} at the surface; give at least that"
        raise InputError("ppO2", f"{ppo2:g}", allowed)
    return max(depth, 0.0)


def floor(gas: Mix, column: WaterColumn, ppo2: float = DEFAULT_FLOOR_PPO2) -> float:
    """Hypoxic floor: the least depth at which the gas keeps a diver conscious.

    Parameters
    ----------
    gas : Mix
        The gas.
    column : WaterColumn
        What depths are counted in.
    ppo2 : float
        Least partial pressure of oxygen [pressure unit of the column].

    Returns
    -------
    float
        Depth [depth unit of the column]; 0 if the gas may be breathed at the surface.

    Raises
    ------
    InputError
        If nobody may breathe the gas.

    Notes
    -----
    0.18 is common practice; 0.16 is in print too.

    Examples
    --------
    >>> from blender.gas import mix
    >>> round(floor(mix(0.10, 0.70), HANDBOOK.metric), 6)
    8.0
    """
    require_breathable(gas)
    return max(column.depth(ppo2 / gas.o2), 0.0)


def ead(gas: Mix, depth: float, column: WaterColumn) -> float | None:
    """Equivalent air depth of a nitrox, (1 - FO2) / 0.79 (D + k) - k.

    Parameters
    ----------
    gas : Mix
        The gas.
    depth : float
        Depth [depth unit of the column].
    column : WaterColumn
        What depths are counted in.

    Returns
    -------
    float or None
        Depth [depth unit of the column], 0 where air would have to be above the surface;
        the depth itself for air; None for a mix with helium, to which it does not apply.

    Notes
    -----
    Source: US Navy and NOAA diving manuals.  With true pressure the k is the true one and
    the 0.79 stays, which errs to the deep side by 0.07 %.

    Examples
    --------
    >>> from blender.gas import mix
    >>> round(ead(mix(0.36), 27.0, HANDBOOK.metric), 2)
    19.97
    """
    if gas.he >= 0.0005:
        return None
    return _equivalent(gas, 1.0 - gas.o2, depth, column)


def end(gas: Mix, depth: float, column: WaterColumn, oxygen_narcotic: bool = True) -> float:
    """Equivalent narcotic depth: the depth at which air would be as narcotic.

    With oxygen counted (1 - FHe) (D + k) - k, without it FN2 / 0.79 (D + k) - k.

    Parameters
    ----------
    gas : Mix
        The gas; argon counts as nitrogen.
    depth : float
        Depth [depth unit of the column].
    column : WaterColumn
        What depths are counted in.
    oxygen_narcotic : bool
        Which of the two conventions.

    Returns
    -------
    float
        Depth [depth unit of the column], at least 0.

    Notes
    -----
    Both conventions are in print (US Navy, NOAA); neither is a measured thing.

    Examples
    --------
    >>> from blender.gas import mix
    >>> round(end(mix(0.18, 0.45), 60.0, HANDBOOK.metric), 6)
    28.5
    """
    if oxygen_narcotic:
        return max((1.0 - gas.he) * (depth + column.head) - column.head, 0.0)
    return _equivalent(gas, gas.n2 + gas.ar, depth, column)


def _equivalent(gas: Mix, nitrogen: float, depth: float, column: WaterColumn) -> float:
    if is_air(gas):  # 0.7905 / 0.79 would put air at 30 m to 30.03 m
        return depth
    return max(nitrogen / AIR_NITROGEN * (depth + column.head) - column.head, 0.0)


def mnd(gas: Mix, column: WaterColumn, oxygen_narcotic: bool = True) -> float | None:
    """Maximum narcotic depth: where the END reaches 30 m (100 ft).

    Parameters
    ----------
    gas : Mix
        The gas; argon counts as nitrogen.
    column : WaterColumn
        What depths are counted in.
    oxygen_narcotic : bool
        Which convention of the END.

    Returns
    -------
    float or None
        Depth [depth unit of the column]; None if the gas holds nothing narcotic.

    Notes
    -----
    30 m is common practice, no source.

    Examples
    --------
    >>> from blender.gas import mix
    >>> round(mnd(mix(0.18, 0.45), HANDBOOK.metric), 2)
    62.73
    """
    limit = NARCOTIC_LIMIT[column.depth_unit]
    narcotic = (1.0 - gas.he) if oxygen_narcotic else (gas.n2 + gas.ar) / AIR_NITROGEN
    if not oxygen_narcotic and is_air(gas):
        return limit
    if narcotic < 1e-6:
        return None
    return (limit + column.head) / narcotic - column.head


def ppo2_at(gas: Mix, depth: float, column: WaterColumn) -> float:
    """Partial pressure of oxygen at a depth, FO2 P.

    Parameters
    ----------
    gas : Mix
        The gas.
    depth : float
        Depth [depth unit of the column].
    column : WaterColumn
        What depths are counted in.

    Returns
    -------
    float
        Partial pressure [pressure unit of the column].

    Examples
    --------
    >>> from blender.gas import mix
    >>> ppo2_at(mix(0.32), 30.0, HANDBOOK.metric)
    1.28
    """
    return gas.o2 * column.pressure(depth)


def best_o2(ppo2: float, depth: float, column: WaterColumn) -> float:
    """Oxygen of the richest mix for a depth, ppO2 / P.

    Parameters
    ----------
    ppo2 : float
        Highest partial pressure of oxygen allowed [pressure unit of the column].
    depth : float
        Depth [depth unit of the column].
    column : WaterColumn
        What depths are counted in.

    Returns
    -------
    float
        Mole fraction of oxygen [1], at most 1.

    Notes
    -----
    Source: US Navy Diving Manual, the same relation as the MOD.

    Examples
    --------
    >>> best_o2(1.4, 30.0, HANDBOOK.metric)
    0.35
    """
    return min(ppo2 / column.pressure(depth), 1.0)


def density_g_l(gas: Mix, pressure_bar: float, temperature_c: float = 0.0) -> float:
    """Density of the breathed gas, as an ideal gas.

    The published limits, 5.2 and 6.2 g/L, mean 0 degC: keep it when comparing.

    Parameters
    ----------
    gas : Mix
        The gas.
    pressure_bar : float
        Absolute pressure [bar], 0 to about 40.
    temperature_c : float
        Temperature [degC].

    Returns
    -------
    float
        Density [g/L].

    Notes
    -----
    Ideal gas law; limits of Anthony and Mitchell 2016, from memory.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> round(density_g_l(AIR, 1.0), 4)
    1.2754
    """
    molar_mass = sum(x * m for x, m in zip(gas.fractions, MOLAR_MASS_G_MOL, strict=True))
    kelvin = temperature_c + ZERO_C_K
    return molar_mass * pressure_bar * PA_PER_BAR / (GAS_CONSTANT_J_MOL_K * kelvin * 1000.0)


def limits_from_readings(
    o2_readings: Sequence[float],
    ppo2: float = DEFAULT_PPO2,
    where: Place = HANDBOOK,
    floor_ppo2: float = DEFAULT_FLOOR_PPO2,
) -> dict[str, float]:
    """Depth limits of one gas from several valid readings of its oxygen.

    The MOD comes from the highest reading, the floor from the lowest.

    Parameters
    ----------
    o2_readings : sequence of float
        Valid readings as mole fractions [1], at least one.
    ppo2 : float
        Highest partial pressure of oxygen allowed [bar] and [ata].
    where : Place
        The water and surface depths are counted in.
    floor_ppo2 : float
        Least partial pressure of oxygen [bar] and [ata].

    Returns
    -------
    dict
        ``mod_m``, ``mod_ft``, ``floor_m``, ``floor_ft``, unrounded.

    Raises
    ------
    InputError
        If there is no reading, or nobody may breathe such a gas.

    Examples
    --------
    >>> round(limits_from_readings([0.321, 0.318])["mod_m"], 3)
    33.614
    """
    if not o2_readings:
        raise InputError("reading", "none", "at least one valid oxygen reading is needed")
    rich, lean = (Mix(o2, 0.0, 1.0 - o2, 0.0) for o2 in (max(o2_readings), min(o2_readings)))
    return {
        "mod_m": mod(rich, ppo2, where.metric),
        "mod_ft": mod(rich, ppo2, where.imperial),
        "floor_m": floor(lean, where.metric, floor_ppo2),
        "floor_ft": floor(lean, where.imperial, floor_ppo2),
    }


def depth_figures(
    gas: Mix,
    ppo2: float = DEFAULT_PPO2,
    where: Place = HANDBOOK,
    at: tuple[float, str] | None = None,
    oxygen_narcotic: bool = True,
    floor_ppo2: float = DEFAULT_FLOOR_PPO2,
) -> dict[str, Figure]:
    """Every figure of a gas in one dictionary, in metres and in feet.

    Parameters
    ----------
    gas : Mix
        The gas.
    ppo2 : float
        Highest partial pressure of oxygen allowed [bar] and [ata], 0.2 to 1.6.
    where : Place
        The water and surface depths are counted in.
    at : tuple of float and str, or None
        A depth [m] and the unit it was typed in, ``m`` or ``ft``: the handbook's feet and
        metres differ, and the typed unit says which convention ppO2 and density follow.
    oxygen_narcotic : bool
        Which convention of the END.
    floor_ppo2 : float
        Least partial pressure of oxygen [bar] and [ata].

    Returns
    -------
    dict
        Unrounded figures, and beside them the same under ``..._shown`` as whole metres and
        feet rounded to the safe side.  Figures of a depth are None without `at`.

    Raises
    ------
    InputError
        If nobody may breathe the gas, or a value is out of range.

    Examples
    --------
    >>> from blender.gas import mix
    >>> figures = depth_figures(mix(0.32))
    >>> figures["mod_m"], figures["mod_m_shown"], figures["mod_ft_shown"]
    (33.75, 33, 111)
    """
    require_breathable(gas)
    if not MIN_PPO2 <= ppo2 <= MAX_PPO2:
        raise InputError("ppO2", f"{ppo2:g}", f"allowed is {MIN_PPO2} to {MAX_PPO2} bar")
    if at is not None and not 0.0 <= at[0] <= MAX_DEPTH_M:
        raise InputError("at", f"{at[0]:g} m", f"allowed is 0 to {MAX_DEPTH_M:.0f} m")
    figures: dict[str, Figure] = {
        "convention": where.name,
        "surface_bar": where.metric.surface,
        "ppo2": ppo2,
        "floor_ppo2": floor_ppo2,
        "oxygen_narcotic": oxygen_narcotic,
    }
    for column in (where.metric, where.imperial):
        figures |= _limits(gas, ppo2, column, oxygen_narcotic, floor_ppo2)
        figures |= _equivalents(gas, column, at, oxygen_narcotic)
    figures |= _at_depth(gas, ppo2, where, at)
    figures["exposure_at_mod_min"], figures["exposure_24h_at_mod_min"] = exposure_limits_min(ppo2)
    return figures


def _limits(
    gas: Mix, ppo2: float, column: WaterColumn, oxygen_narcotic: bool, floor_ppo2: float
) -> dict[str, Figure]:
    unit = column.depth_unit
    maximum, lowest = mod(gas, ppo2, column), floor(gas, column, floor_ppo2)
    narcotic = mnd(gas, column, oxygen_narcotic)
    return {
        f"mod_{unit}": maximum,
        f"mod_{unit}_shown": shallower(maximum),
        f"floor_{unit}": lowest,
        f"floor_{unit}_shown": deeper(lowest),
        f"mnd_{unit}": narcotic,
        f"mnd_{unit}_shown": None if narcotic is None else shallower(narcotic),
    }


def _equivalents(
    gas: Mix, column: WaterColumn, at: tuple[float, str] | None, oxygen_narcotic: bool
) -> dict[str, Figure]:
    unit = column.depth_unit
    depth = None if at is None else at[0] / (M_PER_FT if unit == "ft" else 1.0)
    air = None if depth is None else ead(gas, depth, column)
    narcotic = None if depth is None else end(gas, depth, column, oxygen_narcotic)
    return {
        f"at_{unit}": depth,
        f"ead_{unit}": air,
        f"ead_{unit}_shown": None if air is None else deeper(air),
        f"end_{unit}": narcotic,
        f"end_{unit}_shown": None if narcotic is None else deeper(narcotic),
    }


def _at_depth(
    gas: Mix, ppo2: float, where: Place, at: tuple[float, str] | None
) -> dict[str, Figure]:
    column = where.imperial if at is not None and at[1] == "ft" else where.metric
    facts: dict[str, Figure] = {
        "ppo2_unit": column.pressure_unit,
        "density_reference": DENSITY_REFERENCE,
    }
    if at is None:
        names = ("ppo2_at", "density_g_l", "best_o2", "exposure_min", "exposure_24h_min")
        return facts | dict.fromkeys(names)
    depth = at[0] / (M_PER_FT if at[1] == "ft" else 1.0)
    oxygen = ppo2_at(gas, depth, column)
    single, day = exposure_limits_min(oxygen)
    return facts | {
        "ppo2_at": oxygen,
        "density_g_l": density_g_l(gas, column.pressure_bar(depth)),
        "best_o2": best_o2(ppo2, depth, column),
        "exposure_min": single,
        "exposure_24h_min": day,
    }
