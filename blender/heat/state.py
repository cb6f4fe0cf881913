"""A cylinder with its gas and its metal at temperatures of their own."""

from __future__ import annotations

from dataclasses import dataclass

from blender.units import STANDARD_AMBIENT_PA, k_to_c, pa_to_bar
from blender.vessel import Contents, mixture

STANDARD_AMBIENT_BAR = STANDARD_AMBIENT_PA / 1e5
# Heat capacity of a mole at constant volume, roughly (air 21, helium 12.5) [J/(mol K)]: a scale.
ROUGHLY_J_MOL_K = 20.0


@dataclass(frozen=True, slots=True)
class Warm:
    """A cylinder at one moment.

    Parameters
    ----------
    contents : Contents
        The gas in it; it is taken as mixed.
    gas_k, wall_k : float
        Temperatures of gas and metal [K].
    seconds : float
        Time since the fill began [s].

    Examples
    --------
    >>> from blender.gas import AIR
    >>> from blender.vessel import contents_at
    >>> Warm(contents_at(AIR, 60.0, 20.0, 0.012), 293.15, 293.15).gauge_bar().__round__(6)
    60.0
    """

    contents: Contents
    gas_k: float
    wall_k: float
    seconds: float = 0.0

    @property
    def pressure_pa(self) -> float:
        """Absolute pressure [Pa]."""
        return pressure_and_energy(self.contents, self.gas_k)[0]

    @property
    def energy_j(self) -> float:
        """Internal energy of the gas [J]; differences have meaning."""
        return pressure_and_energy(self.contents, self.gas_k)[1]

    @property
    def roughly_j_k(self) -> float:
        """Heat capacity of the gas, within a factor of two [J/K]: a scale for solvers."""
        return ROUGHLY_J_MOL_K * self.contents.total_mol

    @property
    def gas_c(self) -> float:
        """Temperature of the gas [degC]."""
        return k_to_c(self.gas_k)

    @property
    def wall_c(self) -> float:
        """Temperature of the metal [degC]."""
        return k_to_c(self.wall_k)

    def gauge_bar(self, ambient_bar: float = STANDARD_AMBIENT_BAR) -> float:
        """Return what a true gauge shows now [bar], over an ambient pressure [bar]."""
        return pa_to_bar(self.pressure_pa) - ambient_bar


def pressure_and_energy(contents: Contents, gas_k: float) -> tuple[float, float]:
    """Return absolute pressure [Pa] and internal energy [J] of a gas at a temperature.

    Parameters
    ----------
    contents : Contents
        The gas.
    gas_k : float
        Its temperature [K], 230 to 500.

    Returns
    -------
    tuple of float
        Absolute pressure [Pa] and internal energy [J]; differences of energy have meaning.

    Raises
    ------
    ModelRangeError
        If the state is out of range.

    Examples
    --------
    >>> from blender.gas import HELIUM
    >>> from blender.vessel import contents_at
    >>> helium = contents_at(HELIUM, 0.0, 20.0, 0.012)
    >>> warm, cold = (pressure_and_energy(helium, t)[1] for t in (303.15, 293.15))
    >>> round((warm - cold) / helium.total_mol, 1)  # 10 K of 3/2 R
    124.7
    """
    state = mixture(contents.mix.fractions, contents.pairs)
    density = contents.total_mol / contents.volume_m3
    energy_j = contents.total_mol * state.internal_energy(gas_k, density)
    return state.pressure(gas_k, density), energy_j
