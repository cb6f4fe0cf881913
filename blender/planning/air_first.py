"""A minimum of the top gas before oxygen: some stations never let oxygen into an empty cylinder.

US Navy practice: 100 psi of air before oxygen (from memory).  A cylinder that already stands
higher needs none; a fill with oxygen alone cannot follow the rule and is not touched by it.
"""

from __future__ import annotations

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.cautions import OXYGEN_SERVICE_O2
from blender.planning.request import PlanRequest
from blender.vessel import Contents, added_to_reach

_ENOUGH_BAR = 1e-9


def due_mol(
    request: PlanRequest, contents: Contents, gas: Mix, temperature_c: float, top_mol: float
) -> float:
    """Amount of top gas that has to go in before a gas does.

    Parameters
    ----------
    request : PlanRequest
        With `air_first_bar` [bar].
    contents : Contents
        What the cylinder holds.
    gas : Mix
        What is to be let in next.
    temperature_c : float
        Temperature of the gas in the cylinder [degC].
    top_mol : float
        All the top gas this fill lets in [mol].

    Returns
    -------
    float
        Amount [mol]; 0 if the gas is not rich or the cylinder stands high enough.

    Raises
    ------
    NoFillError
        If the fill has not that much top gas.

    Examples
    --------
    >>> from blender.gas import OXYGEN
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("0bar:air", "have"), parse_want("200bar:EAN32")
    >>> asked = PlanRequest(0.012, have, want, air_first_bar=6.9)
    >>> round(due_mol(asked, asked.residual(), OXYGEN, 20.0, 80.0), 2)
    3.41
    """
    least_bar, ambient_bar = request.air_first_bar, request.ambient_bar
    if least_bar == 0.0 or gas.o2 <= OXYGEN_SERVICE_O2:
        return 0.0
    if contents.gauge_bar(temperature_c, ambient_bar) >= least_bar - _ENOUGH_BAR:
        return 0.0
    due = added_to_reach(contents, request.top, least_bar, temperature_c, ambient_bar)
    if due > top_mol:
        raise NoFillError(
            f"the rule asks for {least_bar:.1f} bar in the cylinder before oxygen goes in, and "
            "this mix takes less top gas; keep more of the residual, or let in helium first",
            code="air-first",
        )
    return due
