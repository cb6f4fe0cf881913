"""One mixture, one state at a time, in plain Python: what planning a fill asks for."""

from __future__ import annotations

from collections.abc import Sequence

from blender.errors import ModelRangeError
from blender.realgas.coefficients import coefficients as model_coefficients
from blender.realgas.idealgas import ideal_internal_energy, ideal_isochoric_heat_capacity
from blender.realgas.limits import (
    DENSITY_ALLOWED,
    LIMIT_SLACK,
    MAX_PRESSURE_PA,
    check_density,
    check_pressure,
    check_temperature,
    checked_fractions,
)
from blender.realgas.onestate import (
    Isothermal,
    compressibility_alone,
    group_coefficients,
    isothermal,
    residual_sum,
    solve,
)
from blender.realgas.pairs import PUBLISHED, reducing_functions

_KEPT_TEMPERATURES = 16


class Mixture:
    """One mixture of O2, He, N2 and Ar under GERG-2008.

    Range: 230 to 500 K, 0 to 500 bar, gas phase (all such states are supercritical).
    Source: O. Kunz, W. Wagner, J. Chem. Eng. Data 57 (2012) 3032-3091.

    Parameters
    ----------
    fractions : sequence of float, shape (4,)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Raises
    ------
    ModelRangeError
        If the fractions are not four non-negative numbers that sum to 1.
    InputError
        If there is no such set.

    Examples
    --------
    >>> air = Mixture((0.20946, 0.0, 0.78120, 0.00934))
    >>> round(air.compressibility(293.15, 232e5), 5)
    1.04844
    """

    def __init__(self, fractions: Sequence[float], pairs: str = PUBLISHED) -> None:
        self.fractions = checked_fractions(fractions)
        self.pairs = pairs
        temperature, volume = reducing_functions(pairs)
        self.reducing_temperature_k = temperature(self.fractions)
        self.reducing_density_mol_m3 = 1.0 / volume(self.fractions)
        self._kept: dict[float, Isothermal] = {}
        self._gas_constant = model_coefficients().gas_constant

    @property
    def molar_mass_kg_mol(self) -> float:
        """Molar mass of the mixture [kg/mol]."""
        fluids = model_coefficients().fluids
        return sum(x * f.molar_mass_kg_mol for x, f in zip(self.fractions, fluids, strict=True))

    def pressure(self, temperature_k: float, density_mol_m3: float) -> float:
        """Absolute pressure of a state [Pa]; explicit, nothing is solved.

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.
        density_mol_m3 : float
            Molar density [mol/m3], 0 up to that at 500 bar.

        Returns
        -------
        float
            Absolute pressure [Pa].

        Raises
        ------
        ModelRangeError
            If the state is out of range.

        Examples
        --------
        >>> nitrogen = Mixture((0.0, 0.0, 1.0, 0.0))
        >>> round(nitrogen.pressure(350.0, 6355.2) / 1e5, 1)
        200.0
        """
        check_temperature(temperature_k)
        check_density(density_mol_m3)
        delta = density_mol_m3 / self.reducing_density_mol_m3
        z = compressibility_alone(self._at(temperature_k).coefficients, delta)
        pressure_pa = z * density_mol_m3 * self._gas_constant * temperature_k
        if not pressure_pa <= MAX_PRESSURE_PA * LIMIT_SLACK:
            raise ModelRangeError("density", f"{density_mol_m3} mol/m3", DENSITY_ALLOWED)
        return pressure_pa

    def density(self, temperature_k: float, pressure_pa: float) -> float:
        """Molar density of a state [mol/m3], by Halley's method inside a bracket.

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.
        pressure_pa : float
            Absolute pressure [Pa], 0 to 500e5; zero gives zero.

        Returns
        -------
        float
            Molar density [mol/m3].

        Raises
        ------
        ModelRangeError
            If the state is out of range.

        Examples
        --------
        >>> nitrogen = Mixture((0.0, 0.0, 1.0, 0.0))
        >>> round(nitrogen.density(350.0, 200e5), 1)
        6355.3
        """
        check_temperature(temperature_k)
        check_pressure(pressure_pa)
        ideal_mol_m3 = pressure_pa / (self._gas_constant * temperature_k)
        ideal_delta = ideal_mol_m3 / self.reducing_density_mol_m3
        return ideal_mol_m3 * solve(self._at(temperature_k), ideal_delta)

    def compressibility(self, temperature_k: float, pressure_pa: float) -> float:
        """Compressibility factor Z = P / (rho R T) [1].

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.
        pressure_pa : float
            Absolute pressure [Pa], 0 to 500e5.

        Returns
        -------
        float
            Compressibility factor [1].

        Raises
        ------
        ModelRangeError
            If the state is out of range.

        Examples
        --------
        >>> round(Mixture((1.0, 0.0, 0.0, 0.0)).compressibility(293.15, 200e5), 5)
        0.93902
        """
        check_temperature(temperature_k)
        check_pressure(pressure_pa)
        ideal_mol_m3 = pressure_pa / (self._gas_constant * temperature_k)
        return 1.0 / solve(self._at(temperature_k), ideal_mol_m3 / self.reducing_density_mol_m3)

    def second_virial(self, temperature_k: float) -> float:
        """Second virial coefficient B in Z = 1 + B rho + C rho^2 + ... [m3/mol].

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.

        Returns
        -------
        float
            Second virial coefficient [m3/mol].

        Raises
        ------
        ModelRangeError
            If the temperature is out of range.

        Examples
        --------
        >>> round(Mixture((0.0, 1.0, 0.0, 0.0)).second_virial(300.0) * 1e6, 2)
        11.95
        """
        check_temperature(temperature_k)
        return self._at(temperature_k).b / self.reducing_density_mol_m3

    def internal_energy(self, temperature_k: float, density_mol_m3: float) -> float:
        """Molar internal energy [J/mol]; its zero is a convention, differences have meaning.

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.
        density_mol_m3 : float
            Molar density [mol/m3], 0 up to that at 500 bar.

        Returns
        -------
        float
            Internal energy [J/mol].

        Raises
        ------
        ModelRangeError
            If the state is out of range.

        Examples
        --------
        >>> argon = Mixture((0.0, 0.0, 0.0, 1.0))
        >>> round(argon.internal_energy(301.0, 0.0) - argon.internal_energy(300.0, 0.0), 3)
        12.472
        """
        self.pressure(temperature_k, density_mol_m3)  # the range check
        rt = self._gas_constant * temperature_k
        slope = self._tau_derivative(temperature_k, density_mol_m3, 1)
        return float(ideal_internal_energy(temperature_k, self.fractions)) + rt * slope

    def enthalpy(self, temperature_k: float, density_mol_m3: float) -> float:
        """Molar enthalpy [J/mol]; its zero is a convention, differences have meaning.

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.
        density_mol_m3 : float
            Molar density [mol/m3], 0 up to that at 500 bar.

        Returns
        -------
        float
            Enthalpy [J/mol].

        Raises
        ------
        ModelRangeError
            If the state is out of range.

        Examples
        --------
        >>> argon = Mixture((0.0, 0.0, 0.0, 1.0))
        >>> round(argon.enthalpy(301.0, 0.0) - argon.enthalpy(300.0, 0.0), 3)
        20.786
        """
        energy = self.internal_energy(temperature_k, density_mol_m3)
        if density_mol_m3 == 0.0:
            return energy + self._gas_constant * temperature_k
        return energy + self.pressure(temperature_k, density_mol_m3) / density_mol_m3

    def isochoric_heat_capacity(self, temperature_k: float, density_mol_m3: float) -> float:
        """Molar heat capacity at constant volume [J/(mol K)].

        Parameters
        ----------
        temperature_k : float
            Temperature [K], 230 to 500.
        density_mol_m3 : float
            Molar density [mol/m3], 0 up to that at 500 bar.

        Returns
        -------
        float
            Heat capacity [J/(mol K)].

        Raises
        ------
        ModelRangeError
            If the state is out of range.

        Examples
        --------
        >>> round(Mixture((0.0, 1.0, 0.0, 0.0)).isochoric_heat_capacity(300.0, 0.0), 3)
        12.472
        """
        self.pressure(temperature_k, density_mol_m3)  # the range check
        curvature = self._tau_derivative(temperature_k, density_mol_m3, 2)
        ideal = float(ideal_isochoric_heat_capacity(temperature_k, self.fractions))
        return ideal - self._gas_constant * curvature

    def _at(self, temperature_k: float) -> Isothermal:
        """The group coefficients at a temperature; those of the last few are kept."""
        at = self._kept.get(temperature_k)
        if at is None:
            if len(self._kept) >= _KEPT_TEMPERATURES:
                self._kept = {}
            tau = self.reducing_temperature_k / temperature_k
            at = isothermal(group_coefficients(tau, self.fractions))
            self._kept[temperature_k] = at
        return at

    def _tau_derivative(self, temperature_k: float, density_mol_m3: float, order: int) -> float:
        """Return tau alpha_tau (order 1) or tau^2 alpha_tautau (order 2), residual part [1]."""
        tau = self.reducing_temperature_k / temperature_k
        coefficients = group_coefficients(tau, self.fractions, order)
        return residual_sum(coefficients, density_mol_m3 / self.reducing_density_mol_m3)
