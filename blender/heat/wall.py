"""The cylinder's metal as one lump: what heat it takes from the gas and gives to the room."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from blender.errors import InputError
from blender.units import KG_PER_LB, parse_number

# Specific heat near room temperature [J/(kg K)], as the reference computation has them; handbooks
# give 460-490 for low-alloy steel and 896-900 for aluminium and its 6000 alloys (from memory).
METALS_J_KG_K = {"steel": 475.0, "aluminium": 900.0, "aluminum": 900.0}
MIN_WALL_KG, MAX_WALL_KG = 0.1, 5000.0
MAX_CONDUCTANCE_W_K = 10_000.0

_WALL = re.compile(r"\s*([\d.,]+)\s*(kg|lb)\s*:\s*([a-z]+)\s*", re.ASCII | re.IGNORECASE)
_CONDUCTANCE = re.compile(r"\s*([\d.,]+)\s*w/k\s*", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Wall:
    """The metal around the gas, at one temperature throughout.

    Parameters
    ----------
    capacity_j_k : float
        Its heat capacity [J/K], above 0.
    inside_w_k : float
        Conductance from the gas to the metal [W/K]; 0 for none, infinity for perfect contact.
    outside_w_k : float
        Conductance from the metal to the room [W/K].

    Examples
    --------
    >>> Wall(14.0 * METALS_J_KG_K["steel"], 20.0, 5.0).capacity_j_k
    6650.0
    """

    capacity_j_k: float
    inside_w_k: float
    outside_w_k: float

    def after(
        self,
        wall_k: float,
        gas_k: tuple[float, float],
        room_k: float,
        seconds: float,
        gas_j_k: float,
    ) -> tuple[float, float]:
        """Return the metal's temperature after a short while, and the heat the gas lost.

        Trapezoidal rule, second order; where gas and metal would meet well within the step,
        their difference counts the more at its end, so that it never swings over.  What the
        gas loses is what the metal and the room gain, to the last digit.

        Parameters
        ----------
        wall_k : float
            Temperature of the metal before [K].
        gas_k : tuple of float
            Temperatures of the gas before and after [K].
        room_k : float
            Temperature of the room [K].
        seconds : float
            How long [s].
        gas_j_k : float
            Heat capacity of the gas, roughly [J/K]; it only sets that weight.

        Returns
        -------
        tuple of float
            Temperature of the metal [K], heat out of the gas [J].
        """
        then_k = gas_k[1]
        if math.isfinite(self.inside_w_k):
            late = self._late(seconds, gas_j_k)
            drawn = (1.0 - late) * (gas_k[0] - wall_k) + late * gas_k[1]
            pull = self.inside_w_k * drawn + self.outside_w_k * (room_k - 0.5 * wall_k)
            hold = self.inside_w_k * late + 0.5 * self.outside_w_k
            share = seconds / self.capacity_j_k
            then_k = (wall_k + share * pull) / (1.0 + share * hold)
        lost = self.outside_w_k * seconds * (0.5 * (wall_k + then_k) - room_k)
        return then_k, self.capacity_j_k * (then_k - wall_k) + lost

    def _late(self, seconds: float, gas_j_k: float) -> float:
        """Weight of the end of a step [1]: half, or as much as keeps gas and metal apart."""
        settling = seconds * self.inside_w_k * (1.0 / gas_j_k + 1.0 / self.capacity_j_k)
        return 0.5 if settling <= 2.0 else 1.0 - 1.0 / settling


def parse_wall(text: str, field: str = "--wall") -> float:
    """Read what a cylinder weighs and is made of; return its heat capacity in [J/K].

    Parameters
    ----------
    text : str
        What was typed: ``14kg:steel``, ``29lb:aluminium``.
    field : str
        The field's name, for the error message.

    Returns
    -------
    float
        Heat capacity [J/K].

    Raises
    ------
    InputError
        If it cannot be read, the metal is unknown, or the mass is not 0.1 to 5000 kg.

    Examples
    --------
    >>> parse_wall("14kg:steel"), parse_wall("13kg:aluminium")
    (6650.0, 11700.0)
    """
    found = _WALL.fullmatch(text) if len(text) <= 60 else None
    heat = METALS_J_KG_K.get(found[3].lower()) if found else None
    if found is None or heat is None:
        allowed = "give what the empty cylinder or set weighs and its metal, such as 14kg:steel "
        raise InputError(field, repr(text), f"{allowed}or 13kg:aluminium")
    kg = parse_number(found[1], field) * (KG_PER_LB if found[2].lower() == "lb" else 1.0)
    if not MIN_WALL_KG <= kg <= MAX_WALL_KG:
        allowed = f"a cylinder or set weighs {MIN_WALL_KG:g} to {MAX_WALL_KG:g} kg"
        raise InputError(field, repr(text), allowed)
    return kg * heat


def parse_conductance(text: str, field: str) -> float:
    """Read a thermal conductance and return it in [W/K].

    Parameters
    ----------
    text : str
        What was typed: ``20W/K``.
    field : str
        The field's name, for the error message.

    Returns
    -------
    float
        Conductance [W/K].

    Raises
    ------
    InputError
        If it cannot be read or is above 10 000 W/K.

    Examples
    --------
    >>> parse_conductance("20W/K", "--inside")
    20.0
    """
    found = _CONDUCTANCE.fullmatch(text) if len(text) <= 60 else None
    value = parse_number(found[1], field) if found else -1.0
    if not 0.0 <= value <= MAX_CONDUCTANCE_W_K:
        allowed = f"give 0 to {MAX_CONDUCTANCE_W_K:g} W/K, such as 20W/K"
        raise InputError(field, repr(text), allowed)
    return value
