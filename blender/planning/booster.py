"""A booster: a pump that lifts gas from a bottle into a cylinder of higher pressure.

Without one a bottle gives until it has come down to the cylinder.  With one it gives further,
down to what the booster still takes in, while the cylinder stays below what it can press out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blender.errors import InputError
from blender.units import parse_gauge_pressure, parse_number

_HELP = "give lowest inlet/ratio/highest outlet, such as 15bar/30/250bar"
_MOST_RATIO = 1000.0


@dataclass(frozen=True, slots=True)
class Booster:
    """What a booster can do; its maker states these three.

    Parameters
    ----------
    min_inlet_bar : float
        Lowest gauge pressure it still takes in [bar].
    ratio : float
        Largest outlet pressure over inlet pressure, counted on the gauges [1].
    max_bar : float
        Highest gauge pressure it presses out [bar].

    Examples
    --------
    >>> parse_booster("15bar/30/250bar").lowest_inlet_bar(180.0)
    15.0
    >>> parse_booster("2bar/30/250bar").lowest_inlet_bar(180.0)
    6.0
    """

    min_inlet_bar: float
    ratio: float
    max_bar: float

    def lowest_inlet_bar(self, outlet_bar: float) -> float:
        """Lowest gauge pressure a bottle may have at an outlet pressure.

        Parameters
        ----------
        outlet_bar : float
            Gauge pressure of the cylinder [bar].

        Returns
        -------
        float
            Gauge pressure of the bottle [bar].
        """
        return max(self.min_inlet_bar, outlet_bar / self.ratio)

    def excess_bar(self, bottle_bar: float, cylinder_bar: float) -> float:
        """How far a bottle and a cylinder are beyond what it can do.

        Parameters
        ----------
        bottle_bar, cylinder_bar : float
            Their gauge pressures [bar].

        Returns
        -------
        float
            Positive where it can go no further; grows with every mole moved [bar].
        """
        return max(cylinder_bar - self.max_bar, self.lowest_inlet_bar(cylinder_bar) - bottle_bar)

    def as_dict(self) -> dict[str, Any]:
        """The booster as understood, JSON-ready."""
        return {
            "min_inlet_bar": self.min_inlet_bar,
            "ratio": self.ratio,
            "max_bar": self.max_bar,
        }


def parse_booster(text: str, field: str = "--booster") -> Booster:
    """Read a booster as typed.

    Parameters
    ----------
    text : str
        ``LOWEST INLET/RATIO/HIGHEST OUTLET``, pressures with their unit.
    field : str
        The field's name, for the error message.

    Returns
    -------
    Booster
        What was understood.

    Raises
    ------
    InputError
        If it cannot be read, the ratio is not above 1 and at most 1000, or the outlet is not
        above the inlet.

    Examples
    --------
    >>> parse_booster("200psi/25/3500psi").ratio
    25.0
    """
    parts = text.split("/")
    if len(parts) != 3 or len(text) > 60:
        raise InputError(field, repr(text[:60]), _HELP)
    inlet_bar, outlet_bar = (parse_gauge_pressure(part, field) for part in (parts[0], parts[2]))
    ratio = parse_number(parts[1], field)
    if not 1.0 < ratio <= _MOST_RATIO:
        raise InputError(field, repr(text), "a booster's ratio is more than 1 and at most 1000")
    if not inlet_bar < outlet_bar:
        raise InputError(field, repr(text), "its highest outlet must be above its lowest inlet")
    return Booster(inlet_bar, ratio, outlet_bar)
