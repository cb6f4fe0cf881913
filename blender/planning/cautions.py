"""What the person at the panel must know about a plan, beyond its numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from blender.gas import Mix
from blender.planning.doubts import READ_TO_BAR
from blender.planning.flow_trimix import helium_cautions
from blender.planning.recipe import Caution, Step
from blender.planning.request import PlanRequest
from blender.planning.supplies import plain_name
from blender.planning.tower import TOWER_NAME

HYPOXIC_O2 = 0.18
_ROUNDING = 1e-9
# Rule sets put the line for oxygen service between 22 and 40 %; above 40 % none disagrees.
OXYGEN_SERVICE_O2 = 0.40
# A miss below this is rounding, not a miss.
OFF_TARGET = 1e-9
# A rise of less than half of what a dial is read to cannot be told from none.
UNSEEN_BAR = READ_TO_BAR / 2.0


def cautions(
    request: PlanRequest, steps: Sequence[Step], result: Mix, pressure_bar: float
) -> tuple[Caution, ...]:
    """Return the cautions of a plan, most urgent first.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    steps : sequence of Step
        The steps.
    result : Mix
        The gas in the end.
    pressure_bar : float
        The settled gauge pressure in the end [bar].

    Returns
    -------
    tuple of Caution
        Each with a stable code.
    """
    return (
        *_hypoxic(steps, result),
        *_off_target(request, result),
        *_hot_stop(request, steps, pressure_bar),
        *_oxygen_service(steps),
        *_helium_pairs(request, steps, result),
        *_flow(request, steps),
        *helium_cautions(request, steps),
        *_bleed(steps),
        *_small_steps(request, steps),
        *_whip(request, steps),
        *_booster(steps),
    )


def _hypoxic(steps: Sequence[Step], result: Mix) -> Iterator[Caution]:
    lowest = min((step.holds for step in steps), key=lambda mix: mix.o2, default=result)
    if result.o2 < HYPOXIC_O2 - _ROUNDING:
        yield Caution(
            "hypoxic-step",
            f"DO NOT BREATHE at the surface: the finished gas holds only {result.o2:.1%} oxygen, "
            f"and {lowest.o2:.1%} on the way",
        )
    elif lowest.o2 < HYPOXIC_O2 - _ROUNDING:
        yield Caution(
            "hypoxic-step",
            f"DO NOT BREATHE before the fill is finished and analysed: on the way the cylinder "
            f"holds only {lowest.o2:.1%} oxygen",
        )


def _off_target(request: PlanRequest, result: Mix) -> Iterator[Caution]:
    want = request.want
    o2, he = result.o2 - want.mix.o2, result.he - want.mix.he
    if not want.oxygen_only and max(abs(o2), abs(he)) > OFF_TARGET:
        yield Caution(
            "off-target",
            f"what is in it already, or a supply's purity, keeps this {o2 * 100:+.3f} points O2 "
            f"and {he * 100:+.3f} points He from what was asked; the label states what is analysed",
        )


def _hot_stop(
    request: PlanRequest, steps: Sequence[Step], pressure_bar: float
) -> Iterator[Caution]:
    allowed = request.limit_bar
    if allowed is None:
        return
    moved = [step.to_bar for step in steps if step.action in ("add", "flow") and step.to_bar]
    highest = max(moved, default=0.0)
    if highest > allowed + 1e-9:
        yield Caution(
            "hot-stop",
            f"the gauge goes to {highest:.1f} bar while the gas is hot and settles at "
            f"{pressure_bar:.1f} bar; check the maximum of panel, whip and valve, or fill in two "
            "goes and let it cool between",
        )


def _oxygen_service(steps: Sequence[Step]) -> Iterator[Caution]:
    let_in = (s for s in steps if s.action in ("add", "purge") or s.supply == TOWER_NAME)
    richest = max((step.gas.o2 for step in let_in if step.gas), default=0.0)
    injected = any(step.oxygen_l_min or step.action == "flow" for step in steps)
    if richest > OXYGEN_SERVICE_O2:
        yield Caution(
            "oxygen-service",
            f"gas with {richest:.1%} oxygen goes in: only into a cylinder, valve and whip that are "
            "clean for oxygen, slowly, with no flame, oil or grease about",
        )
    elif injected:
        yield Caution(
            "oxygen-service",
            "oxygen is fed into the compressor's intake: only into one built and rated for it; "
            "watch the mixed intake all the time and close the oxygen first if anything stops",
        )


def _helium_pairs(request: PlanRequest, steps: Sequence[Step], result: Mix) -> Iterator[Caution]:
    if result.he > 1e-6 or any(step.holds.he > 1e-6 for step in steps):
        yield Caution(
            "helium-pairs",
            f"helium with oxygen is reckoned with the pair set '{request.pairs}'; nobody has "
            "measured that pair's density, so stops with helium may be some tenths of a point off; "
            "analyse oxygen and helium",
        )


def _bleed(steps: Sequence[Step]) -> Iterator[Caution]:
    if any(step.action == "drain" for step in steps):
        yield Caution(
            "mixed-bleed",
            "drain only gas that has mixed: if the cylinder was filled lately, let it rest and "
            "analyse it first, for what leaves may be one layer alone",
        )


def _small_steps(request: PlanRequest, steps: Sequence[Step]) -> Iterator[Caution]:
    """Say which steps no gauge shows, unless a least step decided that they stay."""
    if request.least_step_bar or request.method == "mass":
        return
    for step in steps:
        rise = (step.to_bar or 0.0) - (step.from_bar or 0.0)
        if step.action == "add" and 0.0 < rise < UNSEEN_BAR:
            yield Caution(
                "small-step",
                f"{step.supply} would raise the gauge by {rise:.2f} bar, less than a dial is read"
                f" to: nobody can hold that; with a least step of {UNSEEN_BAR:g} bar it is left out"
                " where the mix lands within half a point without it",
            )


def _whip(request: PlanRequest, steps: Sequence[Step]) -> Iterator[Caution]:
    vented_mol = sum(step.whip_mol or 0.0 for step in steps)
    if vented_mol:
        yield Caution(
            "whip",
            f"the whip of {request.whip_m3 * 1000.0:g} L is vented at every change, slowly and "
            f"into the open: {vented_mol:.2f} mol in all do not go into the cylinder; it must be "
            "clean for oxygen if oxygen goes through it",
        )


def _booster(steps: Sequence[Step]) -> Iterator[Caution]:
    pressed = [step for step in steps if step.boosted]
    if pressed:
        names = ", ".join(dict.fromkeys(step.supply or "" for step in pressed))
        yield Caution(
            "booster",
            f"{names}: let it flow over by itself first, then the booster; it heats what it "
            "presses, so run it slowly, and for oxygen only one that is made and clean for it",
        )


def _flow(request: PlanRequest, steps: Sequence[Step]) -> Iterator[Caution]:
    if all(step.action != "flow" for step in steps):
        return
    yield _tower(request, steps) or Caution(
        "hold-up",
        "what still stands in the filter tower goes into the cylinder first: purge the tower with "
        "the mixed gas before the cylinder is opened",
    )
    if request.intake_air is None:
        yield Caution(
            "intake-air",
            "no intake-air was given, so the intake reading is for dry air; in damp air a true "
            "meter reads lower, up to about half a point on a warm day",
        )


def _tower(request: PlanRequest, steps: Sequence[Step]) -> Caution | None:
    """Say that a plan counts on a tower's old gas: whoever purges must not follow it."""
    old = [step for step in steps if step.supply == TOWER_NAME]
    tower = request.tower
    if not old or tower is None:
        return None
    return Caution(
        "tower",
        f"this plan counts on {plain_name(tower.mix)} standing in the filter tower at "
        f"{tower.gauge_bar:.1f} bar: it goes in first, up to {old[-1].to_bar or 0.0:.1f} bar, "
        f"while the intake is held at {old[-1].intake_o2 or 0.0:.2%} (dry) from the start; follow "
        "it as it stands, or purge the tower with the mixed gas and plan without it: never both",
    )
