"""Which cause explains a row of departures best, and since when."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blender.drift.departure import Departure

# Two causes whose likelihoods differ by less than a factor of e^2, about 7, are not told apart.
TOLD_APART = 2.0


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause with the bias that fits it best.

    Parameters
    ----------
    cause : str
        Its name.
    bias : float
        How far it is off, in its unit.
    half_width : float
        Expanded uncertainty of the bias, k = 2, in its unit.
    since : int
        Place of the first fill it moved.
    gain : float
        Rise of the log-likelihood over no bias at all [1].
    """

    cause: str
    bias: float
    half_width: float
    since: int
    gain: float


def suspects(departures: Sequence[Departure], scale: float) -> tuple[Suspect, ...]:
    """Return every cause with its best bias, the likeliest first.

    Parameters
    ----------
    departures : sequence of Departure
        Fills in their order.
    scale : float
        Their scatter as a multiple of what was budgeted [1].

    Returns
    -------
    tuple of Suspect
        One for each cause, by likelihood; a cause that explains nothing has gain 0.

    Notes
    -----
    A step at an unknown place by maximum likelihood: for a normal scatter the gain is
    (sum g r / s^2)^2 / (2 sum g^2 / s^2) over the fills from the step on.

    Examples
    --------
    >>> row = [Departure(n, 0.5, 0.5, {"analyser A1": 1.0}) for n in range(8)]
    >>> found = suspects(row, 1.0)[0]
    >>> found.cause, found.bias, found.since, found.gain
    ('analyser A1', 0.5, 0, 4.0)
    """
    causes = {cause: None for one in departures for cause in one.effects}
    found = [_suspect(cause, departures, scale) for cause in causes]
    return tuple(sorted(found, key=lambda one: -one.gain))


def _suspect(cause: str, departures: Sequence[Departure], scale: float) -> Suspect:
    moved = [one for one in departures if one.effects.get(cause)]
    if not moved:
        return Suspect(cause, 0.0, math.inf, departures[-1].place, 0.0)
    sigma = scale * np.array([one.sigma for one in moved])
    effect = np.array([one.effects[cause] for one in moved])
    points = np.array([one.points for one in moved])
    top = np.cumsum((effect * points / sigma**2)[::-1])[::-1]
    bottom = np.cumsum(((effect / sigma) ** 2)[::-1])[::-1]
    gains = top**2 / bottom / 2.0
    at = int(np.argmax(gains))
    half = 2.0 / math.sqrt(float(bottom[at]))
    bias = float(top[at] / bottom[at])
    return Suspect(cause, bias, half, moved[at].place, float(gains[at]))


def likely(found: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """Return the likeliest cause and those that can't be told apart from it.

    Parameters
    ----------
    found : sequence of Suspect
        As `suspects` gives them.

    Returns
    -------
    tuple of Suspect
        At least one if there is any.

    Examples
    --------
    >>> first, other = Suspect("a", 1.0, 0.2, 3, 9.0), Suspect("b", 1.0, 0.2, 3, 5.0)
    >>> [one.cause for one in likely([first, other])]
    ['a']
    """
    return tuple(one for one in found if one.gain > found[0].gain - TOLD_APART)
