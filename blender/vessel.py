"""A rigid cylinder: amount of gas in it <-> what its gauge shows at a temperature.

All is counted in moles, which neither a change of temperature nor mixing alters.  A set
of cylinders with an open isolator is one gas space.  Gauge pressure is absolute pressure
less ambient.  The cylinder's own elastic expansion (about 0.4 % of volume at working
pressure) is left out; it belongs to the uncertainty.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache

from blender.errors import InputError
from blender.gas import Mix
from blender.realgas import PUBLISHED, Mixture
from blender.units import STANDARD_AMBIENT_PA, bar_to_pa, c_to_k, pa_to_bar

STANDARD_AMBIENT_BAR = STANDARD_AMBIENT_PA / 1e5
# Standard atomic weights as GERG-2008 uses them (O2, He, N2, Ar) [g/mol].
MOLAR_MASS_G_MOL = (31.9988, 4.002602, 28.0134, 39.948)

_MOST_CALLS = 100
# The same few gases come back at every step of a fill; a mixture is worth keeping.
mixture = lru_cache(maxsize=256)(Mixture)


@dataclass(frozen=True, slots=True)
class Contents:
    """The gas in a rigid gas space.

    Parameters
    ----------
    amounts_mol : tuple of float
        Amounts of O2, He, N2 and Ar [mol].
    volume_m3 : float
        Water capacity of the gas space [m3].
    pairs : str
        Name of the set of pair parameters of the equation of state.

    Examples
    --------
    >>> from blender.gas import parse_gas
    >>> round(contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012).total_mol, 3)
    30.497
    """

    amounts_mol: tuple[float, float, float, float]
    volume_m3: float
    pairs: str = PUBLISHED

    @property
    def total_mol(self) -> float:
        """Amount of all gases together [mol]."""
        return sum(self.amounts_mol)

    @property
    def mix(self) -> Mix:
        """Mole fractions of the gas."""
        total = self.total_mol
        o2, he, n2, ar = self.amounts_mol
        return Mix(o2 / total, he / total, n2 / total, ar / total)

    @property
    def mass_g(self) -> float:
        """Mass of the gas [g]."""
        return sum(n * m for n, m in zip(self.amounts_mol, MOLAR_MASS_G_MOL, strict=True))

    def gauge_bar(self, temperature_c: float, ambient_bar: float = STANDARD_AMBIENT_BAR) -> float:
        """Return what a true gauge shows [bar] with the gas at a temperature [degC].

        Parameters
        ----------
        temperature_c : float
            Temperature of the gas [degC].
        ambient_bar : float
            Ambient (absolute) pressure [bar].

        Returns
        -------
        float
            Gauge pressure [bar].

        Raises
        ------
        ModelRangeError
            If the state is outside the range of the equation of state.
        """
        total = sum(self.amounts_mol)
        o2, he, n2, ar = self.amounts_mol
        state = mixture((o2 / total, he / total, n2 / total, ar / total), self.pairs)
        density = total / self.volume_m3
        return pa_to_bar(state.pressure(c_to_k(temperature_c), density)) - ambient_bar

    def with_gas(self, gas: Mix, amount_mol: float) -> Contents:
        """Return the contents after an amount [mol] of a gas was let in.

        Parameters
        ----------
        gas : Mix
            The gas let in.
        amount_mol : float
            Its amount [mol].

        Returns
        -------
        Contents
            Everything together.
        """
        o2, he, n2, ar = self.amounts_mol
        return Contents(
            (
                o2 + amount_mol * gas.o2,
                he + amount_mol * gas.he,
                n2 + amount_mol * gas.n2,
                ar + amount_mol * gas.ar,
            ),
            self.volume_m3,
            self.pairs,
        )

    def kept(self, fraction: float) -> Contents:
        """Return the contents after mixed gas was let out until a fraction [1] is left.

        Parameters
        ----------
        fraction : float
            What is left [1].

        Returns
        -------
        Contents
            The same mix, less of it.
        """
        o2, he, n2, ar = self.amounts_mol
        left = (o2 * fraction, he * fraction, n2 * fraction, ar * fraction)
        return Contents(left, self.volume_m3, self.pairs)


def amount_for_pressure(
    gas: Mix,
    gauge_bar: float,
    temperature_c: float,
    volume_m3: float,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
    pairs: str = PUBLISHED,
) -> float:
    """Amount of a gas that makes a gauge pressure in a gas space.

    Parameters
    ----------
    gas : Mix
        The gas.
    gauge_bar : float
        Gauge pressure [bar].
    temperature_c : float
        Temperature of the gas [degC].
    volume_m3 : float
        Water capacity [m3].
    ambient_bar : float
        Ambient (absolute) pressure the gauge counts from [bar].
    pairs : str
        Name of the set of pair parameters.

    Returns
    -------
    float
        Amount [mol].

    Raises
    ------
    ModelRangeError
        If the state is outside the range of the equation of state.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> round(amount_for_pressure(AIR, 150.0, 20.0, 0.003), 3)
    18.545
    """
    pressure_pa = bar_to_pa(gauge_bar + ambient_bar)
    return mixture(gas.fractions, pairs).density(c_to_k(temperature_c), pressure_pa) * volume_m3


def contents_at(
    gas: Mix,
    gauge_bar: float,
    temperature_c: float,
    volume_m3: float,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
    pairs: str = PUBLISHED,
) -> Contents:
    """Contents of a gas space from its gas and a gauge reading.

    Parameters
    ----------
    gas : Mix
        The gas in it.
    gauge_bar : float
        Gauge pressure [bar].
    temperature_c : float
        Temperature of the gas at the reading [degC].
    volume_m3 : float
        Water capacity [m3].
    ambient_bar : float
        Ambient (absolute) pressure the gauge counts from [bar].
    pairs : str
        Name of the set of pair parameters.

    Returns
    -------
    Contents
        The amounts.

    Raises
    ------
    ModelRangeError
        If the state is outside the range of the equation of state.

    Examples
    --------
    A 232-bar cylinder read in a shed at 5 degC, warmed to 15 degC:

    >>> from blender.gas import parse_gas
    >>> round(contents_at(parse_gas("EAN32"), 232.0, 5.0, 0.012).gauge_bar(15.0), 3)
    245.179
    """
    total = amount_for_pressure(gas, gauge_bar, temperature_c, volume_m3, ambient_bar, pairs)
    return Contents((0.0, 0.0, 0.0, 0.0), volume_m3, pairs).with_gas(gas, total)


def joined(one: Contents, other: Contents) -> Contents:
    """Contents of two gas spaces opened to each other until the gas has mixed.

    This is an isolator found closed and opened.  It takes time: until both sides have
    been analysed the mix is calculated, not known.

    Parameters
    ----------
    one, other : Contents
        The two sides, at any pressures.

    Returns
    -------
    Contents
        Of the joint gas space.

    Examples
    --------
    >>> from blender.gas import parse_gas
    >>> left = contents_at(parse_gas("18/45"), 220.0, 20.0, 0.012)
    >>> right = contents_at(parse_gas("21/35"), 40.0, 20.0, 0.012)
    >>> round(joined(left, right).gauge_bar(20.0), 2)
    124.85
    """
    o2, he, n2, ar = (a + b for a, b in zip(one.amounts_mol, other.amounts_mol, strict=True))
    return Contents((o2, he, n2, ar), one.volume_m3 + other.volume_m3, one.pairs)


def levelled(one: Contents, other: Contents, temperature_c: float) -> tuple[Contents, Contents]:
    """Two gas spaces on a common whip: gas flows over until the pressures are equal.

    The side of lower pressure takes gas of the other's mix; nothing flows back.

    Parameters
    ----------
    one, other : Contents
        The two sides.
    temperature_c : float
        Temperature of both [degC].

    Returns
    -------
    tuple of Contents
        The two sides afterwards, in the order given.

    Examples
    --------
    >>> from blender.gas import parse_gas
    >>> low = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    >>> high = contents_at(parse_gas("EAN50"), 100.0, 20.0, 0.012)
    >>> low, high = levelled(low, high, 20.0)
    >>> round(low.gauge_bar(20.0), 3), round(low.mix.o2, 5)
    (80.045, 0.33497)
    """
    if one.gauge_bar(temperature_c) > other.gauge_bar(temperature_c):
        lower, higher = levelled(other, one, temperature_c)
        return higher, lower
    gas, total = other.mix, other.total_mol

    def excess(moved_mol: float) -> float:
        lower = one.with_gas(gas, moved_mol)
        higher = other.kept(1.0 - moved_mol / total)
        return lower.gauge_bar(temperature_c) - higher.gauge_bar(temperature_c)

    # At most as much as would fill the lower side to the pressure the higher had.
    most = added_to_reach(one, gas, other.gauge_bar(temperature_c), temperature_c)
    moved = root(excess, 0.0, min(most, 0.999 * total))
    return one.with_gas(gas, moved), other.kept(1.0 - moved / total)


def added_to_reach(
    contents: Contents,
    gas: Mix,
    gauge_bar: float,
    temperature_c: float,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
) -> float:
    """Amount of a known gas that was let in, from what the gauge shows now.

    Parameters
    ----------
    contents : Contents
        What was in before.
    gas : Mix
        The gas let in.
    gauge_bar : float
        Gauge pressure now [bar].
    temperature_c : float
        Temperature of the gas now [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].

    Returns
    -------
    float
        Amount let in [mol].

    Raises
    ------
    InputError
        If the gauge shows less than the contents alone would make.

    Examples
    --------
    >>> from blender.gas import OXYGEN, parse_gas
    >>> start = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    >>> round(added_to_reach(start, OXYGEN, 84.425, 20.0), 3)
    12.664
    """
    return _added(contents, gas, gauge_bar, temperature_c, ambient_bar)


# One reading asks for the same amount three times: for its stop, its entry and what comes next.
@lru_cache(maxsize=64)
def _added(
    contents: Contents, gas: Mix, gauge_bar: float, temperature_c: float, ambient_bar: float
) -> float:
    before = contents.gauge_bar(temperature_c, ambient_bar)
    if gauge_bar < before - 1e-9:
        raise InputError(
            "pressure",
            f"{gauge_bar:.3f} bar",
            f"the gas already in shows {before:.3f} bar at {temperature_c:g} degC; "
            "a lower reading means gas was lost or the reading is wrong",
        )

    @cache  # the far end is looked for, then asked for again
    def excess(amount_mol: float) -> float:
        return contents.with_gas(gas, amount_mol).gauge_bar(temperature_c, ambient_bar) - gauge_bar

    volume, pairs = contents.volume_m3, contents.pairs
    guess = amount_for_pressure(gas, gauge_bar, temperature_c, volume, ambient_bar, pairs)
    high = max(guess - contents.total_mol, 0.01 * guess)
    while excess(high) < 0.0:  # a mixture may take a little more than its parts
        high += 0.02 * guess
    return root(excess, 0.0, high)


@dataclass(frozen=True, slots=True)
class ResumeCheck:
    """What a new reading says about a fill that was left.

    Parameters
    ----------
    expected_bar : float
        What the gauge should show [bar].
    remaining : Contents
        What is in the cylinder if the loss was mixed gas.
    missing_mol : float
        Amount missing [mol]; negative when the gauge shows more than expected.
    missing_fraction : float
        The same as a fraction of what was there [1].
    """

    expected_bar: float
    remaining: Contents
    missing_mol: float
    missing_fraction: float


def resume_check(
    contents: Contents,
    gauge_bar: float,
    temperature_c: float,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
) -> ResumeCheck:
    """Compare a reading with the calculated contents, by amount of gas.

    Parameters
    ----------
    contents : Contents
        What is calculated to be in.
    gauge_bar : float
        Gauge pressure read [bar].
    temperature_c : float
        Temperature of the gas [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].

    Returns
    -------
    ResumeCheck
        Expected gauge and missing amount.

    Examples
    --------
    >>> from blender.gas import OXYGEN, parse_gas
    >>> left = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012).with_gas(OXYGEN, 12.664)
    >>> check = resume_check(left, 78.0, 12.0)
    >>> round(check.expected_bar, 2), round(check.missing_mol, 2)
    (81.58, 1.9)
    """
    now = amount_for_pressure(
        contents.mix, gauge_bar, temperature_c, contents.volume_m3, ambient_bar, contents.pairs
    )
    share = now / contents.total_mol
    return ResumeCheck(
        expected_bar=contents.gauge_bar(temperature_c, ambient_bar),
        remaining=contents.kept(share),
        missing_mol=contents.total_mol - now,
        missing_fraction=1.0 - share,
    )


def root(
    function: Callable[[float], float], low: float, high: float, small: float = 1e-10
) -> float:
    """Zero of an increasing function between two ends.

    Regula falsi as Anderson and Bjorck keep it from stalling: a few calls for the nearly
    straight functions of this module.

    Parameters
    ----------
    function : callable
        The function; not above zero at `low`, not below at `high`.
    low, high : float
        The ends.
    small : float
        A value this small counts as zero; here values are pressures [bar].

    Returns
    -------
    float
        Where it is zero; an end, if the zero lies outside.

    Examples
    --------
    >>> round(root(lambda x: x * x - 2.0, 0.0, 2.0), 9)
    1.414213562
    """
    at_low = function(low)
    if at_low >= 0.0 or high <= low:
        return low
    at_high = function(high)
    if at_high <= 0.0:
        return high
    here, before = low, 0.0
    for _ in range(_MOST_CALLS):
        here = (low * at_high - high * at_low) / (at_high - at_low)
        value = function(here)
        if abs(value) <= small or not low < here < high:
            break
        hold_back = _held_back(value, before) if value * before > 0.0 else 1.0
        if value > 0.0:
            high, at_high, at_low = here, value, at_low * hold_back
        else:
            low, at_low, at_high = here, value, at_high * hold_back
        before = value
    return here


def _held_back(value: float, before: float) -> float:
    """Factor for an end that stays a second time, from the values at the other [1]."""
    factor = 1.0 - value / before
    return factor if factor > 0.0 else 0.5
