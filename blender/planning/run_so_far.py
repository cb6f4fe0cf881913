"""What a run of the compressor has put into a cylinder so far: from its average and the gauge."""

from __future__ import annotations

from dataclasses import replace

from blender.errors import InputError
from blender.gas import Mix
from blender.planning.flow_trimix import injected_helium
from blender.planning.hold_up import after_hold_up, old_gas
from blender.planning.intake import Intake, streams_of
from blender.planning.oxygen import oxygen_of
from blender.planning.request import PlanRequest
from blender.planning.supplies import plain_name
from blender.planning.tower import Tower
from blender.planning.what_if import shown_bar
from blender.vessel import Contents, added_to_reach

_SAME = 1e-9


def intake_of(request: PlanRequest) -> Intake:
    """Return what goes into the intake of a run.

    Parameters
    ----------
    request : PlanRequest
        The fill by continuous flow.

    Returns
    -------
    Intake
        Air, oxygen, and helium if that is injected.

    Raises
    ------
    InputError
        If it is no run of a compressor, or nobody says what that is rated for.
    """
    if request.method != "continuous-flow":
        raise InputError("--method", request.method, "a trip is the compressor's: continuous-flow")
    if request.way:
        raise InputError("--way", request.way, "a trip is planned on by continuous flow alone")
    if request.rated_intake is None:
        raise InputError(
            "--rated-intake",
            "nothing",
            "give the highest O2 the compressor is rated for; no default",
        )
    helium = injected_helium(request)
    return Intake(request.top, oxygen_of(request), helium, request.rated_intake)


def delivered(
    request: PlanRequest, intake: Intake, average_o2: float, average_he: float | None
) -> Mix:
    """Return the gas that was delivered on average.

    Parameters
    ----------
    request : PlanRequest
        The fill.
    intake : Intake
        What goes in.
    average_o2 : float
        Average oxygen fraction so far, dry [1].
    average_he : float or None
        The same of helium, where helium is injected [1].

    Returns
    -------
    Mix
        The gas, dry.

    Raises
    ------
    InputError
        If these gases do not make it, or helium was injected and nobody says how much.
    """
    injected = intake.helium is not None
    if average_he is None and injected and request.want.mix.he > 0.0:
        raise InputError(
            "--average-helium", "nothing", "helium was injected: give its average, it is never 0"
        )
    if average_he and not injected:
        raise InputError(
            "--average-helium",
            f"{average_he:.2%}",
            "no helium is injected, see --inject and supply",
        )
    streams = streams_of(intake, average_o2, average_he or 0.0, 1.0)
    if streams is None:
        raise InputError(
            "--average",
            f"{average_o2:.2%} O2" + (f" and {average_he:.2%} He" if average_he else ""),
            f"{plain_name(intake.oxygen)} injected into {plain_name(intake.top)} gives from "
            f"{intake.top.o2:.2%} O2 on, less with helium; give the dry fraction delivered",
        )
    o2, he, n2, ar = (sum(gas.fractions[i] * mol for gas, mol in streams.parts) for i in range(4))
    return Mix(o2, he, n2, ar)


def held(
    request: PlanRequest, reached_bar: float, at_c: float, average: Mix
) -> tuple[Contents, Mix]:
    """Return what the cylinder holds by now, and the gas in the tower.

    Parameters
    ----------
    request : PlanRequest
        With what was in the cylinder, and in a tower, when the compressor began.
    reached_bar : float
        Gauge pressure now [bar].
    at_c : float
        Temperature of the gas in the cylinder there [degC].
    average : Mix
        The gas delivered on average.

    Returns
    -------
    tuple of Contents and Mix
        The gas in the tower is the average one where there is no tower.

    Raises
    ------
    InputError
        If the pressure is below what was in the cylinder.
    """
    begin, around, tower = request.residual(), request.ambient_bar, old_gas(request)
    shows_bar = begin.gauge_bar(at_c, around)
    if reached_bar < shows_bar - _SAME:
        allowed = (
            f"what was in it shows {shows_bar:.1f} bar at {at_c:g} degC; give what it shows now, "
            "and as --have what was in it when the compressor began"
        )
        raise InputError("--reached", f"{reached_bar:.1f} bar", allowed)
    if tower is None:
        return _filled_up(begin, average, reached_bar, at_c, around), average
    spent = after_hold_up(begin, tower)
    if shown_bar(spent, at_c, around) <= reached_bar:
        return _filled_up(spent, average, reached_bar, at_c, around), average
    now = _filled_up(begin, tower.mix, reached_bar, at_c, around)
    gone_mol = now.total_mol - begin.total_mol
    left = tower.kept(1.0 - gone_mol / tower.total_mol).with_gas(average, gone_mol)
    return now, left.mix


def left_in_tower(request: PlanRequest, gas: Mix) -> Tower | None:
    """Return the tower with what is in it by now, as warm as it was taken to be.

    Parameters
    ----------
    request : PlanRequest
        With the tower as it was.
    gas : Mix
        What is in it by now.

    Returns
    -------
    Tower or None
        None if the plan allows for none.
    """
    tower = request.tower
    if tower is None:
        return None
    at_c = request.first_temperature_c if tower.temperature_c is None else tower.temperature_c
    return replace(tower, mix=gas, temperature_c=at_c)


def _filled_up(
    contents: Contents, gas: Mix, gauge_bar: float, at_c: float, around: float
) -> Contents:
    return contents.with_gas(gas, added_to_reach(contents, gas, gauge_bar, at_c, around))
