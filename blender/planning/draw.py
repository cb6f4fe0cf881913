"""Drawing gas from what the station has: the bottle of lowest pressure first.

A bottle gives until the wanted amount is over or its pressure has come down to the
cylinder's.  One at or below the cylinder's pressure is never opened: gas would flow back
and spoil it.  Bottles are reckoned at 20 degC.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.supplies import BOTTLE_TEMPERATURE_C, Supply
from blender.vessel import Contents, contents_at, root

# A bottle is never drawn down to nothing: the cylinder is at ambient pressure or more.
_NEARLY_ALL = 1.0 - 1e-6


class ShortageError(NoFillError):
    """The bottles of a gas do not hold enough at the pressure needed."""

    code = "bank"


@dataclass(frozen=True, slots=True)
class Draw:
    """What one supply gives: its name, the amount [mol], and its pressures if it is a bottle."""

    supply: str
    amount_mol: float
    from_bar: float | None = None
    to_bar: float | None = None


class Bank:
    """Every supply of a station while a plan is carried out on paper.

    Parameters
    ----------
    supplies : iterable of Supply
        What there is.
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    pairs : str
        Name of the set of pair parameters of the equation of state.
    """

    def __init__(self, supplies: Iterable[Supply], ambient_bar: float, pairs: str) -> None:
        self._ambient_bar = ambient_bar
        self._supplies = tuple(supplies)
        self._bottles: dict[str, Contents] = {}
        for supply in self._supplies:
            if supply.gauge_bar is not None and supply.volume_m3 is not None:
                self._bottles[supply.name] = contents_at(
                    supply.gas,
                    supply.gauge_bar,
                    BOTTLE_TEMPERATURE_C,
                    supply.volume_m3,
                    ambient_bar,
                    pairs,
                )

    def sources(self, gas: Mix) -> list[str]:
        """Names of the supplies of a gas: bottles by rising pressure, then unlimited ones.

        Parameters
        ----------
        gas : Mix
            The gas, exactly as the supplies have it.

        Returns
        -------
        list of str
            Names in the order in which they are opened.
        """
        names = [supply.name for supply in self._supplies if supply.gas == gas]
        bottles = [name for name in names if name in self._bottles]
        unlimited = [name for name in names if name not in self._bottles]
        return sorted(bottles, key=self._gauge_bar) + unlimited

    def standing(self, gas: Mix) -> dict[str, float]:
        """Gauge pressures of the bottles of a gas by name [bar].

        Parameters
        ----------
        gas : Mix
            The gas, exactly as the supplies have it.

        Returns
        -------
        dict
            Name to gauge pressure at 20 degC [bar].
        """
        bottles = (name for name in self.sources(gas) if name in self._bottles)
        return {name: self._gauge_bar(name) for name in bottles}

    def _gauge_bar(self, name: str) -> float:
        return self._bottles[name].gauge_bar(BOTTLE_TEMPERATURE_C, self._ambient_bar)

    def take(self, name: str, amount_mol: float) -> Draw:
        """Take an amount [mol] from a supply that is known to have it.

        Parameters
        ----------
        name : str
            The supply.
        amount_mol : float
            What it gives [mol].

        Returns
        -------
        Draw
            With the pressures before and after, if it is a bottle.
        """
        if name not in self._bottles:
            return Draw(name, amount_mol)
        from_bar, bottle = self._gauge_bar(name), self._bottles[name]
        self._bottles[name] = bottle.kept(1.0 - amount_mol / bottle.total_mol)
        return Draw(name, amount_mol, from_bar, self._gauge_bar(name))

    def available(
        self, name: str, cylinder: Contents, gas: Mix, wanted_mol: float, temperature_c: float
    ) -> float:
        """Amount up to a wanted one that flows into a cylinder by itself [mol].

        Parameters
        ----------
        name : str
            The supply.
        cylinder : Contents
            What the cylinder holds.
        gas : Mix
            The supply's gas.
        wanted_mol : float
            Amount wanted [mol].
        temperature_c : float
            Temperature of the gas in the cylinder [degC].

        Returns
        -------
        float
            Amount, zero if the supply is not above the cylinder's pressure [mol].
        """
        bottle = self._bottles.get(name)
        if bottle is None:
            return wanted_mol
        total_mol, ambient_bar = bottle.total_mol, self._ambient_bar

        def excess(moved_mol: float) -> float:
            left = bottle.kept(1.0 - moved_mol / total_mol)
            filled = cylinder.with_gas(gas, moved_mol)
            return filled.gauge_bar(temperature_c, ambient_bar) - left.gauge_bar(
                BOTTLE_TEMPERATURE_C, ambient_bar
            )

        return root(excess, 0.0, min(wanted_mol, _NEARLY_ALL * total_mol))

    def injectable(self, name: str, wanted_mol: float) -> float:
        """Amount up to a wanted one that flows into a compressor's intake by itself [mol].

        Parameters
        ----------
        name : str
            The supply.
        wanted_mol : float
            Amount wanted [mol].

        Returns
        -------
        float
            Amount, down to an empty gauge at most [mol].
        """
        bottle = self._bottles.get(name)
        if bottle is None:
            return wanted_mol
        kept = contents_at(
            bottle.mix,
            0.0,
            BOTTLE_TEMPERATURE_C,
            bottle.volume_m3,
            self._ambient_bar,
            bottle.pairs,
        )
        return min(wanted_mol, max(bottle.total_mol - kept.total_mol, 0.0))


def shortage(gas_name: str, missing_mol: float, held: Mapping[str, float]) -> ShortageError:
    """Say which gas ran short, and where its bottles stand [bar].

    Parameters
    ----------
    gas_name : str
        The gas, for the message.
    missing_mol : float
        What is missing [mol].
    held : mapping
        Name to gauge pressure of each bottle of it [bar].

    Returns
    -------
    ShortageError
        To be raised.
    """
    standing = ", ".join(f"{name} {bar:.1f} bar" for name, bar in held.items())
    where = f" (by then {standing})" if standing else ""
    return ShortageError(
        f"the bottles of {gas_name}{where} cannot give {missing_mol:.3f} mol more at the "
        "cylinder's pressure; connect a fuller bottle, use a booster, or take a nearest fill"
    )
