"""What becomes of an analysed cylinder: accept, relabel, recheck or reject.

Compared in decimals, so that 33.0 against 32 within 1.0 is inside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from blender.errors import InputError
from blender.gas import Mix

Decision = Literal["accept", "relabel", "recheck", "reject"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One valid, corrected analysis.

    Parameters
    ----------
    o2 : float
        Mole fraction of oxygen [1].
    he : float or None
        Mole fraction of helium [1]; None if it was not measured.

    Examples
    --------
    >>> Reading(0.32).he is None
    True
    """

    o2: float
    he: float | None = None


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far an analysis may lie from the wanted mix, in percentage points.

    Nitrox within one point of oxygen is common practice, no source; half a point for
    hypoxic mixes and two of helium are our own choice, no source.

    Parameters
    ----------
    o2_points, hypoxic_o2_points, he_points : Decimal
        Tolerances about the wanted mix [percentage points].
    agree_o2_points, agree_he_points : Decimal
        How far valid readings may lie apart [percentage points].
    hypoxic_below : Decimal
        Oxygen below which a gas is hypoxic at the surface [%].
    hypoxic_slack_points : Decimal
        How far below that a mix wanted at or above it may read without being hypoxic by
        mistake [percentage points].
    breathable_from : Decimal
        Least oxygen anybody may breathe at any depth [%].
    oxygen_minimum : float
        The least oxygen that goes by the name of oxygen [1].

    Examples
    --------
    >>> Tolerances().o2_points
    Decimal('1.0')
    """

    o2_points: Decimal = Decimal("1.0")
    hypoxic_o2_points: Decimal = Decimal("0.5")
    he_points: Decimal = Decimal("2.0")
    agree_o2_points: Decimal = Decimal("0.5")
    agree_he_points: Decimal = Decimal("2.0")
    hypoxic_below: Decimal = Decimal(18)
    hypoxic_slack_points: Decimal = Decimal("0.5")
    breathable_from: Decimal = Decimal("0.5")
    oxygen_minimum: float = 0.99


@dataclass(frozen=True, slots=True)
class Limits:
    """What the cylinder and the diver may have; None where there is no limit.

    Parameters
    ----------
    cylinder_max_o2 : float or None
        Most oxygen the cylinder's service allows [1].
    diver_max_o2 : float or None
        Most oxygen the diver is certified for [1].
    diver_helium : bool
        Whether the diver is certified for helium mixes.

    Examples
    --------
    >>> Limits(cylinder_max_o2=0.4).diver_max_o2 is None
    True
    """

    cylinder_max_o2: float | None = None
    diver_max_o2: float | None = None
    diver_helium: bool = True


@dataclass(frozen=True, slots=True)
class Verdict:
    """What to do with an analysed cylinder, and why.

    Parameters
    ----------
    decision : str or None
        ``accept``, ``relabel``, ``recheck``, ``reject``; None if no mix was wanted.
    reasons : tuple of (str, str)
        A short stable word and a sentence each.

    Examples
    --------
    >>> Verdict(None, ()).decision is None
    True
    """

    decision: Decision | None
    reasons: tuple[tuple[str, str], ...]


def percent(fraction: float) -> Decimal:
    """Return a fraction as a decimal percentage, freed of the binary tail.

    Parameters
    ----------
    fraction : float
        Mole fraction [1].

    Returns
    -------
    Decimal
        Percentage to nine decimals [%], so that 33.0 against 32 is 1.0 and not 1.0000000002.

    Examples
    --------
    >>> percent(0.33) - percent(0.32) == 1
    True
    """
    return Decimal(repr(round(fraction * 100.0, 9)))


def decide(
    readings: Sequence[Reading],
    wanted: Mix | None,
    limits: Limits | None = None,
    rules: Tolerances | None = None,
    helium_expected: bool = False,
) -> Verdict:
    """Decide what becomes of an analysed cylinder.

    Parameters
    ----------
    readings : sequence of Reading
        The valid readings, the station's first; every one of them has to fit.
    wanted : Mix or None
        The mix asked for.
    limits : Limits or None
        What cylinder and diver may have; None for no limits.
    rules : Rules or None
        The station's tolerances; None for the defaults.
    helium_expected : bool
        Whether residual, plan or doubt has helium, whatever was wanted.

    Returns
    -------
    Verdict
        ``reject`` before ``recheck`` where helium was not measured, else ``recheck``,
        ``reject``, ``relabel``, ``accept`` in this order.

    Raises
    ------
    InputError
        If there is no reading.

    Examples
    --------
    >>> decide([Reading(0.321), Reading(0.318)], Mix(0.32, 0.0, 0.672, 0.008)).decision
    'accept'
    """
    if not readings:
        raise InputError("reading", "none", "at least one valid reading is needed")
    if wanted is None:
        return Verdict(None, ())
    limits, rules = limits or Limits(), rules or Tolerances()
    needs_helium = helium_expected or wanted.he > 0.0
    if needs_helium and any(r.he is None for r in readings):
        why = "there is or may be helium in it and no helium reading: measure helium"
        return Verdict("reject", (("helium-missing", why),))
    if apart := _disagreement(readings, rules):
        return Verdict("recheck", apart)
    if dangers := _dangers(readings, wanted, limits, rules):
        return Verdict("reject", dangers)
    if not (misses := _misses(readings, wanted, rules)):
        return Verdict("accept", (("within", "every reading is within tolerance"),))
    beyond = _beyond_diver(readings, limits)
    return Verdict("reject" if beyond else "relabel", misses + beyond)


def agree(one: Reading, other: Reading, rules: Tolerances | None = None) -> bool:
    """Tell whether two readings may be of one gas; helium counts where both measured it.

    Examples
    --------
    >>> agree(Reading(0.320, None), Reading(0.325, None))
    True
    >>> agree(Reading(0.180, 0.45), Reading(0.180, 0.48))
    False
    """
    return not _disagreement((one, other), rules or Tolerances())


def _disagreement(readings: Sequence[Reading], rules: Tolerances) -> tuple[tuple[str, str], ...]:
    """Readings too far apart; helium only among those that measured it."""
    oxygen = [percent(r.o2) for r in readings]
    helium = [percent(r.he) for r in readings if r.he is not None] or [Decimal(0)]
    checks = (("O2", oxygen, rules.agree_o2_points), ("He", helium, rules.agree_he_points))
    return tuple(
        (
            f"{name.lower()}-disagree",
            f"readings differ by {max(values) - min(values):.2f} points {name} ({min(values):.2f} "
            f"and {max(values):.2f} %), more than {allowed}: take another reading on a freshly "
            "set analyser",
        )
        for name, values, allowed in checks
        if max(values) - min(values) > allowed
    )


def _dangers(
    readings: Sequence[Reading], wanted: Mix, limits: Limits, rules: Tolerances
) -> tuple[tuple[str, str], ...]:
    """What makes the gas unfit for this cylinder or for the dive that was asked for."""
    lean, rich = percent(min(r.o2 for r in readings)), percent(max(r.o2 for r in readings))
    helium = min((percent(r.he) for r in readings if r.he is not None), default=Decimal(0))
    found = []
    if lean < rules.breathable_from:
        found.append(("not-breathable", f"{lean:.2f} % oxygen: NOT BREATHABLE at any depth"))
    if (
        lean < rules.hypoxic_below - rules.hypoxic_slack_points
        and percent(wanted.o2) >= rules.hypoxic_below
    ):
        why = f"{lean:.2f} % oxygen cannot keep a diver conscious at the surface; not asked for"
        found.append(("hypoxic", why))
    if limits.cylinder_max_o2 is not None and rich > percent(limits.cylinder_max_o2):
        most = percent(limits.cylinder_max_o2)
        why = f"{rich:.2f} % oxygen, the cylinder's oxygen service allows {most:.1f} %"
        found.append(("oxygen-service", why))
    if percent(wanted.he) - helium > rules.he_points >= helium:
        why = f"{helium:.2f} % helium where {percent(wanted.he):.1f} % was wanted: none went in"
        found.append(("helium-missing", why))
    return tuple(found)


def _misses(
    readings: Sequence[Reading], wanted: Mix, rules: Tolerances
) -> tuple[tuple[str, str], ...]:
    """Readings outside the tolerance of the wanted mix, the farthest of each gas."""
    goal = percent(wanted.o2)
    allowed = rules.hypoxic_o2_points if goal < rules.hypoxic_below else rules.o2_points
    oxygen = max((percent(r.o2) for r in readings), key=lambda x: abs(x - goal))
    helium = [percent(r.he) for r in readings if r.he is not None] or [Decimal(0)]
    he_goal = percent(wanted.he)
    he = max(helium, key=lambda x: abs(x - he_goal))
    found = []
    if wanted.o2 >= rules.oxygen_minimum:
        least = percent(rules.oxygen_minimum)
        if oxygen < least:
            found.append(("off-o2", f"{oxygen:.2f} % oxygen, less than {least:.1f} %"))
    elif abs(oxygen - goal) > allowed:
        why = f"{oxygen:.2f} % oxygen is more than {allowed} points from {goal:.1f} %"
        found.append(("off-o2", why))
    if abs(he - he_goal) > rules.he_points:
        why = f"{he:.2f} % helium is more than {rules.he_points} points from {he_goal:.1f} %"
        found.append(("off-he", why))
    return tuple(found)


def _beyond_diver(readings: Sequence[Reading], limits: Limits) -> tuple[tuple[str, str], ...]:
    """Why the diver may not have the gas as analysed, although the cylinder may."""
    rich = percent(max(r.o2 for r in readings))
    found = []
    if limits.diver_max_o2 is not None and rich > percent(limits.diver_max_o2):
        most = percent(limits.diver_max_o2)
        found.append(("beyond-diver", f"{rich:.2f} % oxygen, the diver may have {most:.1f} %"))
    if not limits.diver_helium and any((r.he or 0.0) > 0.0 for r in readings):
        found.append(("beyond-diver", "the diver is not certified for helium mixes"))
    return tuple(found)
