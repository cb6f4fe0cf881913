"""A reading typed for the wrong fill is told before it is stored.

Numbers: GERG-2008 (pyaga8 0.1.18), 12 L.
"""

from __future__ import annotations

import pytest

from blender.station.elsewhere import suits_better
from tests.executor import amount, gas_of, pressure_bar
from tests.station.shop import Shop

B = {"cylinder": "C-1003", "customer": "Lena Tief"}


def suits(shop: Shop, fill: int, at: str, temperature: str = "20C", kind: str = "gas"):
    record = shop.station.record
    seq = shop.seq()
    found = suits_better(record, fill, at=at, temperature=temperature, kind=kind)
    assert shop.seq() == seq  # nothing is stored
    return found


@pytest.fixture(name="two")
def _two(shop: Shop) -> tuple[Shop, int, int]:
    """A waits for oxygen to 84.425 bar, B for air to 140 bar: both at 20 degC."""
    a = shop.filling()
    b = shop.filling(**B, want="140bar:EAN32")
    shop.reading(b, f"{shop.steps(b)[0].to_mbar / 1000}bar")
    return shop, a, b


def warm(gauge: float, celsius: float) -> float:
    """What 12 L of EAN32 that shows a gauge at 20 degC shows at another temperature."""
    moles = amount(gas_of("EAN32"), gauge + 1.01325, 20.0, 12.0)
    fractions = gas_of("EAN32")
    return pressure_bar(tuple(x * moles for x in fractions), celsius, 12.0) - 1.01325


def test_a_reading_typed_for_the_wrong_fill(two: tuple[Shop, int, int]) -> None:
    shop, a, b = two
    at = warm(140.0, 24.0)
    (found,) = suits(shop, a, f"{at:.1f}bar", "24C")
    assert (found["fill"], found["serial"]) == (b, "C-1003")
    assert found["customer"] == "Lena Tief"
    assert found["stop_bar"] == pytest.approx(at, abs=0.05)
    assert suits(shop, b, f"{at:.1f}bar", "24C") == []


def test_the_scenario_as_it_was_typed(shop: Shop) -> None:
    """`139,8 24` on A, whose stop is 84.425, while B's is 140 at 24 degC."""
    a = shop.filling()
    request = shop.request(**B, want="140bar:EAN32")
    assert shop.plan(request, temperature="24C", settle_at="24C").done
    shop.start(request, "C-1003")
    shop.reading(request, f"{shop.steps(request)[0].to_mbar / 1000}bar", "24C")
    (found,) = suits(shop, a, "139,8bar", "24C")
    assert found["stop_bar"] == pytest.approx(140.0, abs=0.05)
    assert found["fill"] == request


@pytest.mark.parametrize("at", ["59.5bar", "60bar", "70bar", "84.4bar", "85.3bar"])
def test_on_the_way_to_its_own_stop_a_reading_is_plausible(
    two: tuple[Shop, int, int], at: str
) -> None:
    shop, a, _ = two
    rival = shop.filling(**(B | {"cylinder": "D-7"}), have="30bar:EAN32", want=f"{at}:EAN32")
    shop.reading(rival, f"{shop.steps(rival)[0].to_mbar / 1000}bar")
    assert suits(shop, a, at) == []
    far = shop.filling(have="150bar:EAN32", want="200bar:EAN32")
    assert rival in [found["fill"] for found in suits(shop, far, at)]


def test_an_implausible_reading_that_suits_nobody(two: tuple[Shop, int, int]) -> None:
    shop, a, _ = two
    assert suits(shop, a, "190bar") == []
    assert suits(shop, a, "138.5bar") == []
    assert len(suits(shop, a, "139.2bar")) == 1


def test_a_wall_tells_no_stop(two: tuple[Shop, int, int]) -> None:
    shop, a, _ = two
    assert suits(shop, a, "140bar", kind="wall") == []


def test_fills_not_at_the_gauge_are_left_out(two: tuple[Shop, int, int]) -> None:
    shop, a, b = two
    shop.hold(b)
    assert suits(shop, a, "140bar") == []
    assert suits(shop, b, "84.4bar") == []  # and a held fill takes no reading anyway


def test_a_resting_fill_shows_what_is_in_it(two: tuple[Shop, int, int]) -> None:
    shop, a, b = two
    shop.reading(b, "140bar")
    assert shop.row(b).state == "resting"
    assert [f["fill"] for f in suits(shop, a, "140bar")] == [b]
    assert [f["fill"] for f in suits(shop, b, "84.4bar")] == [a]
    assert suits(shop, b, "139bar") == []


def test_the_nearest_comes_first(two: tuple[Shop, int, int]) -> None:
    shop, a, b = two
    c = shop.filling(cylinder="D-7", have="50bar:EAN32", want="140.8bar:EAN32")
    shop.reading(c, f"{shop.steps(c)[0].to_mbar / 1000}bar")
    assert [f["fill"] for f in suits(shop, a, "140.6bar")] == [c, b]
    assert [f["fill"] for f in suits(shop, a, "140.1bar")] == [b, c]


def test_while_draining_and_after_it(shop: Shop) -> None:
    a = shop.filling(have="180bar:EAN40", want="200bar:EAN32")
    b = shop.filling(**B, want="205bar:EAN32")
    shop.reading(b, f"{shop.steps(b)[0].to_mbar / 1000}bar")
    assert suits(shop, a, "150bar") == []  # on the way down to 111.462
    assert [f["fill"] for f in suits(shop, a, "205bar")] == [b]
    shop.reading(a, "111.4bar")
    assert shop.steps(a)[shop.row(a).step].action == "rest"
    assert suits(shop, a, "135.3bar") == []  # it rises again
    assert [f["fill"] for f in suits(shop, a, "205bar")] == [b]
