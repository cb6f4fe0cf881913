"""How long oxygen may be breathed: the printed table of single and daily exposure."""

from __future__ import annotations

from blender.rounding import RELATIVE_TOLERANCE

# Limits at a ppO2 [ata]: single exposure and 24 hours [min].  NOAA Diving Manual, oxygen
# exposure table, as reprinted in secondary texts.
NOAA_EXPOSURE_MIN = (
    (0.60, 720, 720),
    (0.70, 570, 570),
    (0.80, 450, 450),
    (0.90, 360, 360),
    (1.00, 300, 300),
    (1.10, 240, 270),
    (1.20, 210, 240),
    (1.30, 180, 210),
    (1.40, 150, 180),
    (1.50, 120, 180),
    (1.60, 45, 150),
)


def exposure_limits_min(ppo2: float) -> tuple[int, int] | tuple[None, None]:
    """Oxygen exposure limits of the next higher printed ppO2.

    Parameters
    ----------
    ppo2 : float
        Partial pressure of oxygen [ata]; bar is taken as ata, as handbooks do.

    Returns
    -------
    tuple
        Single exposure and 24 hours [min]; both None outside the table, 0.60 to 1.60.

    Notes
    -----
    Source: NOAA Diving Manual, oxygen exposure table, as reprinted in secondary texts.

    Examples
    --------
    >>> exposure_limits_min(1.28), exposure_limits_min(1.7)
    ((180, 210), (None, None))
    """
    slack = RELATIVE_TOLERANCE * ppo2  # 0.28 x 5 bar is a printed 1.4, not just above it
    if ppo2 + slack < NOAA_EXPOSURE_MIN[0][0]:
        return None, None
    for printed, single, day in NOAA_EXPOSURE_MIN:
        if ppo2 - slack <= printed:
            return single, day
    return None, None
