"""What belongs to one run of the compressor, and how it is booked."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.planning.options import Options
from blender.station import batch, planning
from blender.station.batch import BatchCylinder
from tests.station.shop import Shop

FLOW = {"method": "continuous-flow", "rated_intake": "40%"}
TOWER = Options(**FLOW, tower="3L@150bar:air")


def asked(shop: Shop) -> int:
    cylinders = [BatchCylinder(name, "45bar@20C:air", "analysed") for name in ("C-1001", "C-1003")]
    made = batch.request_batch(
        shop.station, shop.jo, cylinders=cylinders, customer="Kai Diver", want="220bar:EAN32"
    )
    return int(made["batch"])


def test_a_tower_is_no_thing_of_a_batch(shop: Shop) -> None:
    number, before = asked(shop), shop.seq()
    with pytest.raises(InputError, match="holds new gas"):
        batch.plan_batch(shop.station, shop.jo, number, TOWER)
    with pytest.raises(InputError, match="holds new gas"):
        batch.forecast(shop.station.record, number, TOWER)
    assert shop.seq() == before


def test_one_fill_is_planned_with_a_tower_and_read_through_it(shop: Shop) -> None:
    asked(shop)
    answer = planning.plan(shop.station, shop.jo, 1, TOWER)
    assert answer.done
    flows = [step for step in answer.facts["plan"]["steps"] if step["action"] == "flow"]
    assert [step["supply"] for step in flows] == ["tower", "oxygen"]
    shop.start(1)
    shop.reading(1, "82.1bar")
    shop.reading(1, "220bar")


def test_helium_injected_is_booked_beside_the_oxygen(shop: Shop) -> None:
    """21/20 from 45 bar of air: the amounts are the plan's, each in proportion to the gauge."""
    fill = shop.request(have="45bar@20C:air", want="220bar:21/20", customer="Lena Tief")
    made = planning.plan(shop.station, shop.jo, fill, Options(**FLOW, inject="helium,oxygen"))
    (flow, *_) = made.facts["plan"]["steps"]
    shop.start(fill)
    shop.reading(fill, "150bar")
    half = shop.last().data
    shop.reading(fill, f"{flow['to_bar']:.9f}bar")
    whole = shop.last().data
    assert half["supply"] == "oxygen"
    assert [name for name, _ in half["also"]] == ["helium", "top"]
    helium = [data["also"][0][1] / 1e6 for data in (half, whole)]
    oxygen = [data["drawn_umol"] / 1e6 for data in (half, whole)]
    assert sum(helium) == pytest.approx(flow["helium_mol"], rel=1e-6)
    assert sum(oxygen) == pytest.approx(flow["oxygen_mol"], rel=1e-6)
    assert helium[0] / helium[1] == pytest.approx(oxygen[0] / oxygen[1], rel=1e-5)
