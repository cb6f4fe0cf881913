"""A filter's life against the water air carries, from outside this project.

Saturation pressures over water [hPa] of the WMO's tables (after Goff and Gratch), from memory.
"""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.filter_life import RISE_K, used_share, wear

SATURATED_HPA = {10.0: 12.27, 20.0: 23.37, 30.0: 42.43, 40.0: 73.78, 50.0: 123.4, 60.0: 199.2}


@pytest.mark.parametrize("intake_c", [0.0, 10.0, 20.0, 30.0, 40.0, 50.0])
def test_wear_goes_with_the_water_behind_the_separator(intake_c: float) -> None:
    expected = SATURATED_HPA[intake_c + RISE_K] / SATURATED_HPA[20.0 + RISE_K]
    assert wear(intake_c) == pytest.approx(expected, rel=5e-3)


def test_ten_degrees_nearly_halve_a_life_around_room_temperature() -> None:
    """What the trade says of filters; common practice, no source."""
    assert 1.6 < wear(30.0) / wear(20.0) < 2.0


def test_shares_of_runs_add_up_and_count_from_the_makers_temperature() -> None:
    assert used_share([(40.0, 20.0)], 40.0) == pytest.approx(1.0)
    assert used_share([(40.0, 35.0)], 40.0, reference_c=35.0) == pytest.approx(1.0)
    apart = used_share([(5.0, 12.0)], 40.0) + used_share([(7.0, 31.0)], 40.0)
    assert used_share([(5.0, 12.0), (7.0, 31.0)], 40.0) == pytest.approx(apart)
    assert used_share([], 40.0) == 0.0


@pytest.mark.parametrize("bad", [(-21.0, 20.0), (51.0, 20.0), (20.0, 51.0)])
def test_temperatures_no_intake_has_are_refused(bad: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="-20 to 50 degC"):
        wear(*bad)


def test_a_filter_without_a_life_is_refused() -> None:
    with pytest.raises(InputError, match="more than 0"):
        used_share([(1.0, 20.0)], 0.0)
