"""What the supplies lose: by plan, by readings on the way, by corrections, by older plans."""

from __future__ import annotations

from typing import Any

import pytest

from blender.gas import AIR_N2
from blender.planning.recipe import Step
from blender.record import read
from blender.record.rebuild import rebuild
from blender.station import equipment, mending, planning, supplies
from blender.station.panel import panel_fill
from blender.station.steps import step_facts
from tests.station.shop import Shop

TRIMIX = {"have": "45bar@20C:air", "want": "220bar:21/20", "customer": "Lena Tief"}
FLOW = {"method": "continuous-flow", "rated_intake": "40%", "inject": "helium,oxygen"}


@pytest.fixture(autouse=True)
def _bottles(shop: Shop) -> None:
    for name, gas, at in (("o1", "oxygen99.5", "60bar"), ("he1", "helium", "70bar")):
        equipment.add_supply(shop.station, shop.mara, name=name, gas=gas, size="50L", at=at)


def stock(shop: Shop) -> dict[str, int]:
    with shop.station.record.read() as conn:
        return {row.name: row.content_umol for row in read.supplies(conn)}


def flowing(shop: Shop, **more: str) -> tuple[int, list[dict[str, Any]]]:
    fill = shop.request(**TRIMIX)
    steps = shop.plan(fill, **(FLOW | more)).facts["plan"]["steps"]
    assert shop.start(fill).done
    return fill, steps


def test_a_correction_gives_every_supply_back_what_it_lost(shop: Shop) -> None:
    start = stock(shop)
    fill, _ = flowing(shop)
    shop.reading(fill, "150bar")
    mending.correct_reading(shop.station, shop.jo, fill, at="105bar", temperature="20C")
    mended = stock(shop)
    assert all(mended[name] < start[name] for name in start)
    other, _ = flowing(shop)
    shop.reading(other, "105bar")
    after = stock(shop)
    for name in start:
        assert start[name] - mended[name] == pytest.approx(mended[name] - after[name], abs=2)
    tables = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == tables


def test_a_supply_read_meanwhile_keeps_its_reading_and_the_other_is_corrected(shop: Shop) -> None:
    fill, _ = flowing(shop)
    shop.reading(fill, "150bar")
    supplies.read_supply(shop.station, shop.jo, "he1", at="60bar")
    before = stock(shop)
    mending.correct_reading(shop.station, shop.jo, fill, at="105bar", temperature="20C")
    after = stock(shop)
    assert after["he1"] == before["he1"]
    assert after["o1"] > before["o1"]


def test_a_whip_is_booked_as_far_as_the_gauge_has_come(shop: Shop) -> None:
    """The whip of 0.15 L: what fills it at the stop is drawn, beside what goes in."""
    fill = shop.request(**(TRIMIX | {"have": "20bar@20C:air"}))
    plan = shop.plan(fill, whip="0.15L", booster="10bar/30/250bar").facts["plan"]
    (first, *_) = plan["steps"]
    shop.start(fill)
    start = stock(shop)["he1"]
    middle = (first["from_bar"] + first["to_bar"]) / 2.0
    shop.reading(fill, f"{middle:.6f}bar")
    assert 0.0 < (start - stock(shop)["he1"]) / 1e6 < first["amount_mol"]
    shop.reading(fill, f"{first['to_bar']:.9f}bar")
    gone = (start - stock(shop)["he1"]) / 1e6
    assert gone == pytest.approx(first["amount_mol"] + first["whip_mol"], rel=1e-6)
    assert "then vent the whip" in panel_fill(shop.station.record, fill).next_text


def test_a_bleed_or_a_rest_draws_nothing(shop: Shop) -> None:
    fill = shop.request(have="150bar@20C:EAN50", want="200bar:EAN32")
    drain = shop.plan(fill).facts["plan"]["steps"][0]
    shop.start(fill)
    before = stock(shop)
    shop.reading(fill, f"{drain['to_bar'] - 0.01:.3f}bar")
    shop.reading(fill, f"{drain['to_bar'] - 0.01:.3f}bar")
    assert stock(shop) == before


def test_a_plan_entered_without_draws_is_booked_as_it_was(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An earlier release told the oxygen of a run by its nitrogen: what air is not."""

    def bare(step: Step, _: float | None = None) -> dict[str, Any]:
        return {k: v for k, v in step_facts(step).items() if k not in ("draws", "bottles")}

    monkeypatch.setattr(planning, "step_facts", bare)
    fill = shop.request(have="45bar@20C:air", want="220bar:EAN32")
    shop.plan(fill, method="continuous-flow", rated_intake="40%")
    shop.start(fill)
    before = shop.moles(fill)
    shop.reading(fill, "220bar")
    gained = [now - then for now, then in zip(shop.moles(fill), before, strict=True)]
    data = shop.last().data
    assert data["supply"] == "o1"
    assert "also" not in data
    assert data["drawn_umol"] / 1e6 == pytest.approx(sum(gained) - gained[2] / AIR_N2, abs=1e-5)
