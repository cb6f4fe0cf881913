"""A fill carried out on paper, one step at a time, with every amount accounted for."""

from __future__ import annotations

from collections.abc import Callable

from blender.errors import InputError
from blender.gas import Mix
from blender.planning.cautions import cautions
from blender.planning.draw import Bank, Draw, shortage
from blender.planning.recipe import Plan, Step
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING
from blender.planning.supplies import TOP_NAME, Supply, plain_name
from blender.vessel import Contents, added_to_reach, amount_for_pressure

_NO_GAS = (0.0, 0.0, 0.0, 0.0)


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
        self.bank = Bank(everything, request.ambient_bar, request.pairs)

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

    def add(self, gas: Mix, amount_mol: float, temperature_c: float) -> None:
        """Let in an amount of a gas, bottle by bottle.

        Parameters
        ----------
        gas : Mix
            The gas.
        amount_mol : float
            Its amount [mol].
        temperature_c : float
            Temperature of the gas in the cylinder at the stop [degC].

        Raises
        ------
        ShortageError
            If the bottles cannot give it.
        """

        def available(name: str, left_mol: float) -> float:
            return self.bank.available(name, self.contents, gas, left_mol, temperature_c)

        def let_in(draw: Draw) -> None:
            from_bar = self.gauge_bar(temperature_c)
            self.contents = self.contents.with_gas(gas, draw.amount_mol)
            self._note("add", self._of(gas, draw.amount_mol), from_bar, temperature_c, draw)

        self._draw(gas, amount_mol, available, let_in)

    def flow(
        self,
        oxygen: tuple[Mix, float],
        top: tuple[Mix, float],
        temperature_c: float,
        figures: Callable[[float, float], dict[str, float]],
    ) -> None:
        """Let in what a compressor delivers while oxygen is injected into its intake.

        Parameters
        ----------
        oxygen, top : tuple of Mix and float
            The gas injected and the air drawn in, with their amounts [mol].
        temperature_c : float
            Temperature of the gas in the cylinder at the end [degC].
        figures : callable
            Gives the intake figures of a step from the amounts of oxygen and air [mol].
        """
        oxygen_mol, top_mol = oxygen[1], top[1]

        def let_in(draw: Draw) -> None:
            share = draw.amount_mol / oxygen_mol if oxygen_mol else 1.0
            from_bar = self.gauge_bar(temperature_c)
            delivered = self._of(oxygen[0], share * oxygen_mol).with_gas(top[0], share * top_mol)
            self.contents = self.contents.with_gas(delivered.mix, delivered.total_mol)
            extra = figures(share * oxygen_mol, share * top_mol)
            self._note("flow", delivered, from_bar, temperature_c, draw, extra)

        if oxygen_mol > 0.0:
            self._draw(oxygen[0], oxygen_mol, self.bank.injectable, let_in)
        else:
            let_in(Draw(TOP_NAME, top_mol))

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
            if self.bank.available(name, self.contents, gas, amount, temperature_c) >= amount:
                draw = self.bank.take(name, amount)
                break
        else:
            raise shortage(plain_name(gas), amount, self.bank.standing(gas))
        mixed = self.contents.with_gas(gas, amount)
        volume, pairs = mixed.volume_m3, mixed.pairs
        left = amount_for_pressure(mixed.mix, from_bar, temperature_c, volume, ambient, pairs)
        self.contents = mixed.kept(left / mixed.total_mol)
        step_gas = self._of(gas, amount)
        self._note("purge", step_gas, from_bar, temperature_c, draw, to_bar=to_bar)

    def _draw(
        self,
        gas: Mix,
        amount_mol: float,
        available: Callable[[str, float], float],
        let_in: Callable[[Draw], None],
    ) -> None:
        """Take an amount from the supplies of a gas, and let in what each gives."""
        left_mol, nothing = amount_mol, NOTHING * amount_mol
        for name in self.bank.sources(gas):
            given_mol = available(name, left_mol)
            if given_mol <= nothing:
                continue
            let_in(self.bank.take(name, given_mol))
            left_mol -= given_mol
            if left_mol <= nothing:
                return
        raise shortage(plain_name(gas), left_mol, self.bank.standing(gas))

    def _of(self, gas: Mix, amount_mol: float) -> Contents:
        return Contents(_NO_GAS, self.contents.volume_m3).with_gas(gas, amount_mol)

    def _note(
        self,
        action: str,
        moved: Contents,
        from_bar: float,
        temperature_c: float,
        draw: Draw | None = None,
        extra: dict[str, float] | None = None,
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
