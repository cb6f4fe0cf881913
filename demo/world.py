"""What truly happens, apart from every plan: gas in cylinders, and instruments that err.

The station never looks in here.  Its people read gauges, guess temperatures and hold cells
into the gas; what those show comes from what was truly let in.  The errors are invented but
of the size such instruments have: a class 1.0 gauge, a hand on the cylinder, a galvanic cell.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

from blender.gas import AIR, AIR_O2, Mix, parse_gas
from blender.humidity import parse_air_state
from blender.planning.request import parse_gas_at
from blender.units import parse_gauge_pressure, parse_percent, parse_size
from blender.vessel import Contents, added_to_reach, amount_for_pressure, contents_at
from demo.station import Bottle, Meter, Source


@dataclass(frozen=True, slots=True)
class Gauge:
    """A pressure gauge with an error of zero and of span, read to a step of its scale."""

    name: str
    zero_bar: float
    span: float
    step_bar: float

    def shows(self, true_bar: float) -> float:
        """Return what is read off it at a true gauge pressure [bar]."""
        steps = round((true_bar * self.span + self.zero_bar) / self.step_bar)
        return round(max(steps, 0) * self.step_bar, 3)

    def true_bar(self, shown_bar: float) -> float:
        """Return the true gauge pressure at which the needle stands there [bar]."""
        return max((shown_bar - self.zero_bar) / self.span, 0.0)

    def at_or_below(self, stop_bar: float) -> float:
        """Return the last mark of the scale that is not above a stop [bar]."""
        return math.floor(stop_bar / self.step_bar + 1e-9) * self.step_bar


# Well inside class 1.0 of a 315 bar scale, that is 3.15 bar.
PANEL = Gauge("panel", zero_bar=0.2, span=1.0025, step_bar=0.5)
CHECK_IN = Gauge("check-in", zero_bar=-0.1, span=0.9985, step_bar=0.1)


@dataclass(slots=True)
class Vessel:
    """A gas space as it truly is."""

    contents: Contents
    gas_c: float

    @property
    def gauge_bar(self) -> float:
        """True gauge pressure [bar]."""
        return self.contents.gauge_bar(self.gas_c)


@dataclass
class Cell:
    """An analyser as it truly answers, once it has been set."""

    meter: Meter
    gain: float = 1.0

    def set_on_its_gas(self) -> None:
        """Turn the knob until it shows what it should, on the gas as it truly is."""
        gas, air = parse_gas(self.meter.true_gas or self.meter.gas), self.meter.air
        water = parse_air_state(air).water() if air else 0.0
        self.gain = parse_percent(self.meter.shown, "shown") / (gas.o2 * (1.0 - water) * 100.0)

    def shows(self, o2: float, chance: random.Random) -> float:
        """Return what it shows on a dry gas [%], to one decimal."""
        true = o2 * 100.0
        above = true - parse_percent(self.meter.shown, "shown")
        noise = chance.gauss(0.0, self.meter.noise_points)
        return round(self.gain * true + self.meter.slope * above + noise, 1)


@dataclass
class World:
    """Everything in and about the shed, and the chance that moves it.

    Parameters
    ----------
    chance : random.Random
        What nobody decides.
    room_c : float
        Temperature of the shed [degC].
    intake_error : float
        How much richer the stream is than the intake's meter shows, as a part of it [1].
    """

    chance: random.Random
    room_c: float = 19.0
    intake_error: float = 0.002
    vessels: dict[str, Vessel] = field(default_factory=dict)
    sources: dict[str, Vessel] = field(default_factory=dict)
    cells: dict[str, Cell] = field(default_factory=dict)

    def bring(self, bottle: Bottle) -> None:
        """Let a customer carry a cylinder in."""
        truly = parse_gas_at(bottle.truly, "truly")
        gas_c = self.room_c if truly.temperature_c is None else truly.temperature_c
        volume_m3 = parse_size(bottle.size, "size").volume_m3
        inside = contents_at(truly.mix, truly.gauge_bar, gas_c, volume_m3)
        self.vessels[bottle.serial] = Vessel(inside, gas_c)

    def connect(self, source: Source) -> None:
        """Connect a supply; without a size it is the compressor and never runs out."""
        if source.size:
            volume_m3 = parse_size(source.size, "size").volume_m3
            gauge_bar = parse_gauge_pressure(source.true_at)
            inside = contents_at(parse_gas(source.true_gas), gauge_bar, 20.0, volume_m3)
            self.sources[source.name] = Vessel(inside, 20.0)

    def reads(self, serial: str, gauge: Gauge = PANEL) -> float:
        """Return what a gauge shows on a cylinder [bar]."""
        return gauge.shows(self.vessels[serial].gauge_bar)

    def warmth(self, serial: str) -> float:
        """Return a person's estimate of the gas's temperature, in whole degrees [degC]."""
        return float(round(self.vessels[serial].gas_c + self.chance.gauss(0.0, 0.3)))

    def oxygen(self, serial: str) -> float:
        """Return the true oxygen fraction in a cylinder [1]."""
        return self.vessels[serial].contents.mix.o2

    def cell_shows(self, serial: str, meter: str) -> float:
        """Return what an analyser shows on a cylinder's gas [%]."""
        return self.cells[meter].shows(self.oxygen(serial), self.chance)

    def helium_shows(self, serial: str) -> float:
        """Return what the bench's helium channel shows on a cylinder's gas [%]."""
        helium = self.vessels[serial].contents.mix.he * 100.0
        return round(helium + 0.15 + self.chance.gauss(0.0, 0.15), 1)

    def let_in(
        self,
        serial: str,
        source: str,
        shown_bar: float,
        thought_c: float,
        gauge: Gauge = PANEL,
    ) -> None:
        """Let gas in until a gauge stands at a mark.

        The blender takes the gas to be at `thought_c`; it is there within a degree or so.
        A bottle gives no more than until both are level.
        """
        self._swell(serial, source, gauge.true_bar(shown_bar), thought_c)

    def stream_in(
        self, serial: str, reading: float, air: str, shown_bar: float, thought_c: float
    ) -> Mix:
        """Let in what the compressor delivers, its intake held at a meter's reading [1].

        Returns the dry gas delivered: the intake meter errs, and only the air is damp.
        """
        oxygen, water = parse_gas("oxygen99.6"), parse_air_state(air).water()
        damp = reading * (1.0 + self.intake_error + self.chance.gauss(0.0, 0.002))
        damp_air = AIR_O2 * (1.0 - water)
        share = (damp - damp_air) / (oxygen.o2 - damp_air)
        dry = [
            share * pure + (1.0 - share) * (1.0 - water) * part
            for pure, part in zip(oxygen.fractions, AIR.fractions, strict=True)
        ]
        o2, he, n2, ar = (part / sum(dry) for part in dry)
        delivered = Mix(o2, he, n2, ar)
        self._swell(serial, "intake", PANEL.true_bar(shown_bar), thought_c, delivered)
        return delivered

    def _swell(
        self,
        serial: str,
        source: str,
        goal_bar: float,
        thought_c: float,
        gas: Mix | None = None,
    ) -> None:
        vessel, bottle = self.vessels[serial], self.sources.get(source)
        vessel.gas_c = thought_c + self.chance.gauss(0.0, 0.5)
        incoming = gas or (bottle.contents.mix if bottle else AIR)
        goal = min(goal_bar, bottle.gauge_bar) if bottle else goal_bar
        if goal <= vessel.gauge_bar:
            return
        amount = added_to_reach(vessel.contents, incoming, goal, vessel.gas_c)
        vessel.contents = vessel.contents.with_gas(incoming, amount)
        if bottle:
            bottle.contents = bottle.contents.kept(1.0 - amount / bottle.contents.total_mol)

    def let_out(self, serial: str, shown_bar: float, *, chilled_k: float = 0.0) -> None:
        """Let mixed gas out until the panel's gauge stands at a mark; a quick bleed chills it."""
        vessel = self.vessels[serial]
        vessel.gas_c -= chilled_k
        goal = PANEL.true_bar(shown_bar)
        if goal >= vessel.gauge_bar:
            return
        inside = vessel.contents
        left = amount_for_pressure(inside.mix, goal, vessel.gas_c, inside.volume_m3)
        vessel.contents = inside.kept(left / inside.total_mol)

    def rest(self, serial: str) -> None:
        """Let a cylinder come to the temperature of the room."""
        self.vessels[serial].gas_c = self.room_c + self.chance.gauss(0.0, 0.3)
