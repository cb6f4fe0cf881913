"""The coefficients of GERG-2008 for O2, He, N2 and Ar, read once from the data file.

The data file carries the provenance; nothing here or elsewhere repeats a number of it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

# The order of fractions at every door of this package; the data file has its own.
FLUIDS = ("O2", "He", "N2", "Ar")
COEFFICIENT_FILE = "gerg2008.json"


@dataclass(frozen=True, slots=True)
class Term:
    """One term n delta^d tau^t exp(-delta^c) of a residual Helmholtz energy; c = 0: no exp."""

    n: float
    t: float
    d: int
    c: int


@dataclass(frozen=True, slots=True)
class IdealGas:
    """Ideal-gas heat capacity: cp/R = constant + sum of n (theta/T)^2 / kind(theta/T)^2.

    `enthalpy_offset_k` fixes the zero of the enthalpy [K]; differences do not depend on it.
    """

    cp_over_r: float
    enthalpy_offset_k: float
    sinh_terms: tuple[tuple[float, float], ...]
    cosh_terms: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Fluid:
    """One pure gas: critical point [K], [mol/m3], molar mass [kg/mol] and its equation."""

    name: str
    critical_temperature_k: float
    critical_density_mol_m3: float
    molar_mass_kg_mol: float
    terms: tuple[Term, ...]
    ideal: IdealGas


@dataclass(frozen=True, slots=True)
class Coefficients:
    """The gas constants [J/(mol K)] and the four gases in the order of `FLUIDS`.

    The ideal part was fitted with the gas constant of its day and keeps it.
    """

    gas_constant: float
    ideal_gas_constant: float
    fluids: tuple[Fluid, ...]
    provenance: str


@cache
def read_data(name: str) -> Any:  # JSON has no narrower type
    """Return a data file of this package, decoded; each is read once."""
    return json.loads(files("blender.realgas").joinpath("data", name).read_text("utf-8"))


@cache
def coefficients() -> Coefficients:
    """Return the coefficients of the four gases.

    Returns
    -------
    Coefficients
        Gas constants, gases in the order O2, He, N2, Ar, and where they were taken from.

    Examples
    --------
    >>> [fluid.name for fluid in coefficients().fluids]
    ['O2', 'He', 'N2', 'Ar']
    """
    data = read_data(COEFFICIENT_FILE)
    fluids = tuple(_fluid(name, data["fluids"][name]) for name in FLUIDS)
    return Coefficients(data["R"], data["R_ideal_part"], fluids, data["provenance"])


def _fluid(name: str, raw: dict[str, Any]) -> Fluid:
    columns = zip(raw["n"], raw["t"], raw["d"], raw["c"], strict=True)
    return Fluid(
        name=name,
        critical_temperature_k=raw["Tc"],
        critical_density_mol_m3=raw["rhoc"] * 1e3,  # the file has mol/L
        molar_mass_kg_mol=raw["M"] * 1e-3,  # and g/mol
        terms=tuple(Term(n, t, d, c) for n, t, d, c in columns),
        ideal=_ideal(raw["ideal"]),
    )


def _ideal(raw: dict[str, Any]) -> IdealGas:
    def of_kind(kind: str) -> tuple[tuple[float, float], ...]:
        return tuple((term["n"], term["theta_K"]) for term in raw["terms"] if term["kind"] == kind)

    return IdealGas(raw["cp0_over_R_constant"], raw["n2_K"], of_kind("sinh"), of_kind("cosh"))
