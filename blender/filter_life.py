"""How long a compressor's filter lasts: by the water it takes up, which warm air has more of.

Behind the last separator the air is saturated at its own temperature, so that what the filter
takes up in an hour goes with the vapour pressure there: at 30 degC it is full in little more
than half the hours it serves at 20 degC.
"""

from __future__ import annotations

from collections.abc import Iterable

from blender.errors import InputError
from blender.humidity import saturation_pressure_pa

# Air leaves the last separator warmer than the room by so much; common practice, no source.
RISE_K = 10.0
REFERENCE_C = 20.0  # of the air drawn in, where a maker's hours count; common practice, no source


def wear(intake_c: float, reference_c: float = REFERENCE_C) -> float:
    """Return how many hours of a filter's life an hour at some intake temperature costs.

    Parameters
    ----------
    intake_c : float
        Temperature of the air drawn in [degC], -20 to 50.
    reference_c : float
        Temperature for which the filter's hours are stated [degC], -20 to 50.

    Returns
    -------
    float
        Hours of life an hour [1]: 1 at the reference, more in warmer air.

    Raises
    ------
    InputError
        If a temperature is out of range.

    Notes
    -----
    Source: the saturation curve of water (see `blender.humidity`).  That a filter's life ends
    with the water it holds, and that the separator is `RISE_K` warmer than the air drawn in, are
    common practice, no source; a maker's own table comes first.

    Examples
    --------
    >>> wear(20.0), round(wear(30.0), 2), round(wear(10.0), 2)
    (1.0, 1.74, 0.55)
    """
    for given in (intake_c, reference_c):
        if not -20.0 <= given <= 50.0:
            raise InputError("intake temperature", f"{given:g} degC", "-20 to 50 degC")
    here, there = (saturation_pressure_pa(one + RISE_K) for one in (intake_c, reference_c))
    return here / there


def used_share(
    runs: Iterable[tuple[float, float]], rated_h: float, reference_c: float = REFERENCE_C
) -> float:
    """Return how much of a filter's life some runs have used.

    Parameters
    ----------
    runs : iterable of pairs
        Hours run [h] and the temperature of the air drawn in [degC].
    rated_h : float
        The filter's life at the reference, more than 0 [h].
    reference_c : float
        That temperature [degC].

    Returns
    -------
    float
        Share used [1]; 1 is a filter at its end.

    Raises
    ------
    InputError
        If the life is not positive, or a temperature is out of range.

    Examples
    --------
    >>> round(used_share([(10.0, 20.0), (10.0, 30.0)], 40.0), 3)
    0.685
    """
    if not rated_h > 0.0:
        raise InputError("rated hours", f"{rated_h:g}", "more than 0")
    return sum(hours * wear(at_c, reference_c) for hours, at_c in runs) / rated_h
