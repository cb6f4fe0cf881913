"""Units and words: all that a screen shows follows the setting, and no option is named."""

from __future__ import annotations

import re

import pytest
from textual.widgets import Digits, Input

from blender.record.glance import glance
from blender.station import equipment
from blender.station.panel import panel_fill
from reports.wording import FIXED, pressure
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.saying import said
from tui.shown import Units

METRIC, IMPERIAL = Units(), Units(imperial=True)
# A pressure, temperature, depth or volume in metric units.
_METRIC = re.compile(r"\b\d+(?:[.,]\d+)? ?(?:bar|°C|degC|mbar|L|m)\b")


@pytest.mark.parametrize(
    ("text", "metric", "imperial"),
    [
        # 1 bar = 14.5038 psi (from memory); 0 degC = 32 degF, 100 degC = 212 degF
        ("to 100.0 bar at 20.0 degC", "to 100.0 bar at 20.0 °C", "to 1450 psi at 68 °F"),
        ("shows 232.0 bar (3365 psi)", "shows 232.0 bar", "shows 3365 psi"),
        ("allowed is 0 to 350 m", None, "allowed is 0 to 1148 ft"),
        ("gauge pressures are 0 to 499 bar", None, "gauge pressures are 0 to 7237 psi"),
        ("68.0 degF", "20 °C", "68.0 °F"),
        ("temperatures are -20 to 60 degC (-4 to 140 degF)", "temperatures are -20 to 60 °C",
         "temperatures are -4 to 140 °F"),
        ("ppO2: 9 is not usable; allowed is 0.16 to 3 bar", None,
         "ppO2: 9 is not usable; allowed is 0.16 to 3 bar"),
        ("'60bar:EAN28' is not usable", None, "'60bar:EAN28' is not usable"),  # as typed
        ("--tp: nothing given; give --wp first", "test pressure: nothing given; give working "
         "pressure first", None),
        ("at 3.0 bar/min", None, "at 43.5 psi/min"),
    ],
)  # fmt: skip
def test_sentences_of_the_station(text: str, metric: str | None, imperial: str | None) -> None:
    assert said(text, METRIC) == (metric or text)
    assert said(text, IMPERIAL) == (imperial or metric)


@pytest.mark.parametrize("bar", [82.5, 83.5, 230.5, 0.5, 199.999])
def test_screens_and_papers_round_halves_alike(bar: float) -> None:
    assert METRIC.pressure(bar, 0) == pressure(bar, imperial=False).replace(FIXED, " ")
    assert pressure(bar, imperial=True).startswith(IMPERIAL.pressure(bar).replace(" ", FIXED))


def test_the_book_rounds_a_half_up(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    assert shop.reading(fill, "82.5bar", "20C").done

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await rig.until(pilot, lambda: "83 bar" in rig.screen_text())

    run(main)


def test_sizes_in_either_units() -> None:
    assert METRIC.size("2x12L", 24.0, 2, 232.0) == "2x12L"
    assert IMPERIAL.size("80cuft@3000psi", 11.046, 1, 206.8) == "80cuft@3000psi"
    # 80 cu ft at 3000 psi are 11.05 L of water, as blender.units has it from published tables
    assert METRIC.size("80cuft@3000psi", 11.046, 1, 206.8) == "11.05 L"
    assert IMPERIAL.size("11.046L", 11.046, 1, 206.843) == "80 cu ft at 3000 psi"


def _metric_in(text: str) -> list[str]:
    partial = ("ppO2 1.40 bar", "1.60 bar")  # these stay in bar, as rules of one do
    lines = [line for line in text.splitlines() if "-ppo2 " not in line]
    kept = "\n".join(lines).replace(partial[0], "").replace(partial[1], "")
    return list(_METRIC.findall(kept))


@pytest.mark.parametrize("place", ["counter", "panel", "store", "book", "office"])
def test_no_metric_number_stays_where_psi_is_set(rig: Rig, shop: Shop, place: str) -> None:
    """Work stands in every state; each place is walked through in psi."""
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="180bar")
    equipment.add_supply(shop.station, shop.mara, name="h1", gas="helium", size="50L", at="200bar")
    held = shop.filling()
    assert shop.reading(held, "70bar", "24C").done
    over = shop.filling(cylinder="C-1003")
    shop.reading(over, "250bar", "20C")
    shop.request(cylinder="D-7", have="30bar@18C:EAN32", residual="label", want="200bar:EAN32")
    shop.plan(shop.request(cylinder="T-1+T-2", have="0bar:air", residual="unknown",
                           want="200bar:18/45", customer="Lena Tief"))  # fmt: skip

    async def main() -> None:
        async with rig.run((120, 40), who="manager", place=place) as pilot:
            await pilot.press("alt+u")
            await rig.settle(pilot)
            keys = {
                "counter": (), "panel": ("f2", "f3", "f4", "f5"), "store": ("down", "f1"),
                "book": ("down", "down", "enter"), "office": ("right", "right", "right"),
            }[place]  # fmt: skip
            assert _metric_in(rig.screen_text()) == []
            for key in keys:
                await pilot.press(key)
                await rig.settle(pilot)
                assert _metric_in(rig.screen_text()) == [], rig.screen_text()
            if place == "counter":
                for text in ("C-10", "1", "12 EAN28", "D-7", "5000 EAN32"):
                    rig.terminal.screen.query_one(Input).value = ""
                    await rig.enter(pilot, text)
                    assert _metric_in(rig.screen_text()) == [], rig.screen_text()

    run(main)


def test_what_was_said_follows_when_the_units_change(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "900 20")
            assert "499 bar" in rig.said()[1]
            await pilot.press("alt+u")
            await rig.settle(pilot)
            assert "7237 psi" in rig.said()[1]
            await pilot.press("alt+u")
            await rig.settle(pilot)
            assert "499 bar" in rig.said()[1]

    run(main)


def test_the_label_is_signed_for_in_ones_own_units(rig: Rig, shop: Shop) -> None:
    shop.analysed("32.1")

    async def main() -> None:
        async with rig.run((100, 30), place="counter") as pilot:
            await pilot.press("alt+u")
            await rig.enter(pilot, "C-1001")
            shown = rig.screen_text()
            assert "3336 psi at 68 °F; the label: 230 bar at 20 °C" in shown
            assert "108 ft / 33 m" in shown

    run(main)


def test_messages_name_fields_not_options(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "NEW-7")
            await rig.enter(pilot, "")
            for text in ("12L", "232", "200", "2025-03", "2026-02", "yes"):
                await rig.enter(pilot, text)
            words = rig.screen_text()  # said while the form is open
            assert "test pressure lies above" in words
            assert "--" not in words

    run(main)


@pytest.mark.parametrize("psi", [500, 1000, 2216, 3000, 3442])
def test_a_sentence_is_converted_from_the_figure_it_was_made_from(psi: int) -> None:
    """1 psi is 6.894757 kPa (NIST SP 811); whole bars alone would be up to seven psi off."""
    bar = psi * 0.06894757
    for text in (f"{bar:.0f} bar were left", f"{bar:.1f} bar were left"):
        assert said(text, Units(imperial=True), {"steps": ({"left_bar": bar},)}) == (
            f"{psi} psi were left"
        )


def test_a_figure_that_two_others_were_rounded_to_is_converted_itself() -> None:
    known = {"from_bar": 206.6, "to_bar": 207.4}
    assert said("207 bar", Units(imperial=True), known) == "3002 psi"
    assert said("207 bar", Units(), known) == "207 bar"


def test_the_station_speaks_of_degrees_as_the_screen_does() -> None:
    assert said("84.4 bar at 20.0 degC, O2 32.0 % +- 1.5", Units()) == (
        "84.4 bar at 20.0 °C, O2 32.0 % ± 1.5"
    )
    assert said("reason: +-x degC", Units()) == "reason: +-x degC"


@pytest.mark.parametrize("units", [Units(), Units(imperial=True)])
def test_one_screen_has_one_figure_for_a_stop(rig: Rig, shop: Shop, units: Units) -> None:
    """List, drawing, digits and words: a hand at the valve finds the same number in each."""
    fill = shop.filling()
    stop = panel_fill(shop.station.record, fill).stop
    assert stop is not None
    figure = units.pressure(stop.here_bar)
    listed = glance(str(rig.location)).fills[0]
    assert units.pressure(listed.stop_mbar / 1000.0) == figure

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            if units.imperial:
                await pilot.press("alt+u")
                await rig.settle(pilot)
            rows = rig.screen_text()
            number, unit = figure.split()
            assert rig.terminal.screen.query_one("#digits", Digits).value == number
            assert rows.count(f"{number} {unit}") >= 3  # in the list, the drawing and the words

    run(main)
