"""The whip between supply and cylinder: its dead volume costs gas at every change.

One whip serves for everything.  At a stop it is full of the supply's gas at the cylinder's
pressure.  When it is changed, from bottle to bottle as well, it is vented to ambient pressure:
that gas is lost, and counted against the supply.  What stays in it at ambient pressure goes into
the cylinder first, with the next gas.  Before the first gas it holds that gas itself, and what
is left in it after the last gas stays there.  It is reckoned at 20 degC, as the bottles are.
"""

from __future__ import annotations

import re

from blender.errors import InputError
from blender.gas import Mix
from blender.planning.supplies import BOTTLE_TEMPERATURE_C
from blender.units import parse_number
from blender.vessel import amount_for_pressure

MOST_WHIP_L = 5.0
_TYPED = re.compile(r"\s*([\d.,]+)\s*(mL|ml|L|l)\s*", re.ASCII)


class Whip:
    """What is in the whip while a plan is carried out on paper.

    Parameters
    ----------
    volume_m3 : float
        Its dead volume; none without a whip [m3].
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    pairs : str
        Name of the set of pair parameters of the equation of state.
    """

    def __init__(self, volume_m3: float, ambient_bar: float, pairs: str) -> None:
        self.volume_m3 = volume_m3
        self._ambient_bar = ambient_bar
        self._pairs = pairs
        self._gas: Mix | None = None
        self._left_mol: dict[Mix, float] = {}

    def holds(self, gas: Mix, gauge_bar: float) -> float:
        """Amount of a gas in it at a gauge pressure.

        Parameters
        ----------
        gas : Mix
            The gas.
        gauge_bar : float
            Gauge pressure [bar].

        Returns
        -------
        float
            Amount [mol].
        """
        if not self.volume_m3:
            return 0.0
        return amount_for_pressure(
            gas, gauge_bar, BOTTLE_TEMPERATURE_C, self.volume_m3, self._ambient_bar, self._pairs
        )

    def left(self, gas: Mix) -> float:
        """Amount of a gas [mol] that stays in it when it is vented."""
        if gas not in self._left_mol:
            self._left_mol[gas] = self.holds(gas, 0.0)
        return self._left_mol[gas]

    def first_in(self, gas: Mix) -> tuple[Mix, float] | None:
        """Return another gas left in it and its amount [mol], which goes in before a gas."""
        before = self._gas
        if not self.volume_m3 or before is None or before == gas:
            return None
        return before, self.left(before)

    def takes(self, gas: Mix, stop_bar: float, *, own: bool) -> float:
        """What a supply gives beyond what goes into the cylinder.

        Parameters
        ----------
        gas : Mix
            The supply's gas.
        stop_bar : float
            Gauge pressure at the stop [bar].
        own : bool
            Whether the whip came with the same gas: what was left in it went in as well.

        Returns
        -------
        float
            Amount [mol].
        """
        if not self.volume_m3:
            return 0.0
        return self.holds(gas, stop_bar) - (self.left(gas) if own else 0.0)

    def changed(self, gas: Mix) -> None:
        """Vent it: a gas stays in it at ambient pressure."""
        self._gas = gas


def parse_whip(text: str, field: str = "--whip") -> float:
    """Read a whip's dead volume with its unit and return it in [m3].

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        The field's name, for the error message.

    Raises
    ------
    InputError
        If it cannot be read, or is not above 0 and at most 5 L.

    Examples
    --------
    >>> parse_whip("0.15L"), parse_whip("150mL")
    (0.00015, 0.00015)
    """
    found = _TYPED.fullmatch(text) if len(text) <= 40 else None
    if found is None:
        raise InputError(field, repr(text[:40]), "give a whip's volume such as 0.15L or 150mL")
    litres = parse_number(found[1], field) / (1000.0 if found[2].lower() == "ml" else 1.0)
    if not 0.0 < litres <= MOST_WHIP_L:
        raise InputError(field, repr(text), f"a whip holds more than 0 and at most {MOST_WHIP_L} L")
    return litres / 1000.0
