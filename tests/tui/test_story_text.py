"""A fill's story on the screen has what the command line's has: old plans, what was signed."""

from __future__ import annotations

from typing import Any

import pytest

from blender.station import book
from tests.station.shop import Shop
from tests.tui.house import Rig, shop_at
from tui.places.story_text import told
from tui.shown import Units


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    yield shop
    shop.station.record.close()


def lines(shop: Shop, fill: int, units: Units | None = None) -> list[str]:
    return told(book.story(shop.station.record, fill), units or Units()).plain.split("\n")


def section(shop: Shop, fill: int, heading: str, units: Units | None = None) -> list[str]:
    found = lines(shop, fill, units)
    after = found[found.index(heading) + 1 :]
    return after[: after.index("")]


def test_what_the_diver_signed(shop: Shop) -> None:
    """EAN32 at 1.4 bar is 33 m (10 msw = 1 bar, NOAA's handbook practice)."""
    fill, _ = shop.accepted()
    signed = section(shop, fill, "WHAT THE DIVER SIGNED")
    assert signed[0].startswith("Kai Diver, customer: accepted, typed, 2026-11-25 ")
    assert "C-1001: O2 32.1 %" in signed[1]
    assert "MOD 33 m at ppO2 1.4 bar" in signed[1]
    assert signed[2].startswith("   own reading O2 31.8 %: ")
    entry = signed[0].rpartition(" ")[2]
    assert any(line.strip().startswith(f"{entry} ") for line in lines(shop, fill))


def test_before_anybody_signed_there_is_none(shop: Shop) -> None:
    assert section(shop, shop.analysed(), "WHAT THE DIVER SIGNED") == ["none"]


def test_each_plan_before_the_one_in_force(shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    assert "PLANS BEFORE IT" not in lines(shop, fill)
    shop.plan(fill, top="EAN30")
    shop.plan(fill)
    before = section(shop, fill, "PLANS BEFORE IT")
    plans = book.story(shop.station.record, fill)["plans"]
    heads = [line for line in before if not line.startswith(" ")]
    assert len(heads) == len(plans) - 1 == 2
    for head, plan in zip(heads, plans, strict=False):
        assert head.startswith(f"{plan['method']}, made by Jo Blend")
        assert head.endswith(f"another plan in entry {plan['superseded_by']}")
    assert any("EAN30" in line for line in before)
    for stop in (84.425, 230.0):
        assert any(f" to {stop:.1f} bar at 20 °C" in line for line in before)


def test_psi_come_from_what_was_typed(shop: Shop) -> None:
    """1000 psi are 68.9476 bar (NIST SP 811), which the sentence rounds to 69: 1001 psi."""
    fill = shop.request(have="1000psi@70F:EAN28", want="3000psi:EAN32")
    shown = lines(shop, fill, Units(imperial=True))
    assert "left in it before: 1000 psi at 70 °F of EAN28 (analysed)" in shown


def test_a_reading_is_set_beside_its_stop_at_the_readings_own_temperature(shop: Shop) -> None:
    """The same gas at 35 degC shows about 84.4 * 308 / 293 bar: the stop was met, not passed."""
    fill = shop.filling()
    answer = shop.reading(fill, "89.30bar", "35C")
    assert answer.facts["closes"]
    (read,) = book.story(shop.station.record, fill)["readings"]
    assert read["stop_here_bar"] == pytest.approx(84.425 * 308.15 / 293.15, rel=0.02)
    assert read["stop_here_bar"] == pytest.approx(89.3, abs=0.6)
    text = "\n".join(lines(shop, fill))
    assert "passed by 4." not in text
    assert "bar at the reading's)" in "\n".join(
        book.story_lines(book.story(shop.station.record, fill))
    )
