"""What a Panel of 80 by 24 has room for: every stop, one needle, a word that is of now."""

from __future__ import annotations

from blender.station.panel import panel_fill
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.shown import Units
from tui.widgets.gascolumn import lines

TRIMIX = {"have": "0bar:air", "residual": "unknown", "want": "200bar:18/45"}


def test_every_stop_of_a_trimix_and_no_word_of_the_field_before(rig: Rig, shop: Shop) -> None:
    fill = shop.request(cylinder="T-1+T-2", customer="Lena Tief", **TRIMIX)
    shop.plan(fill)

    async def main() -> None:
        async with rig.run() as pilot:
            shown = " ".join(part[52:].strip() for part in rig.screen_text().splitlines())
            for step in shop.steps(fill):
                if step.action == "add":
                    assert f" to {step.to_mbar / 1000:.1f}" in shown, shown
            await rig.enter(pilot, "T-1+T-2")  # without its isolator
            assert rig.said()[0] == "mind"
            await pilot.press("alt+n")
            await rig.settle(pilot)
            assert rig.said() == ("note", "")

    run(main)


def test_a_full_cylinders_stop_has_its_temperatures_beside_it(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "86.6bar", "26C")

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.settle(pilot)
            shown = rig.screen_text()
            assert "at 26 °C" in shown
            assert "settled 230.0 bar at 20 °C" in shown

    run(main)


def test_there_is_one_needle(shop: Shop) -> None:
    fill = shop.request(cylinder="C-1003", customer="Lena Tief", **TRIMIX)
    shop.plan(fill)
    shop.start(fill, "C-1003")
    for at in ("40bar", *(f"{s.to_mbar / 1000}bar" for s in shop.steps(fill) if s.to_mbar > 0)):
        for rows in (6, 16, 30):
            shown = lines(panel_fill(shop.station.record, fill), Units(), rows)
            assert sum("\N{BLACK RIGHT-POINTING TRIANGLE}" in line.plain for line in shown) == 1
        shop.reading(fill, at)
