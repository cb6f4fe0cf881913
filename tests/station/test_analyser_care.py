"""Analysers: two gases, helium, cells and their drift, what was found before a setting."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from blender.errors import InputError
from blender.record.verify import verify
from blender.station import analyser_care, duties, equipment, items, measuring
from reports.calibration_page import calibration_pdf
from tests.station.shop import Shop, gate

DAY_MIN = 24.0 * 60.0


def straight(shop: Shop, high: str, **facts: str) -> dict[str, Any]:
    given = {"low": "air@20.9", "high": high} | facts
    return analyser_care.try_straight(shop.station, shop.jo, "A1", **given)


def known(shop: Shop) -> dict[str, Any]:
    return analyser_care.care_of(shop.station.record, "A1", shop.clock())


def calibrate(shop: Shop, **facts: str) -> None:
    equipment.calibrate(shop.station, shop.jo, name="A1", gas="air", reading="20.9", **facts)


# -- two gases ---------------------------------------------------------------------------------


def test_a_straight_analyser_goes_on_analysing(shop: Shop) -> None:
    found = straight(shop, "oxygen@99.6")
    assert found["ok"]
    # 20.9 on air is dry air's oxygen to the last digit: the setting is right as it stands.
    assert found["off_high_points"] == pytest.approx(-0.4, abs=1e-9)
    assert found["off_at_40_points"] == pytest.approx(
        found["off_high_points"] * (40.0 - 20.946) / (100.0 - 20.946), abs=1e-6
    )
    assert shop.analysed()


def test_one_that_does_not_read_straight_analyses_nothing_until_it_has_a_new_cell(
    shop: Shop,
) -> None:
    found = straight(shop, "oxygen@93.0")
    assert not found["ok"]
    fill = shop.rested()
    answer = shop.analyse(fill, "32.1", by=shop.mara)
    assert gate(answer, "linearity")[0] == "stop"
    calibrate(shop)  # one gas does not mend it
    assert gate(shop.analyse(fill, "32.1"), "linearity")[0] == "stop"
    items.add(shop.station, shop.mara, "cell", "Z2", on="A1")
    calibrate(shop)
    assert shop.analyse(fill, "32.1").done
    assert verify(shop.path).ok


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"high": "EAN28@28.0"}, "at least 10 points"),
        ({"high": "oxygen 99"}, "gas and reading"),
        ({"high": "phlogiston@9"}, "--high"),
        ({"low": "air@"}, "--low"),
        ({"ambient": "0.2bar"}, "ambient"),
    ],
)
def test_what_is_no_second_gas_is_refused(shop: Shop, facts: dict[str, str], told: str) -> None:
    before = shop.seq()
    with pytest.raises(InputError, match=told):
        straight(shop, **({"high": "oxygen@99.6"} | facts))
    assert shop.seq() == before


def test_a_second_gas_falls_due(shop: Shop) -> None:
    def days() -> int | None:
        found = duties.due(shop.station.record, shop.clock(), within_days=99)["due"]
        (one,) = [one for one in found if (one["name"], one["what"]) == ("A1", "linearity")]
        return one["days"]

    assert days() is None
    straight(shop, "oxygen@99.6")
    assert days() == 30


# -- helium ------------------------------------------------------------------------------------


def trimix(shop: Shop) -> int:
    facts = {"customer": "Lena Tief", "have": "0bar@20C:air", "want": "200bar:18/45"}
    fill = shop.request(**facts)
    plan = shop.plan(fill).facts["plan"]
    shop.start(fill)
    for step in plan["steps"]:
        if step["action"] in ("add", "purge"):
            shop.reading(fill, f"{step['to_bar']:.3f}bar")
    return fill


def test_helium_nobody_checked_is_named_in_the_answer(shop: Shop) -> None:
    fill = trimix(shop)
    answer = shop.analyse(fill, "18.1", helium="44.8")
    assert answer.done
    assert "helium-known" in {one.gate for one in answer.cautions}
    analyser_care.try_helium(shop.station, shop.jo, "A2", gas="helium", reading="99.1")
    again = shop.analyse(fill, "18.1", helium="44.8", analyser="A2")
    assert "helium-known" not in {one.gate for one in again.cautions}
    assert gate(again, "helium-known") == (
        "pass",
        "A2 showed a known helium off by -0.9 points",
    )


def test_helium_off_on_a_known_gas_is_not_believed(shop: Shop) -> None:
    fill = trimix(shop)
    analyser_care.try_helium(shop.station, shop.jo, "A1", gas="18/45", reading="48.2")
    answer = shop.analyse(fill, "18.1", helium="44.8", by=shop.mara)
    assert gate(answer, "helium-known")[0] == "stop"
    with pytest.raises(InputError, match="with helium"):
        analyser_care.try_helium(shop.station, shop.jo, "A1", gas="air", reading="0.0")


# -- drift, cells, the certificate -------------------------------------------------------------


def test_what_was_found_before_a_setting_says_how_far_it_drifted(shop: Shop) -> None:
    shop.clock.turn(DAY_MIN / 4)
    calibrate(shop, found="20.6")
    (check,) = known(shop)["checks"]
    assert check["off_points"] == pytest.approx(20.6 - 20.946, abs=1e-6)
    assert shop.analysed()  # it is set now, and was not far off


def test_an_analysis_by_a_setting_that_was_found_far_off_is_not_signed_for(shop: Shop) -> None:
    fill = shop.analysed()
    calibrate(shop, found="22.5")
    assert gate(shop.accept(fill, "31.8"), "drift")[0] == "stop"
    shop.analyse(fill, "32.0")
    assert shop.accept(fill, "31.8").done


def test_each_cell_has_its_age_and_its_own_drift(shop: Shop) -> None:
    items.add(shop.station, shop.mara, "cell", "Z1", on="A1", since="2024-05-25")
    for shown in ("20.9", "20.7", "20.5", "20.3"):
        measuring.check_analyser(shop.station, shop.jo, "A1", gas="air", reading=shown)
        shop.clock.turn(10 * DAY_MIN)
        calibrate(shop)
    items.retire(shop.station, shop.mara, "cell", "Z1", reason="tired")
    items.add(shop.station, shop.mara, "cell", "Z2", on="A1")
    old, new = sorted(known(shop)["cells"], key=lambda cell: cell["name"])
    assert (old["retired"], old["checks"]) == ("tired", 4)
    # 0.2 shown is 0.2004 points of oxygen; three such steps in 30 days.
    assert old["drift_points_month"] == pytest.approx(-0.2004 / 10.0 * 30.4375, rel=0.01)
    assert (new["age_days"], new["checks"], new["drift_points_month"]) == (0, 0, None)
    due = duties.due(shop.station.record, shop.clock(), within_days=2000)["due"]
    (one,) = [one for one in due if one["what"] == "age"]
    assert (one["name"], one["days"]) == ("Z2", 1095)


def test_the_certificate_states_all_of_it_on_paper(shop: Shop) -> None:
    straight(shop, "oxygen@99.6")
    calibrate(shop, found="20.8", air="21C/40%")
    items.add(shop.station, shop.mara, "cell", "Z1", on="A1", since="2026-01-25")
    facts = known(shop)
    told = "\n".join(analyser_care.lines(facts))
    assert "set to 20.9 on air at 1.01325bar, room 21C/40%" in told
    assert "helium: never tried" in told
    assert "cell Z1 (oxygen): 10 months old" in told
    view = analyser_care.paper(shop.station.record, facts, shop.clock())
    text = PdfReader(BytesIO(calibration_pdf(view))).pages[0].extract_text()
    for said in ("CERTIFICATE OF CALIBRATION", "A1", "set on air it shows oxygen off by", "Z1"):
        assert said in text
