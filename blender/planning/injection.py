"""A run of the compressor: from which bottle gas is injected until when.

Bottles are injected from until their gauges show nothing, the lowest first; where one changes,
or the filter tower is spent, one step of a plan ends.  Ends are shares of all that is drawn in.
"""

from __future__ import annotations

from typing import Any

from blender.gas import Mix
from blender.planning.draw import Bank, Draw, shortage
from blender.planning.solve import NOTHING
from blender.planning.streams import Streams


class Injection:
    """The supplies that inject a gas, and until when each does.

    Parameters
    ----------
    bank : Bank
        The supplies.
    gas : Mix
        The gas.
    amount_mol : float
        How much of it is injected in all [mol].

    Raises
    ------
    ShortageError
        If they do not hold as much.
    """

    def __init__(self, bank: Bank, gas: Mix, amount_mol: float) -> None:
        self._bank = bank
        self.until: list[tuple[str, float]] = []
        left_mol, nothing = amount_mol, NOTHING * amount_mol
        names = bank.sources(gas) if amount_mol > 0.0 else []
        for name in names:
            given_mol = bank.injectable(name, left_mol)
            if left_mol > nothing and given_mol > nothing:
                left_mol -= given_mol
                self.until.append((name, 1.0 - left_mol / amount_mol))
        if left_mol > nothing:
            for name in names:  # what there is has gone in by then
                bank.take(name, bank.injectable(name, amount_mol))
            raise shortage(gas, left_mol, bank.standing(gas))

    def draw(self, end: float, amount_mol: float) -> Draw | None:
        """Take what is injected by a step.

        Parameters
        ----------
        end : float
            Where the step ends, as a share of the run [1].
        amount_mol : float
            What it takes [mol].

        Returns
        -------
        Draw or None
            None if nothing is injected.
        """
        name = next((name for name, until in self.until if end <= until + NOTHING), None)
        return None if name is None else self._bank.take(name, amount_mol)

    def told(self, end: float, amount_mol: float, key: str) -> dict[str, Any]:
        """Take what is injected by a step, and tell it under a key of its own.

        Parameters
        ----------
        end : float
            Where the step ends, as a share of the run [1].
        amount_mol : float
            What it takes [mol].
        key : str
            The step's key for the supply's name.

        Returns
        -------
        dict
            Name and, of a bottle, its gauge pressures before and after [bar].
        """
        draw = self.draw(end, amount_mol)
        if draw is None:
            return {}
        told = {key: draw.supply, f"{key}_from_bar": draw.from_bar, f"{key}_to_bar": draw.to_bar}
        return {word: value for word, value in told.items() if value is not None}


def drawn_in(streams: Streams, whole_mol: float) -> Streams:
    """All that a compressor draws in: air alone, if the cylinder is full before any of it comes.

    Parameters
    ----------
    streams : Streams
        What is delivered into the cylinder.
    whole_mol : float
        What is drawn in, with what goes into the tower [mol].

    Returns
    -------
    Streams
        As much, of the same gas.
    """
    total_mol = streams.total_mol
    if total_mol <= 0.0:
        return Streams(streams.oxygen, 0.0, streams.top, whole_mol)
    return streams if total_mol == whole_mol else streams.part(whole_mol / total_mol)


def ends(spent: float, *injections: Injection) -> list[float]:
    """Where a run changes from one step to the next.

    Parameters
    ----------
    spent : float
        Where the tower is spent, as a share of the run [1].
    *injections : Injection
        What is injected.

    Returns
    -------
    list of float
        Rising shares of the run, the last 1 [1].
    """
    changes = {spent, *(until for one in injections for _, until in one.until)}
    found: list[float] = []
    for end in sorted(changes):
        if (found[-1] if found else 0.0) + NOTHING < end < 1.0 - NOTHING:
            found.append(end)
    return [*found, 1.0]
