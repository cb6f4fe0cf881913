"""A run of the compressor that stopped part-way, or is to be put right while it goes on.

From the pressure reached and the average of the intake so far follows what the cylinder holds;
the rest is then a plan of its own.  A tower that the plan allows for holds by then what was
delivered last, and gives that first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from blender.errors import NoFillError
from blender.gas import HELIUM
from blender.planning import plan as make_plan
from blender.planning.alternatives import shown, tried
from blender.planning.hold_up import after_hold_up, old_gas
from blender.planning.intake import Intake, intake_figures
from blender.planning.oxygen import oxygen_of
from blender.planning.recipe import Assurance, Caution, Plan, Step
from blender.planning.rehearsal import Rehearsal
from blender.planning.request import GasAt, PlanRequest
from blender.planning.run_so_far import delivered, held, intake_of, left_in_tower
from blender.planning.streams import Streams
from blender.planning.sure_trip import steps_so_far, sure_of_both
from blender.planning.what_if import shown_bar
from blender.vessel import Contents, added_to_reach

CLOSE = "close the oxygen"
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Trip:
    """What is in the cylinder, and how to go on.

    Parameters
    ----------
    now : Contents
        What the cylinder holds.
    reached_bar, reached_c : float
        What its gauge shows [bar], with its gas at that temperature [degC].
    added_mol : float
        What has gone in since the run began [mol].
    plan : Plan
        The rest.
    air : Plan or None
        Finishing with the top gas alone; None where that is not possible.
    running : bool
        Whether the compressor runs on.
    sure : Assurance or None
        How sure what the cylinder holds is; None where nothing has gone in.
    """

    now: Contents
    reached_bar: float
    reached_c: float
    added_mol: float
    plan: Plan
    air: Plan | None
    running: bool
    sure: Assurance | None = None

    @property
    def rest(self) -> Step | None:
        """The flow that is still to come, None if none is."""
        return next((step for step in self.plan.steps if step.action == "flow"), None)

    @property
    def first(self) -> str:
        """What to do at once."""
        flow = self.rest
        if not self.running or flow is None or self.plan.steps[0] != flow:
            return CLOSE
        if flow.intake_he is None and (flow.intake_o2 or 0.0) <= self.plan.request.top.o2 + _SAME:
            return f"{CLOSE}: the rest needs none"
        return _turned(flow)


def _turned(flow: Step) -> str:
    """Say what to turn the injected gases to: by their flow, or else by the meters."""
    helium, oxygen = "", f"until the meter reads {flow.intake_reading or 0.0:.2%}"
    if flow.oxygen_l_min is not None:
        oxygen = f"to {flow.oxygen_l_min:.1f} L/min"
    if flow.intake_he is not None:
        helium = f"until the meter after it reads {flow.reading_after_helium or 0.0:.2%}"
        if flow.helium_l_min is not None:
            helium = f"to {flow.helium_l_min:.1f} L/min"
        helium = f"turn the helium {helium}, then "
    return f"{helium}turn the oxygen {oxygen}"


def trip(
    request: PlanRequest,
    reached: GasAt,
    average_o2: float,
    average_he: float | None = None,
    *,
    running: bool = False,
) -> Trip:
    """Work out what a run that stopped has left, and what the rest needs.

    Parameters
    ----------
    request : PlanRequest
        The fill by continuous flow; `have` is what was in the cylinder when the compressor
        began to fill it (after a drain, or helium by partial pressure), `supplies` are as they
        stand now.
    reached : GasAt
        What the gauge shows now, and the temperature of the gas there; its gas does not count.
    average_o2 : float
        Average oxygen fraction of the intake so far, dry [1].
    average_he : float or None
        The same of helium, where helium is injected [1].
    running : bool
        Whether the compressor runs on, and is only to be put right.

    Returns
    -------
    Trip
        What the cylinder holds, the plan of the rest, and what finishing with air gives.

    Raises
    ------
    InputError
        If the pressure or the average cannot be, or helium was injected and nobody says how much.
    NoFillError
        If the rest cannot be delivered; its text and alternatives say what can.

    Notes
    -----
    Amounts are conserved, in the real gas; the average must be that of the amount delivered,
    which at a steady delivery is the average over time.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("45bar:air", "have"), parse_want("220bar:EAN32")
    >>> asked = PlanRequest(0.012, have, want, "continuous-flow", rated_intake=0.40)
    >>> found = trip(asked, GasAt(150.0, have.mix, 20.0), 0.34)
    >>> round(found.now.mix.o2, 5), round(found.rest.intake_o2, 5), found.first
    (0.29998, 0.36797, 'close the oxygen')
    """
    intake = intake_of(request)
    average = delivered(request, intake, average_o2, average_he)
    at_c = request.first_temperature_c if reached.temperature_c is None else reached.temperature_c
    now, in_tower = held(request, reached.gauge_bar, at_c, average)
    rest = replace(
        request,
        have=GasAt(reached.gauge_bar, now.mix, at_c, "as calculated"),
        temperatures_c=request.temperatures_c[-1:],
        tower=left_in_tower(request, in_tower),
    )
    try:
        plan = make_plan(rest)
    except NoFillError as error:
        raise _cannot(error, rest, running=running) from error
    if average_o2 > intake.rated + _SAME:
        plan = replace(plan, warnings=(_above_rating(average_o2, intake), *plan.warnings))
    added_mol = now.total_mol - request.residual().total_mol
    air = tried(_with_air, rest)
    so_far = steps_so_far(request, intake, now, average, (reached.gauge_bar, at_c))
    sure, plan = sure_of_both(request, so_far, plan)
    return Trip(now, reached.gauge_bar, at_c, added_mol, plan, air, running, sure)


def _with_air(rest: PlanRequest) -> Plan:
    """Finish with the top gas alone, after what stands in the tower."""
    now, tower = rest.residual(), old_gas(rest)
    begin = now if tower is None else after_hold_up(now, tower)
    settle_c, around, want_bar = rest.settle_at_c, rest.ambient_bar, rest.want.gauge_bar
    if shown_bar(begin, settle_c, around) >= want_bar:
        raise NoFillError("nothing more goes in")
    air_mol = added_to_reach(begin, rest.top, want_bar, settle_c, around)
    rehearsal = Rehearsal(rest, now)
    rehearsal.flow(
        Streams(oxygen_of(rest), 0.0, rest.top, air_mol, HELIUM),
        rest.first_temperature_c,
        lambda part: intake_figures(rest, part),
        None if tower is None else (tower.mix, tower.total_mol),
    )
    return rehearsal.finished()


def _cannot(error: NoFillError, rest: PlanRequest, *, running: bool) -> NoFillError:
    """Say what the cylinder holds before why the rest cannot be delivered."""
    holds, bar = rest.have.mix, rest.have.gauge_bar
    helium = f" and {holds.he:.3%} He" if holds.he > 1e-6 else ""
    air = shown("air", "finished with the top gas alone: {result}", _with_air, rest)
    with_air = f"finished with air it holds {air[0]['result']['o2']:.3%}; " if air else ""
    text = (
        f"{'' if running else CLOSE + '; '}the cylinder now holds {holds.o2:.3%} O2{helium} at "
        f"{bar:.1f} bar; {with_air}for the rest {error.text}"
    )
    return NoFillError(text, code=error.code, alternatives=[*error.alternatives, *air])


def _above_rating(average_o2: float, intake: Intake) -> Caution:
    return Caution(
        "average-above-rating",
        f"the intake carried {average_o2:.2%} O2 on average, more than the {intake.rated:.2%} the "
        "compressor is rated for: have it looked at before it runs again",
    )
