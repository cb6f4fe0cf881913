"""Stops for many residuals and mixes at once: a table to hang on the wall.

A stop does not depend on the cylinder's size, so all is counted per cubic metre of water
capacity.  Each cell is the plan of its own request: helium, oxygen and top gas in that order
into as much of the residual as may stay.  With a fraction k of the residual kept, the three
balances of O2, helium and the total make every amount a straight line in k; the largest k that
leaves none negative is the one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blender.errors import InputError
from blender.gas import AIR, HELIUM, OXYGEN, Mix
from blender.realgas import PUBLISHED, batch
from blender.units import bar_to_pa, c_to_k
from blender.vessel import STANDARD_AMBIENT_BAR

Array = NDArray[np.float64]
MOST_CELLS = 20_000
_ROUNDS = 12  # each brings the total about a thousand times nearer
_NOTHING = 1e-10


@dataclass(frozen=True, slots=True)
class WallRequest:
    """What a wall table is made for.

    Parameters
    ----------
    residual : Mix
        What is left in the cylinders.
    residual_bar : tuple of float
        Gauge pressures of the residual, one a row [bar].
    wanted : tuple of Mix
        Mixes wanted, one a column.
    want_bar : float
        Settled gauge pressure wanted [bar].
    oxygen, helium, top : Mix
        The gases let in.
    temperature_c : float
        Temperature of the gas at residual and stops [degC].
    settle_at_c : float
        Temperature at which `want_bar` counts [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    pairs : str
        Name of the set of pair parameters of the equation of state.
    """

    residual: Mix
    residual_bar: tuple[float, ...]
    wanted: tuple[Mix, ...]
    want_bar: float
    oxygen: Mix = OXYGEN
    helium: Mix = HELIUM
    top: Mix = AIR
    temperature_c: float = 20.0
    settle_at_c: float = 20.0
    ambient_bar: float = STANDARD_AMBIENT_BAR
    pairs: str = PUBLISHED

    def __post_init__(self) -> None:
        """Refuse what makes no table."""
        if not self.residual_bar or not self.wanted:
            raise InputError("table", "no cells", "give at least one residual and one mix")
        if len(self.residual_bar) * len(self.wanted) > MOST_CELLS:
            cells = f"{len(self.residual_bar)} x {len(self.wanted)} cells"
            raise InputError("table", cells, f"at most {MOST_CELLS} cells")
        if max(self.residual_bar) > self.want_bar:
            given = f"{max(self.residual_bar):g} bar"
            raise InputError("residuals", given, f"at most the {self.want_bar:g} bar wanted")
        if min(self.residual_bar) < 0.0:
            raise InputError("residuals", f"{min(self.residual_bar):g} bar", "0 bar or more")


@dataclass(frozen=True, slots=True)
class WallTable:
    """Stops by residual (rows) and mix (columns); NaN where there is none.

    Parameters
    ----------
    request : WallRequest
        What it is made for.
    drain_bar, helium_bar, oxygen_bar, final_bar : ndarray, shape (rows, columns)
        Gauge pressures at the request's temperature [bar]: what to drain to (NaN without a
        drain), the stops after helium and after oxygen (NaN where none goes in), and the last.
        A mix that cannot be made is NaN in all four.
    """

    request: WallRequest
    drain_bar: Array
    helium_bar: Array
    oxygen_bar: Array
    final_bar: Array


def wall_table(request: WallRequest) -> WallTable:
    """Stops for every residual and every mix.

    Parameters
    ----------
    request : WallRequest
        What is asked.

    Returns
    -------
    WallTable
        Stops, cell by cell the same as a plan by partial pressure with those three gases.

    Raises
    ------
    ModelRangeError
        If a stop is outside the range of the equation of state.

    Notes
    -----
    Range: that of the equation of state.  Source of the densities: GERG-2008.

    Examples
    --------
    >>> from blender.gas import parse_gas
    >>> table = wall_table(
    ...     WallRequest(parse_gas("EAN28"), (60.0,), (parse_gas("EAN32"),), 230.0)
    ... )
    >>> round(float(table.oxygen_bar[0, 0]), 3)
    84.425
    """
    cells = _Cells(request)
    kept, added = cells.settled()
    shape = (len(request.residual_bar), len(request.wanted))
    possible = ~np.isnan(kept)
    after = [cells.residual(kept)]
    for amounts, gas in zip(added, (request.helium, request.oxygen, request.top), strict=True):
        after.append(after[-1] + amounts[:, None] * _row(gas))
    stops = [cells.gauge_bar(state, possible) for state in after]

    def where(bar: Array, shown: NDArray[np.bool_]) -> Array:
        return np.where(shown & possible, bar, np.nan).reshape(shape)

    enough = _NOTHING * cells.total
    return WallTable(
        request,
        drain_bar=where(stops[0], kept < 1.0 - _NOTHING),
        helium_bar=where(stops[1], added[0] > enough),
        oxygen_bar=where(stops[2], added[1] > enough),
        final_bar=where(stops[3], possible),
    )


class _Cells:
    """Every cell of a table as one row of arrays, per cubic metre of water capacity."""

    def __init__(self, request: WallRequest) -> None:
        rows, columns = len(request.residual_bar), len(request.wanted)
        self.request = request
        bar = np.repeat(np.asarray(request.residual_bar), columns)
        self.wanted = np.tile(np.array([gas.fractions for gas in request.wanted]), (rows, 1))
        left = _row(request.residual)
        self._left_mol = self._density(bar, request.temperature_c, np.tile(left, (len(bar), 1)))
        zero = self._density(np.zeros(1), request.temperature_c, left[None, :])
        self._least_kept = np.minimum(zero / self._left_mol, 1.0)
        self.total = self._density(
            np.full(len(bar), request.want_bar), request.settle_at_c, self.wanted
        )

    def settled(self) -> tuple[Array, Array]:
        """Return the fraction kept [1] and the amounts of helium, oxygen, top [mol/m3].

        The total depends on the mix by its argon, and the mix on the total: a few rounds.
        """
        request = self.request
        gases = np.array([_row(gas) for gas in (request.helium, request.oxygen, request.top)])
        for _ in range(_ROUNDS):
            kept, added = self._amounts()
            holds = self.residual(kept) + np.einsum("gn,gf->nf", added, gases)
            mixes = np.where(np.isnan(kept)[:, None], self.wanted, holds / holds.sum(1)[:, None])
            before = self.total
            bar = np.full(len(before), request.want_bar)
            self.total = self._density(bar, request.settle_at_c, mixes)
            if np.max(np.abs(self.total - before) / before) < 1e-13:
                break
        return kept, added

    def _amounts(self) -> tuple[Array, Array]:
        """Solve the balances for the largest fraction kept."""
        request, total = self.request, self.total
        balances = np.array(
            [[gas.o2, gas.he, 1.0] for gas in (request.helium, request.oxygen, request.top)]
        ).T
        inverse = _inverse(balances)
        target = np.stack([total * self.wanted[:, 0], total * self.wanted[:, 1], total])
        held = np.outer([request.residual.o2, request.residual.he, 1.0], self._left_mol)
        slack = _NOTHING * total
        at_none, fall = (_rounded(inverse @ sums, slack) for sums in (target, held))
        with np.errstate(divide="ignore", invalid="ignore"):  # amounts are at_none - k fall
            bound = np.where(fall > 0.0, at_none / fall, np.inf)
            least = np.where(fall < 0.0, at_none / fall, -np.inf)
        kept = np.minimum(1.0, bound.min(axis=0))
        lowest = np.maximum(self._least_kept, least.max(axis=0))
        blocked = ((fall == 0.0) & (at_none < -slack)).any(axis=0)
        kept = np.where((kept < lowest - _NOTHING) | blocked, np.nan, kept)
        return kept, np.where(np.isnan(kept), 0.0, np.maximum(at_none - kept * fall, 0.0))

    def residual(self, kept: Array) -> Array:
        """Return what is left of the residual, shape (cells, 4) [mol/m3]."""
        left = np.where(np.isnan(kept), 1.0, kept) * self._left_mol
        return left[:, None] * _row(self.request.residual)

    def gauge_bar(self, holds: Array, possible: NDArray[np.bool_]) -> Array:
        """Return the gauge pressure of each cell that is possible [bar], else NaN."""
        request, bar = self.request, np.full(len(holds), np.nan)
        if possible.any():
            density = holds[possible].sum(axis=1)
            pressure = batch.pressure(
                c_to_k(request.temperature_c), density, holds[possible] / density[:, None],
                request.pairs,
            )  # fmt: skip
            bar[possible] = pressure / bar_to_pa(1.0) - request.ambient_bar
        return bar

    def _density(self, gauge_bar: Array, temperature_c: float, mixes: Array) -> Array:
        pressure = (gauge_bar + self.request.ambient_bar) * bar_to_pa(1.0)
        return batch.density(c_to_k(temperature_c), pressure, mixes, self.request.pairs)


def _rounded(amounts: Array, nothing: Array) -> Array:
    """Return amounts with those that are rounding and nothing else made zero."""
    return np.where(np.abs(amounts) <= nothing, 0.0, amounts)


def _inverse(balances: Array) -> Array:
    """Return the amounts' dependence on the balances; two gases alike make no mix."""
    if abs(np.linalg.det(balances)) < 1e-9:
        raise InputError("gases", "too alike", "oxygen, helium and top gas must differ")
    return np.asarray(np.linalg.inv(balances))


def _row(gas: Mix) -> Array:
    return np.array(gas.fractions)
