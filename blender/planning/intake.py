"""What goes into a compressor's intake, and what to set and watch there while it does.

Air is drawn in, oxygen is injected into it, and helium too if that was asked for.  Water comes
with the air only, what is injected is dry.  The compressor's rated intake is compared with the
dry fraction delivered; a meter in the damp stream reads less.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from blender.gas import HELIUM, Mix
from blender.planning.request import PlanRequest
from blender.planning.streams import Streams, at_rating
from blender.units import GAS_CONSTANT_J_MOL_K, bar_to_pa, c_to_k

_DRY_INLET_C = 20.0
_SINGULAR = 1e-9
_ROUNDING = 1e-9

Shares = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Intake:
    """What may go into an intake.

    Parameters
    ----------
    top, oxygen : Mix
        The air drawn in and the gas injected.
    helium : Mix or None
        The helium injected; None where helium does not go through the compressor.
    rated : float
        Highest oxygen fraction the compressor is rated for, dry [1].
    """

    top: Mix
    oxygen: Mix
    helium: Mix | None
    rated: float

    def gases(self, *, within_rating: bool) -> tuple[Mix, ...]:
        """What can be mixed with: the injected gases and the air, or the richest allowed.

        Whatever is delivered within the rating is a mixture of helium, air, and air or helium
        with oxygen up to the rating.

        Parameters
        ----------
        within_rating : bool
            Whether what is delivered must be within the rating.

        Returns
        -------
        tuple of Mix
            No two alike.
        """
        richest = list(self._at_rating()) if within_rating else []
        helium = () if self.helium is None else (self.helium,)
        return tuple(dict.fromkeys((*helium, *(richest or [self.oxygen]), self.top)))

    def _at_rating(self) -> Iterator[Mix]:
        for base in (self.top, self.helium):
            if base is not None and (found := at_rating(base, self.oxygen, self.rated)):
                yield found[0]

    def shares(self) -> dict[Mix, Shares]:
        """Return of each gas that can be mixed with how much is helium, oxygen and air [1]."""
        found: dict[Mix, Shares] = {}
        for base, place in ((self.helium, 0), (self.top, 2)):
            if base is not None and (made := at_rating(base, self.oxygen, self.rated)):
                gas, share = made
                rest = (1.0 - share, 0.0) if place == 0 else (0.0, 1.0 - share)
                found[gas] = (rest[0], share, rest[1])
        if self.helium is not None:
            found[self.helium] = (1.0, 0.0, 0.0)
        found[self.oxygen] = (0.0, 1.0, 0.0)
        found[self.top] = (0.0, 0.0, 1.0)
        if self.helium is None:  # what has helium goes in by partial pressure
            return {gas: shares for gas, shares in found.items() if gas.he == 0.0}
        return found

    def streams(self, added: Iterable[tuple[Mix, float]]) -> Streams:
        """Split what is delivered into helium, oxygen and air.

        Parameters
        ----------
        added : iterable of Mix and float
            Gases let in with their amounts [mol]; those that do not go in here are left out.

        Returns
        -------
        Streams
            The amounts.
        """
        known = self.shares()
        found = [0.0, 0.0, 0.0]
        for gas, mol in added:
            for place, share in enumerate(known.get(gas, (0.0, 0.0, 0.0))):
                found[place] += mol * share
        helium = HELIUM if self.helium is None else self.helium
        return Streams(self.oxygen, found[1], self.top, found[2], helium, found[0])


def streams_of(intake: Intake, o2: float, he: float, total_mol: float) -> Streams | None:
    """Streams that make a mix.

    Parameters
    ----------
    intake : Intake
        The gases; without helium among them `he` must be what comes with the others.
    o2, he : float
        Fractions delivered, dry [1].
    total_mol : float
        Amount of all together [mol].

    Returns
    -------
    Streams or None
        None if these gases do not make it.

    Examples
    --------
    >>> from blender.gas import AIR, OXYGEN
    >>> found = streams_of(Intake(AIR, OXYGEN, None, 0.4), 0.34, 0.0, 100.0)
    >>> round(found.oxygen_mol, 3)
    16.513
    """
    top, oxygen, helium = intake.top, intake.oxygen, intake.helium or intake.top
    of_helium = (helium.o2 - top.o2, helium.he - top.he)
    of_oxygen = (oxygen.o2 - top.o2, oxygen.he - top.he)
    wanted = (o2 - top.o2, he - top.he)
    if intake.helium is None:
        found = (0.0, wanted[0] / of_oxygen[0] if abs(of_oxygen[0]) > _SINGULAR else 0.0)
    else:
        det = of_helium[0] * of_oxygen[1] - of_oxygen[0] * of_helium[1]
        if abs(det) < _SINGULAR:
            return None
        found = (
            (wanted[0] * of_oxygen[1] - of_oxygen[0] * wanted[1]) / det,
            (of_helium[0] * wanted[1] - wanted[0] * of_helium[1]) / det,
        )
    shares = (*found, 1.0 - found[0] - found[1])
    if min(shares) < -_ROUNDING:
        return None
    helium_mol, oxygen_mol, top_mol = (max(share, 0.0) * total_mol for share in shares)
    made = Streams(oxygen, oxygen_mol, top, top_mol, helium, helium_mol)
    misses = (abs(made.delivered_o2 - o2), abs(made.delivered_he - he))
    return made if max(misses) <= 2.0 * _ROUNDING else None


def intake_figures(request: PlanRequest, streams: Streams) -> dict[str, float]:
    """What to set and watch at the intake while given amounts go in.

    Flow and time are counted at the compressor's inlet, as a delivery is rated: at the
    temperature and pressure of the air there, its water included.

    Parameters
    ----------
    request : PlanRequest
        With the air's state and, for flow and time, the compressor's delivery.
    streams : Streams
        What goes in.

    Returns
    -------
    dict
        ``intake_o2``, ``intake_reading`` [1]; ``oxygen_l_min`` [L/min], ``minutes`` [min].
    """
    ambient_pa = bar_to_pa(request.ambient_bar)
    damp_air_mol = streams.top_mol / dry_share(request)
    damp_mol = streams.oxygen_mol + streams.helium_mol + damp_air_mol
    o2_mol = sum(gas.o2 * mol for gas, mol in streams.parts)
    figures = {"intake_o2": o2_mol / streams.total_mol, "intake_reading": o2_mol / damp_mol}
    if request.delivery_l_min is not None:
        air = request.intake_air
        inlet_k = c_to_k(air.temperature_c if air else _DRY_INLET_C)
        litres = damp_mol * GAS_CONSTANT_J_MOL_K * inlet_k / ambient_pa * 1000.0
        figures["oxygen_l_min"] = request.delivery_l_min * streams.oxygen_mol / damp_mol
        figures["minutes"] = litres / request.delivery_l_min
    return figures


def dry_share(request: PlanRequest) -> float:
    """Share of the air drawn in that is not water [1].

    Parameters
    ----------
    request : PlanRequest
        With the air's state; none is taken as dry.

    Returns
    -------
    float
        Mole fraction [1].
    """
    air = request.intake_air
    return 1.0 - air.water(bar_to_pa(request.ambient_bar)) if air else 1.0
