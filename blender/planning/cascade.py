"""A cascade: several bottles of one gas, opened one after the other into one cylinder.

The bottle of lowest pressure first: that gets the most gas out of them, and leaves the fullest
as it is for as long as can be.  For bottles alone this is exact, whatever their sizes.  A whip
takes gas at every change, and a booster has limits of its own: with them another order is now
and then better, so that for up to four bottles every order is tried, and low bottle first kept
unless another does better.  `Better` is: more of what is wanted; then the fullest bottle
fuller, then the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from blender.gas import Mix
from blender.planning.booster import Booster
from blender.planning.supplies import BOTTLE_TEMPERATURE_C
from blender.planning.whip import Whip
from blender.vessel import Contents, amount_for_pressure, root

MOST_TRIED = 4
# A bottle is never drawn down to nothing: the cylinder is at ambient pressure or more.
_NEARLY_ALL = 1.0 - 1e-6
_LEAST_LEFT = 1e-9
# Differences this small are no reason to leave the usual order [bar], and of what is wanted [1].
_SAME_BAR = 1e-6
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Offer:
    """What flows into a cylinder [mol], and whether it takes the booster."""

    amount_mol: float
    boosted: bool = False


@dataclass(frozen=True, slots=True)
class Tap:
    """One bottle of a gas opened to a cylinder, through whip and booster.

    Parameters
    ----------
    gas : Mix
        The gas.
    temperature_c : float
        Temperature of the gas in the cylinder [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    whip : Whip
        The whip, without volume if there is none.
    booster : Booster or None
        The booster, if there is one.
    own : bool
        Whether the whip comes with the same gas.
    """

    gas: Mix
    temperature_c: float
    ambient_bar: float
    whip: Whip
    booster: Booster | None = None
    own: bool = True

    def stop_bar(self, cylinder: Contents, amount_mol: float) -> float:
        """Gauge pressure [bar] of a cylinder after an amount [mol] was let in."""
        return cylinder.with_gas(self.gas, amount_mol).gauge_bar(
            self.temperature_c, self.ambient_bar
        )

    def left(self, bottle: Contents, cylinder: Contents, amount_mol: float) -> Contents:
        """What a bottle holds after an amount [mol] went into a cylinder, the whip's included."""
        stop_bar = self.stop_bar(cylinder, amount_mol) if self.whip.volume_m3 else 0.0
        return less(bottle, amount_mol + self.whip.takes(self.gas, stop_bar, own=self.own))

    def standing_bar(self, bottle: Contents) -> float:
        """Gauge pressure of a bottle at 20 degC [bar]."""
        return bottle.gauge_bar(BOTTLE_TEMPERATURE_C, self.ambient_bar)

    def offer(self, bottle: Contents, cylinder: Contents, wanted_mol: float) -> Offer:
        """Amount up to a wanted one that goes in by itself, or by the booster.

        Parameters
        ----------
        bottle, cylinder : Contents
            What they hold.
        wanted_mol : float
            Amount wanted [mol].

        Returns
        -------
        Offer
            Nothing, if the bottle is not above the cylinder's pressure and no booster helps.
        """
        flows = self._until(bottle, cylinder, wanted_mol, lambda stands, stop: stop - stands)
        if self.booster is None or flows >= wanted_mol:
            return Offer(flows)
        pressed = self._until(bottle, cylinder, wanted_mol, self.booster.excess_bar)
        return Offer(pressed, boosted=True) if pressed > flows else Offer(flows)

    def _until(
        self,
        bottle: Contents,
        cylinder: Contents,
        wanted_mol: float,
        excess_bar: Callable[[float, float], float],
    ) -> float:
        """Return the amount at which a function of both pressures comes to zero [mol]."""

        def excess(moved_mol: float) -> float:
            stop_bar = self.stop_bar(cylinder, moved_mol)
            gone_mol = moved_mol + self.whip.takes(self.gas, stop_bar, own=self.own)
            return excess_bar(self.standing_bar(less(bottle, gone_mol)), stop_bar)

        most_mol = min(wanted_mol, _NEARLY_ALL * bottle.total_mol)
        # Mostly a bottle gives all that is wanted: ask that first.
        return most_mol if excess(most_mol) <= 0.0 else root(excess, 0.0, most_mol)


def less(bottle: Contents, given_mol: float) -> Contents:
    """What a bottle holds after it gave an amount.

    Parameters
    ----------
    bottle : Contents
        What it held.
    given_mol : float
        What it gave [mol].

    Returns
    -------
    Contents
        The rest.
    """
    return bottle.kept(max(1.0 - given_mol / bottle.total_mol, _LEAST_LEFT))


@dataclass(frozen=True, slots=True)
class _State:
    """Where an order has led so far.

    Parameters
    ----------
    tap : Tap
        How the next bottle is opened.
    cylinder : Contents
        What the cylinder holds.
    bottles : mapping
        What each bottle holds, the fullest at the start first.
    missing : float
        What is still wanted, as a fraction of what was [1].
    opened : tuple of str
        The bottles opened.
    """

    tap: Tap
    cylinder: Contents
    bottles: Mapping[str, Contents]
    wanted_mol: float
    missing: float = 1.0
    opened: tuple[str, ...] = ()

    @property
    def is_done(self) -> bool:
        """Whether nothing is missing."""
        return self.missing <= _SAME

    def after(self, name: str) -> _State | None:
        """Open one more bottle; None if it gives nothing."""
        tap, bottle = self.tap, self.bottles[name]
        given_mol = tap.offer(bottle, self.cylinder, self.missing * self.wanted_mol).amount_mol
        if given_mol <= _SAME * self.wanted_mol:
            return None
        return replace(
            self,
            tap=replace(tap, own=True),
            cylinder=self.cylinder.with_gas(tap.gas, given_mol),
            bottles={**self.bottles, name: tap.left(bottle, self.cylinder, given_mol)},
            missing=self.missing - given_mol / self.wanted_mol,
            opened=(*self.opened, name),
        )

    def following(self, order: Iterable[str]) -> _State:
        """Open bottles in an order, until nothing is missing."""
        state = self
        for name in order:
            if state.is_done:
                break
            state = state.after(name) or state
        return state

    def best(self, names: Sequence[str], best: _State) -> _State:
        """Return the best of a state and of where every order of some bottles leads."""
        for name in names:
            state = None if name in self.opened or self.is_done else self.after(name)
            if state is None or (best.is_done and state.has_less_than(best)):
                continue
            best = state if state.is_better(best) else best
            best = state.best(names, best)
        return best

    def has_less_than(self, other: _State) -> bool:
        """Tell whether the fullest bottle is less full: it will not come back."""
        fullest = next(iter(self.bottles))
        here, there = (s.tap.standing_bar(s.bottles[fullest]) for s in (self, other))
        return here < there - _SAME_BAR

    def is_better(self, other: _State) -> bool:
        """Tell whether it gives more, or as much and leaves the fullest bottles fuller."""
        if abs(other.missing - self.missing) > _SAME:
            return self.missing < other.missing
        for name in self.bottles:
            here, there = (s.tap.standing_bar(s.bottles[name]) for s in (self, other))
            if abs(here - there) > _SAME_BAR:
                return here > there
        return False

    def is_hopeless(self, rising: Sequence[str]) -> bool:
        """Tell by a bound whether no order at all can give what is wanted."""
        tap = self.tap
        if tap.booster is None:  # without a whip the usual order is the best there is
            bare = replace(tap, whip=Whip(0.0, tap.ambient_bar, self.cylinder.pairs))
            return not replace(self, tap=bare).following(rising).is_done
        lowest_bar = min(tap.booster.min_inlet_bar, tap.stop_bar(self.cylinder, 0.0))
        gives = sum(_above(tap, bottle, lowest_bar) for bottle in self.bottles.values())
        return gives < self.wanted_mol


def best_order(
    tap: Tap, cylinder: Contents, bottles: Mapping[str, Contents], wanted_mol: float
) -> tuple[str, ...]:
    """Return the order in which to open the bottles of a gas.

    Parameters
    ----------
    tap : Tap
        How they are opened.
    cylinder : Contents
        What the cylinder holds.
    bottles : mapping
        Name to contents.
    wanted_mol : float
        Amount wanted [mol].

    Returns
    -------
    tuple of str
        Every name once; those at the end may not be needed.

    Examples
    --------
    >>> from blender.gas import OXYGEN
    >>> from blender.vessel import contents_at
    >>> held = contents_at(OXYGEN, 30.0, 20.0, 0.012)
    >>> bank = {"full": contents_at(OXYGEN, 190.0, 20.0, 0.05)}
    >>> bank["used"] = contents_at(OXYGEN, 60.0, 20.0, 0.05)
    >>> best_order(Tap(OXYGEN, 20.0, 1.01325, Whip(0.0, 1.01325, "")), held, bank, 30.0)
    ('used', 'full')
    """
    rising = tuple(sorted(bottles, key=lambda name: tap.standing_bar(bottles[name])))
    is_plain = tap.booster is None and not tap.whip.volume_m3
    if is_plain or not 1 < len(rising) <= MOST_TRIED or wanted_mol <= 0.0:
        return rising
    begin = _State(tap, cylinder, {name: bottles[name] for name in rising[::-1]}, wanted_mol)
    best = begin.following(rising)
    if not best.is_done and begin.is_hopeless(rising):
        return rising
    # Where that does, opening a bottle fuller than these would only leave it less full.
    names = rising[: rising.index(best.opened[-1]) + 1] if best.is_done else rising
    begin = replace(begin, bottles={name: bottles[name] for name in names[::-1]})
    best = begin.best(names, best) if len(names) > 1 else best
    return best.opened + tuple(name for name in rising if name not in best.opened)


def _above(tap: Tap, bottle: Contents, gauge_bar: float) -> float:
    """Return what a bottle holds above a gauge pressure [mol]."""
    kept = amount_for_pressure(
        bottle.mix,
        gauge_bar,
        BOTTLE_TEMPERATURE_C,
        bottle.volume_m3,
        tap.ambient_bar,
        bottle.pairs,
    )
    return max(bottle.total_mol - kept, 0.0)
