"""What the Panel shows of a fill: its rate, its layers, and what it must not be taken for."""

from __future__ import annotations

import pytest

from blender.station.panel import panel_fill
from tests.station.shop import Shop


def test_a_rate_is_of_the_present_plan_and_step_alone(shop: Shop) -> None:
    fill = shop.filling()
    for at in ("65bar", "70bar"):
        shop.clock.turn(1)
        shop.reading(fill, at)
    going = panel_fill(shop.station.record, fill).pace
    assert going.rate_bar_min == pytest.approx(5.0, rel=1e-3)
    assert going.stop_us > shop.clock.us
    assert shop.plan(fill).done
    assert panel_fill(shop.station.record, fill).pace.rate_bar_min is None
    shop.clock.turn(1)
    shop.reading(fill, "75bar")
    assert panel_fill(shop.station.record, fill).pace.rate_bar_min is None  # one reading of it


def test_a_falling_gauge_is_no_rate_of_filling(shop: Shop) -> None:
    fill = shop.filling()
    for at in ("70bar", "69.9bar"):
        shop.clock.turn(1)
        shop.reading(fill, at)
    assert panel_fill(shop.station.record, fill).pace.rate_bar_min is None


def test_planned_again_the_lowest_layer_is_not_named_after_the_residual(shop: Shop) -> None:
    fill = shop.filling()
    assert panel_fill(shop.station.record, fill).layers[0].gas == "EAN28"
    shop.reading(fill, "75bar")
    assert shop.plan(fill).done
    layer = panel_fill(shop.station.record, fill).layers[0]
    assert layer.gas == "held by then"
    assert layer.to_bar == pytest.approx(75.0, abs=0.1)


def test_over_the_working_pressure_comes_before_everything(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.4bar")
    shop.reading(fill, "300bar")
    shown = panel_fill(shop.station.record, fill)
    assert shown.next_text.startswith("STOP: over the working pressure of 232.0 bar")
    assert shown.warnings[0] == shown.next_text


def test_an_accepted_fill_is_to_be_handed_over(shop: Shop) -> None:
    fill, _ = shop.accepted()
    shown = panel_fill(shop.station.record, fill)
    assert "hand over" in shown.next_text
    assert {line.mark for line in shown.plan} == {"done"}
