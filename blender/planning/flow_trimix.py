"""Helium through the compressor: injected into the intake first, oxygen after it.

Along the intake stand: air, the helium inlet, a meter, the oxygen inlet, a meter, the
compressor.  The first meter tells the helium by how far it dilutes the air's oxygen, the second
the oxygen.  The compressor draws the same volume whatever goes in, so with the oxygen still off
more air passes the first meter and it reads higher than while both run: both readings are given.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from blender.gas import Mix
from blender.planning.intake import dry_share
from blender.planning.recipe import Caution, Step
from blender.planning.request import PlanRequest
from blender.planning.streams import Streams

# Below this a gas is not to be breathed at the surface, as for the steps of a plan.
_HYPOXIC_O2 = 0.18


def injected_helium(request: PlanRequest) -> Mix | None:
    """Return the helium that goes in at the intake, None if none does.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Mix or None
        The supply richest in helium, if helium is to be injected and there is some.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("45bar:air", "have"), parse_want("220bar:21/20")
    >>> way = {"method": "continuous-flow", "inject": ("helium", "oxygen")}
    >>> injected_helium(PlanRequest(0.012, have, want, **way)).he
    1.0
    """
    if "helium" not in request.inject:
        return None
    gases = [supply.gas for supply in request.supplies if supply.gas.he > 0.0]
    return max(gases, key=lambda gas: gas.he, default=None)


def helium_figures(request: PlanRequest, streams: Streams) -> dict[str, float]:
    """What to set and watch while helium is injected; nothing where none is.

    Parameters
    ----------
    request : PlanRequest
        With the air's state and, for the flow, the compressor's delivery.
    streams : Streams
        What goes in.

    Returns
    -------
    dict
        ``intake_he``: helium delivered, dry [1]; ``reading_after_helium``: what a true meter
        between the two inlets reads while both run [1]; ``reading_before_oxygen``: the same
        before the oxygen is turned on [1]; ``intake_without_helium``: oxygen delivered, dry, if
        the helium stops and the oxygen does not [1]; ``helium_l_min`` [L/min].

    Notes
    -----
    Ideal gases at the intake's ambient pressure; the compressor draws a constant volume.
    """
    helium_mol, oxygen_mol = streams.helium_mol, streams.oxygen_mol
    if helium_mol <= 0.0:
        return {}
    dry = dry_share(request)
    damp_mol = streams.top_mol / dry
    whole_mol = damp_mol + oxygen_mol + helium_mol
    helium_o2, air_o2 = helium_mol * streams.helium.o2, streams.top.o2 * dry
    with_oxygen = helium_o2 + streams.top_mol * streams.top.o2
    more_air_mol = damp_mol + helium_mol  # drawn in where the helium has stopped
    oxygen_o2 = oxygen_mol * streams.oxygen.o2
    figures = {
        "intake_he": streams.delivered_he,
        "reading_after_helium": with_oxygen / (damp_mol + helium_mol),
        "reading_before_oxygen": (helium_o2 + (whole_mol - helium_mol) * air_o2) / whole_mol,
        "intake_without_helium": (oxygen_o2 + more_air_mol * air_o2)
        / (oxygen_mol + more_air_mol * dry),
    }
    if request.delivery_l_min is not None:
        figures["helium_l_min"] = request.delivery_l_min * helium_mol / whole_mol
    return figures


def helium_cautions(request: PlanRequest, steps: Sequence[Step]) -> Iterator[Caution]:
    """Yield what must be known where helium is injected.

    Parameters
    ----------
    request : PlanRequest
        With the rated intake.
    steps : sequence of Step
        The steps.

    Yields
    ------
    Caution
        ``helium-intake``; ``hypoxic-intake`` if the intake is hypoxic after the helium.
    """
    flow = next((step for step in steps if step.reading_after_helium is not None), None)
    if flow is None:
        return
    assert flow.reading_after_helium is not None
    yield Caution("helium-intake", _order(request, flow))
    lowest = min(flow.reading_after_helium, flow.intake_o2 or 1.0)
    if lowest < _HYPOXIC_O2:
        yield Caution(
            "hypoxic-intake",
            f"after the helium the intake carries only {lowest:.1%} oxygen; that is as planned, "
            "but DO NOT BREATHE at the intake, or what the compressor delivers, and let nobody "
            "else; ventilate the room",
        )


def _order(request: PlanRequest, flow: Step) -> str:
    """Say in which order to turn the gases on and off, and what a lost helium does."""
    lost, rated = flow.intake_without_helium or 0.0, request.rated_intake or 1.0
    text = (
        f"turn the helium on first and off last: the meter between the inlets reads "
        f"{flow.reading_before_oxygen or 0.0:.1%} before the oxygen is on and "
        f"{flow.reading_after_helium or 0.0:.1%} with it, the one after both "
        f"{flow.intake_reading or 0.0:.1%}; if the helium stops, close the oxygen at once: the "
        f"intake would carry {lost:.1%}"
    )
    return text + (", more than the compressor is rated for" if lost > rated else "")
