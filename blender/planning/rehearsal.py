"""A fill carried out on paper, one step at a time, with every amount accounted for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from blender.errors import InputError
from blender.gas import Mix
from blender.planning.cascade import Offer
from blender.planning.cautions import cautions
from blender.planning.draw import Bank, Draw, above_compressor, shortage
from blender.planning.injection import Injection, drawn_in, ends
from blender.planning.recipe import Plan, Step
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING
from blender.planning.streams import Streams
from blender.planning.supplies import TOP_NAME, Supply
from blender.planning.tower import TOWER_NAME
from blender.vessel import Contents, added_to_reach, amount_for_pressure

_NO_GAS = (0.0, 0.0, 0.0, 0.0)
_ROUNDING_BAR = 1e-9


class Rehearsal:
    """The cylinder, the bank and the steps so far.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    contents : Contents
        What is in the cylinder.
    """

    def __init__(self, request: PlanRequest, contents: Contents) -> None:
        self.request = request
        self.contents = contents
        self.steps: list[Step] = []
        everything = (*request.supplies, Supply(TOP_NAME, request.top))
        self.bank = Bank(everything, request.ambient_bar, request.pairs, request.equipment)

    def gauge_bar(self, temperature_c: float) -> float:
        """Return what the gauge shows now [bar] with the gas at a temperature [degC]."""
        return self.contents.gauge_bar(temperature_c, self.request.ambient_bar)

    def drain(self, kept: float, temperature_c: float) -> None:
        """Let mixed gas out until a fraction [1] is left, then let it come to rest at [degC]."""
        before, from_bar = self.contents, self.gauge_bar(temperature_c)
        self.contents = before.kept(kept)
        self._note("drain", before.kept(1.0 - kept), from_bar, temperature_c)
        self.rest(temperature_c)

    def rest(self, temperature_c: float) -> None:
        """Wait until the gas is mixed and at a temperature [degC]."""
        bar = self.gauge_bar(temperature_c)
        self.steps.append(
            Step("rest", self.contents.mix, from_bar=bar, to_bar=bar, temperature_c=temperature_c)
        )

    def analyse(self) -> None:
        """Analyse the gas."""
        self.steps.append(Step("analyse", self.contents.mix))

    def finished(self) -> Plan:
        """Close with rest and analysis, and return the plan."""
        request = self.request
        self.rest(request.settle_at_c)
        self.analyse()
        steps, result = tuple(self.steps), self.contents.mix
        pressure_bar = self.gauge_bar(request.settle_at_c)
        return Plan(
            request, steps, result, pressure_bar, cautions(request, steps, result, pressure_bar)
        )

    def add(self, gas: Mix, amount_mol: float, temperature_c: float, *, more: bool = False) -> None:
        """Let in an amount of a gas, bottle by bottle.

        Parameters
        ----------
        gas : Mix
            The gas.
        amount_mol : float
            Its amount [mol].
        temperature_c : float
            Temperature of the gas in the cylinder at the stop [degC].
        more : bool
            Whether another gas follows: what is left in the whip then goes in with it.

        Raises
        ------
        ShortageError
            If the bottles cannot give it.
        """
        whip = self.bank.whip
        later_mol = whip.left(gas) if more else 0.0
        if later_mol < amount_mol:
            amount_mol -= later_mol

        def available(name: str, left_mol: float) -> Offer:
            entered = self._with_first(whip.first_in(gas))
            return self.bank.available(name, entered, gas, left_mol, temperature_c)

        def let_in(name: str, offer: Offer) -> None:
            from_bar, first = self.gauge_bar(temperature_c), whip.first_in(gas)
            self.contents = self._with_first(first).with_gas(gas, offer.amount_mol)
            beyond_mol = self.bank.beyond(gas, self.gauge_bar(temperature_c))
            draw = self.bank.take(name, offer.amount_mol, beyond_mol)
            whip.changed(gas)
            extra = _equipment_used(offer, beyond_mol, first)
            moved = self._of(gas, offer.amount_mol)
            self._note("add", moved, from_bar, temperature_c, draw, extra)

        entered = self._with_first(whip.first_in(gas))
        names = self.bank.opened(gas, entered, amount_mol, temperature_c)
        self._draw(gas, amount_mol, temperature_c, names, available, let_in)

    def flow(
        self,
        streams: Streams,
        temperature_c: float,
        figures: Callable[[Streams], dict[str, Any]],
        first: tuple[Mix, float] | None = None,
    ) -> None:
        """Let in what a compressor delivers while gas is injected into its intake.

        Parameters
        ----------
        streams : Streams
            What is delivered into the cylinder.
        temperature_c : float
            Temperature of the gas in the cylinder at the end [degC].
        figures : callable
            Gives the intake figures of what a step draws in.
        first : tuple of Mix and float, or None
            What stands in the filter tower and goes in before, with its amount [mol]; as much
            of what is delivered goes into the tower meanwhile.

        Raises
        ------
        ShortageError
            If the bottles cannot give it, or the compressor does not reach the stop.
        """
        first_mol = first[1] if first else 0.0
        run = drawn_in(streams, streams.total_mol + first_mol)
        oxygen = Injection(self.bank, run.oxygen, run.oxygen_mol)
        helium = Injection(self.bank, run.helium, run.helium_mol)
        begin, spent = 0.0, first_mol / run.total_mol
        for end in ends(spent, oxygen, helium):
            part, from_bar = run.part(end - begin), self.gauge_bar(temperature_c)
            extra = figures(part) | helium.told(end, part.helium_mol, "helium_supply")
            injected = {"oxygen_mol": part.oxygen_mol, "helium_mol": part.helium_mol}
            extra |= {key: mol for key, mol in injected.items() if mol > 0.0}
            if first and end <= spent + NOTHING:
                moved, draw = self._of(first[0], part.total_mol), Draw(TOWER_NAME, part.total_mol)
                extra |= oxygen.told(end, part.oxygen_mol, "oxygen_supply")
            else:
                moved = self._delivered(part)
                draw = oxygen.draw(end, part.oxygen_mol) or Draw(TOP_NAME, part.top_mol)
            self.contents = self.contents.with_gas(moved.mix, moved.total_mol)
            self._note("flow", moved, from_bar, temperature_c, draw, extra)
            begin = end
        self._check_compressor(streams.top, self.gauge_bar(temperature_c), temperature_c)

    def _delivered(self, streams: Streams) -> Contents:
        moved = Contents(_NO_GAS, self.contents.volume_m3)
        for gas, amount_mol in streams.parts:
            moved = moved.with_gas(gas, amount_mol)
        return moved

    def purge(self, gas: Mix, to_bar: float, temperature_c: float) -> None:
        """Let gas in to a gauge pressure, let it mix, vent to where it was.

        Parameters
        ----------
        gas : Mix
            The gas.
        to_bar : float
            Gauge pressure it is let in to [bar].
        temperature_c : float
            Temperature of the gas in the cylinder [degC].

        Raises
        ------
        ShortageError
            If no single bottle can do it.
        """
        from_bar = self.gauge_bar(temperature_c)
        ambient = self.request.ambient_bar
        amount = added_to_reach(self.contents, gas, to_bar, temperature_c, ambient)
        for name in self.bank.sources(gas):
            offer = self.bank.available(name, self.contents, gas, amount, temperature_c)
            if offer.amount_mol >= amount:
                beyond_mol = self.bank.beyond(gas, to_bar)
                draw = self.bank.take(name, amount, beyond_mol)
                self.bank.whip.changed(gas)
                break
        else:
            raise shortage(gas, amount, self.bank.standing(gas))
        mixed = self.contents.with_gas(gas, amount)
        volume, pairs = mixed.volume_m3, mixed.pairs
        left = amount_for_pressure(mixed.mix, from_bar, temperature_c, volume, ambient, pairs)
        self.contents = mixed.kept(left / mixed.total_mol)
        step_gas, extra = self._of(gas, amount), _equipment_used(offer, beyond_mol, None)
        self._note("purge", step_gas, from_bar, temperature_c, draw, extra, to_bar=to_bar)

    def _draw(
        self,
        gas: Mix,
        amount_mol: float,
        temperature_c: float,
        names: Sequence[str],
        available: Callable[[str, float], Offer],
        let_in: Callable[[str, Offer], None],
    ) -> None:
        """Take an amount from the supplies of a gas, and let in what each gives."""
        left_mol, nothing = amount_mol, NOTHING * amount_mol
        for name in names:
            offer = available(name, left_mol)
            if offer.amount_mol <= nothing:
                continue
            let_in(name, offer)
            left_mol -= offer.amount_mol
            if left_mol <= nothing:
                return
        if TOP_NAME in names:
            stop = self.contents.with_gas(gas, left_mol)
            stop_bar = stop.gauge_bar(temperature_c, self.request.ambient_bar)
            self._check_compressor(gas, stop_bar, temperature_c)
        raise shortage(gas, left_mol, self.bank.standing(gas))

    def _check_compressor(self, gas: Mix, stop_bar: float, temperature_c: float) -> None:
        """Refuse a stop above what the compressor reaches."""
        most_bar = self.request.compressor_max_bar
        if most_bar is not None and stop_bar > most_bar + _ROUNDING_BAR:
            raise above_compressor(gas, stop_bar, temperature_c, most_bar)

    def _with_first(self, first: tuple[Mix, float] | None) -> Contents:
        """Return what the cylinder holds with what was left in the whip."""
        return self.contents.with_gas(*first) if first else self.contents

    def _of(self, gas: Mix, amount_mol: float) -> Contents:
        return Contents(_NO_GAS, self.contents.volume_m3).with_gas(gas, amount_mol)

    def _note(
        self,
        action: str,
        moved: Contents,
        from_bar: float,
        temperature_c: float,
        draw: Draw | None = None,
        extra: dict[str, Any] | None = None,
        to_bar: float | None = None,
    ) -> None:
        self.steps.append(
            Step(
                action,
                self.contents.mix,
                supply=draw.supply if draw else None,
                gas=moved.mix,
                from_bar=from_bar,
                to_bar=self.gauge_bar(temperature_c) if to_bar is None else to_bar,
                temperature_c=temperature_c,
                amount_mol=moved.total_mol,
                mass_g=moved.mass_g,
                supply_from_bar=draw.from_bar if draw else None,
                supply_to_bar=draw.to_bar if draw else None,
                **(extra or {}),
            )
        )


def _equipment_used(
    offer: Offer, beyond_mol: float, first: tuple[Mix, float] | None
) -> dict[str, Any]:
    """Return what a step says of booster and whip; what is not there is left out."""
    used: dict[str, Any] = {"boosted": True} if offer.boosted else {}
    if beyond_mol:
        used["whip_mol"] = beyond_mol
    if first:
        used["whip_gas"], used["whip_gas_mol"] = first
    return used


def stop_temperatures(request: PlanRequest, count: int) -> tuple[float, ...]:
    """Temperature of the gas at the stop of each adding gas [degC].

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    count : int
        How many gases the plan lets in.

    Returns
    -------
    tuple of float
        As many temperatures as gases [degC].

    Raises
    ------
    InputError
        If there is neither one temperature for all nor one for each gas.
    """
    given = request.temperatures_c
    if len(given) == 1:
        return given * count
    if len(given) != count:
        raise InputError(
            "--temperature",
            f"a list of {len(given)}",
            f"this plan lets in {count} gas{'es' * (count != 1)}; give {count}, or one for all",
        )
    return given
