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


def _cautions(shop: Shop, fill: int) -> str:
    return " | ".join(panel_fill(shop.station.record, fill).warnings)


def test_a_caution_of_a_stage_goes_with_the_stage(shop: Shop) -> None:
    fill = shop.filling()
    assert "oxygen goes in" in _cautions(shop, fill)
    shop.reading(fill, "84.425bar")
    assert _cautions(shop, fill) == ""  # air alone is left to go in
    shop.reading(fill, "230bar")
    assert shop.row(fill).state == "resting"
    assert _cautions(shop, fill) == ""


def test_helium_is_cautioned_about_until_it_is_analysed(shop: Shop) -> None:
    trimix = {"have": "0bar:air", "residual": "unknown", "want": "200bar:18/45"}
    fill = shop.filling(cylinder="C-1003", customer="Lena Tief", **trimix)
    assert "on the way" in _cautions(shop, fill)
    for step in shop.steps(fill):
        if step.action == "add":
            shop.reading(fill, f"{step.to_mbar / 1000}bar")
    assert shop.row(fill).state == "resting"
    assert "analyse oxygen and helium" in _cautions(shop, fill)
    assert "on the way" not in _cautions(shop, fill)
    shop.analyse(fill, "18.1", "45.2", serial="C-1003")
    assert _cautions(shop, fill) == ""


def test_a_hypoxic_gas_stays_one_to_the_end(shop: Shop) -> None:
    """10 % oxygen is below the usual floor of 0.18 bar at the surface (common practice)."""
    trimix = {"have": "0bar:air", "residual": "unknown", "want": "200bar:10/70"}
    fill = shop.filling(cylinder="C-1003", customer="Lena Tief", **trimix)
    for step in shop.steps(fill):
        if step.action == "add":
            shop.reading(fill, f"{step.to_mbar / 1000}bar")
    shop.analyse(fill, "10.1", "70.2", serial="C-1003")
    assert "DO NOT BREATHE at the surface" in _cautions(shop, fill)
    assert "oxygen goes in" not in _cautions(shop, fill)


def test_two_readings_at_once_tell_no_rate(shop: Shop) -> None:
    fill = shop.filling()
    for at in ("65bar", "75bar"):
        shop.clock.turn(0.2)
        shop.reading(fill, at)
    assert panel_fill(shop.station.record, fill).pace.rate_bar_min is None
