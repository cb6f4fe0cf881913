"""The hot stop: where to shut the valve so that the gauge settles right."""

from __future__ import annotations

from dataclasses import dataclass

from blender.errors import InputError, ModelRangeError
from blender.heat.filling import Feed, fill
from blender.heat.state import Warm, pressure_and_energy
from blender.heat.wall import Wall
from blender.realgas.limits import MAX_PRESSURE_PA
from blender.units import k_to_c, pa_to_bar
from blender.vessel import Contents, added_to_reach

_SMALL_PA = 10.0
_MOST_TRIES = 30
_NONE = (
    "no hot stop below 500 bar and 227 degC, the range of the equation of state, settles there: "
    "fill slower, in stages, or say how the wall takes heat"
)


@dataclass(frozen=True, slots=True)
class HeatedFill:
    """Everything the heat of one fill depends on.

    Parameters
    ----------
    start : Warm
        Before.
    feed : Feed
        The gas let in.
    wall : Wall
        The metal.
    room_k : float
        Temperature of the room [K].
    seconds : float
        How long gas goes in [s].
    want_pa : float
        Absolute pressure wanted once settled [Pa].
    settle_k : float
        Temperature it counts at [K].
    """

    start: Warm
    feed: Feed
    wall: Wall
    room_k: float
    seconds: float
    want_pa: float
    settle_k: float

    def wanted(self) -> Contents:
        """Return the contents that settle at the pressure wanted.

        Raises
        ------
        InputError
            If the cylinder holds as much already.
        """
        inside, settle_c = self.start.contents, k_to_c(self.settle_k)
        holds_pa, _ = pressure_and_energy(inside, self.settle_k)
        if not self.want_pa > holds_pa + _SMALL_PA:
            given = f"{pa_to_bar(self.want_pa):.2f} bar absolute"
            held = f"{pa_to_bar(holds_pa):.2f} at {settle_c:g} degC"
            raise InputError("--want", given, f"ask for more than it holds already, {held}")
        want_bar = pa_to_bar(self.want_pa)
        let_in = added_to_reach(inside, self.feed.gas, want_bar, settle_c, 0.0)
        return inside.with_gas(self.feed.gas, let_in)

    def to(self, to_pa: float, seconds: float) -> tuple[Warm, ...]:
        """Return the way to an absolute pressure [Pa] in a time [s]."""
        return fill(self.start, self.feed, self.wall, self.room_k, to_pa, seconds)


def hot_stop(asked: HeatedFill) -> tuple[Warm, ...]:
    """Find the stop that leaves the right amount of gas in the cylinder.

    The stop is what the right amount shows at the temperature a fill to that very stop ends
    with; solved by secants.  Cooled by the real gas, never by P/T.

    Parameters
    ----------
    asked : HeatedFill
        The fill; its pressures are absolute [Pa], its temperatures [K].

    Returns
    -------
    tuple of Warm
        The way; the last state is the stop.

    Raises
    ------
    InputError
        If the cylinder holds as much already.
    ModelRangeError
        If the stop is out of the range of the equation of state.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> from blender.vessel import contents_at
    >>> start = Warm(contents_at(AIR, 60.0, 20.0, 0.012, 0.0), 293.15, 293.15)
    >>> steel = Wall(6650.0, 20.0, 5.0)
    >>> way = hot_stop(HeatedFill(start, Feed(AIR, 293.15), steel, 293.15, 300.0, 232e5, 293.15))
    >>> round(way[-1].gauge_bar(0.0), 1), round(way[-1].contents.gauge_bar(20.0, 0.0), 2)
    (283.1, 232.0)
    """
    wanted = asked.wanted()
    try:
        return _settling_as(wanted, asked)
    except ModelRangeError:
        given = f"{pa_to_bar(asked.want_pa):.2f} bar absolute in {asked.seconds / 60.0:g} min"
        raise ModelRangeError("--want", given, _NONE) from None


def _settling_as(wanted: Contents, asked: HeatedFill) -> tuple[Warm, ...]:
    def at_the_end(to_pa: float) -> tuple[tuple[Warm, ...], float]:
        way = asked.to(to_pa, asked.seconds)
        return way, pressure_and_energy(wanted, way[-1].gas_k)[0]

    lowest_pa = asked.start.pressure_pa + 1.0
    here_pa = max(asked.want_pa, lowest_pa)
    way, shown_pa = at_the_end(here_pa)
    miss_pa, slope = shown_pa - here_pa, -1.0
    for _ in range(_MOST_TRIES):
        if abs(miss_pa) <= _SMALL_PA:
            return way
        next_pa = min(max(here_pa - miss_pa / slope, lowest_pa), MAX_PRESSURE_PA)
        if next_pa == here_pa:
            break
        way, shown_pa = at_the_end(next_pa)
        slope = (shown_pa - next_pa - miss_pa) / (next_pa - here_pa)
        here_pa, miss_pa = next_pa, shown_pa - next_pa
    raise ModelRangeError("--want", f"{pa_to_bar(asked.want_pa):.2f} bar absolute", _NONE)
