"""Drawing gas from what the station has: the bottle of lowest pressure first, see `cascade`.

A bottle gives until the wanted amount is over or its pressure has come down to the
cylinder's.  One at or below the cylinder's pressure is never opened: gas would flow back
and spoil it.  Only a booster draws further, see `booster`.  Bottles are reckoned at 20 degC.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from blender.errors import InputError, NoFillError
from blender.gas import Mix
from blender.planning.booster import Booster
from blender.planning.cascade import Offer, Tap, best_order, less
from blender.planning.supplies import (
    BOTTLE_TEMPERATURE_C,
    TOP_NAME,
    Supply,
    bottle_contents,
    plain_name,
)
from blender.planning.whip import Whip
from blender.vessel import Contents, contents_at, root


class ShortageError(NoFillError):
    """The supplies of a gas cannot give what is needed at the pressure needed.

    Parameters
    ----------
    text : str
        Why not.
    gas : Mix or None
        The gas that ran short.
    """

    code = "bank"

    def __init__(self, text: str, gas: Mix | None = None) -> None:
        super().__init__(text)
        self.gas = gas


class CompressorMaxError(ShortageError):
    """A stop lies above what the compressor reaches."""

    code = "compressor-max"


@dataclass(frozen=True, slots=True)
class Equipment:
    """What stands between the supplies and the cylinder.

    Parameters
    ----------
    draw : tuple of str
        Supplies in the order in which they are to be opened; of their gases no others are.
    whip_m3 : float
        Dead volume of the whip [m3].
    booster : Booster or None
        The booster, if there is one.
    compressor_max_bar : float or None
        Highest gauge pressure of the top gas [bar].
    """

    draw: tuple[str, ...] = ()
    whip_m3: float = 0.0
    booster: Booster | None = None
    compressor_max_bar: float | None = None


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
    equipment : Equipment
        Whip, booster, compressor, and the order asked for.

    Raises
    ------
    InputError
        If the order names what is no supply, or one twice.
    """

    def __init__(
        self,
        supplies: Iterable[Supply],
        ambient_bar: float,
        pairs: str,
        equipment: Equipment | None = None,
    ) -> None:
        self._ambient_bar = ambient_bar
        self._supplies = tuple(supplies)
        self._with = equipment or Equipment()
        self.whip = Whip(self._with.whip_m3, ambient_bar, pairs)
        _check_draw(self._with.draw, self._supplies)
        bottles = (s for s in self._supplies if s.gauge_bar is not None and s.volume_m3 is not None)
        self._bottles: dict[str, Contents] = {
            supply.name: bottle_contents(supply, ambient_bar, pairs) for supply in bottles
        }
        self._stands_bar: dict[str, float] = {}

    def sources(self, gas: Mix) -> list[str]:
        """Names of the supplies of a gas: bottles by rising pressure, then unlimited ones.

        Where an order was asked for, it is that one.

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
        if asked := [name for name in self._with.draw if name in names]:
            return asked
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
        if name not in self._stands_bar:
            bottle = self._bottles[name]
            self._stands_bar[name] = bottle.gauge_bar(BOTTLE_TEMPERATURE_C, self._ambient_bar)
        return self._stands_bar[name]

    def take(self, name: str, amount_mol: float, beyond_mol: float = 0.0) -> Draw:
        """Take an amount [mol] from a supply that is known to have it.

        Parameters
        ----------
        name : str
            The supply.
        amount_mol : float
            What it gives to the cylinder [mol].
        beyond_mol : float
            What it gives beyond that, into the whip [mol].

        Returns
        -------
        Draw
            With the pressures before and after, if it is a bottle.
        """
        if name not in self._bottles:
            return Draw(name, amount_mol)
        from_bar = self._gauge_bar(name)
        self._bottles[name] = less(self._bottles[name], amount_mol + beyond_mol)
        del self._stands_bar[name]
        return Draw(name, amount_mol, from_bar, self._gauge_bar(name))

    def opened(self, gas: Mix, cylinder: Contents, wanted_mol: float, at_c: float) -> list[str]:
        """Names of the supplies of a gas in the order in which they fill a cylinder.

        Parameters
        ----------
        gas : Mix
            The gas, exactly as the supplies have it.
        cylinder : Contents
            What the cylinder holds.
        wanted_mol : float
            Amount wanted [mol].
        at_c : float
            Temperature of the gas in the cylinder [degC].

        Returns
        -------
        list of str
            As `sources`, but with a whip or a booster the best order there is, see `cascade`.
        """
        names = self.sources(gas)
        bottles = {name: self._bottles[name] for name in names if name in self._bottles}
        if any(name in self._with.draw for name in names) or len(bottles) < len(names):
            return names
        return list(best_order(self._tap(gas, at_c), cylinder, bottles, wanted_mol))

    def _tap(self, gas: Mix, at_c: float) -> Tap:
        own = self.whip.first_in(gas) is None
        return Tap(gas, at_c, self._ambient_bar, self.whip, self._with.booster, own)

    def available(
        self, name: str, cylinder: Contents, gas: Mix, wanted_mol: float, temperature_c: float
    ) -> Offer:
        """Amount up to a wanted one that goes into a cylinder, by itself or by the booster.

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
        Offer
            Nothing, if the supply is not above the cylinder's pressure and no booster helps.
        """
        tap, highest_bar = self._tap(gas, temperature_c), self._with.compressor_max_bar
        if name in self._bottles:
            return tap.offer(self._bottles[name], cylinder, wanted_mol)
        if name != TOP_NAME or highest_bar is None:
            return Offer(wanted_mol)
        return Offer(root(lambda mol: tap.stop_bar(cylinder, mol) - highest_bar, 0.0, wanted_mol))

    def beyond(self, gas: Mix, stop_bar: float) -> float:
        """Amount of a gas [mol] that fills the whip at a stop's gauge pressure [bar]."""
        return self.whip.takes(gas, stop_bar, own=self.whip.first_in(gas) is None)

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


def _check_draw(draw: tuple[str, ...], supplies: tuple[Supply, ...]) -> None:
    names = [supply.name for supply in supplies if supply.name != TOP_NAME]
    for place, name in enumerate(draw):
        if name not in names or name in draw[:place]:
            raise InputError(
                "--draw", repr(name), f"name each supply at most once; there are {', '.join(names)}"
            )


def shortage(gas: Mix, missing_mol: float, held: Mapping[str, float]) -> ShortageError:
    """Say which gas ran short, and where its bottles stand [bar].

    Parameters
    ----------
    gas : Mix
        The gas.
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
        f"the bottles of {plain_name(gas)}{where} cannot give {missing_mol:.3f} mol more at the "
        "cylinder's pressure; connect a fuller bottle, use a booster, or take a nearest fill",
        gas,
    )


def above_compressor(gas: Mix, stop_bar: float, at_c: float, most_bar: float) -> ShortageError:
    """Say that a stop is above what the compressor reaches.

    Parameters
    ----------
    gas : Mix
        The top gas.
    stop_bar : float
        The stop's gauge pressure [bar].
    at_c : float
        Temperature of the gas there [degC].
    most_bar : float
        Highest gauge pressure of the compressor [bar].

    Returns
    -------
    CompressorMaxError
        To be raised.
    """
    return CompressorMaxError(
        f"the stop of {stop_bar:.1f} bar at {at_c:g} degC is above the compressor's maximum of "
        f"{most_bar:.1f} bar; fill to less, or let it cool and top again",
        gas,
    )
