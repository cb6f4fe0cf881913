"""What was asked before is asked again when a cylinder is signed for, and when it leaves."""

from __future__ import annotations

import pytest

from blender.station import compressors, equipment, looking, measuring, ruling, staff
from tests.station.shop import Shop, gate

HOUR_MIN, DAY_MIN = 60.0, 24.0 * 60.0


def rule(shop: Shop, name: str, value: str) -> None:
    ruling.set_rule(shop.station, shop.mara, name, value, reason="asked for")


def off(shop: Shop, reading: str, name: str = "A1") -> None:
    measuring.check_analyser(shop.station, shop.jo, name, gas="air", reading=reading)


# -- at signing --------------------------------------------------------------------------------


def test_a_cylinder_taken_out_of_oxygen_service_is_not_signed_for(shop: Shop) -> None:
    fill = shop.analysed()
    equipment.change_cylinder(shop.station, shop.jo, serial="C-1001", clean="no")
    answer = shop.accept(fill, "31.8", by=shop.mara)
    assert not answer.done
    assert gate(answer, "oxygen-clean")[0] == "stop"


def test_an_analyser_found_off_after_the_analysis_makes_it_worthless(shop: Shop) -> None:
    fill = shop.analysed()
    off(shop, "22.5")
    answer = shop.accept(fill, "31.8", by=shop.mara)
    assert gate(answer, "drift")[0] == "stop"
    assert "analyse again" in gate(answer, "drift")[1]
    # Setting it afresh does not mend what it read before that.
    equipment.calibrate(shop.station, shop.jo, name="A1", gas="air", reading="20.9")
    assert gate(shop.accept(fill, "31.8"), "drift")[0] == "stop"
    shop.analyse(fill, "32.0")
    assert shop.accept(fill, "31.8").state == "accepted"


def test_a_check_that_was_right_and_an_old_analysis_stop_nobody(shop: Shop) -> None:
    fill = shop.analysed()
    off(shop, "20.9")
    shop.clock.turn(3 * DAY_MIN)  # the setting was fresh when it was read
    assert shop.accept(fill, "31.8").state == "accepted"


def test_a_stale_setting_a_manager_let_on_at_the_analysis_is_not_asked_twice(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(30 * HOUR_MIN)
    assert not shop.analyse(fill, "32.1").done
    assert shop.analyse(fill, "32.1", by=shop.mara).done
    answer = shop.accept(fill, "31.8")
    assert answer.state == "accepted"
    assert "let on by entry" in gate(answer, "calibration")[1]


def test_who_filled_is_qualified_for_it_when_it_is_signed_for(shop: Shop) -> None:
    fill = shop.analysed()
    who = [shop.station, shop.mara, "Jo Blend"]
    staff.qualify(*who, ["banked"], reason="certificate withdrawn")
    answer = shop.accept(fill, "31.8")
    assert gate(answer, "qualified") == (
        "ask",
        "Jo Blend is qualified for banked, not for partial-pressure",
    )
    assert not answer.done
    looking.allow(shop.station, shop.mara, fill, gate="qualified", reason="I stood beside")
    assert shop.accept(fill, "31.8").state == "accepted"


# -- at handing over ---------------------------------------------------------------------------


def test_a_cylinder_that_ran_out_of_test_on_the_shelf_does_not_leave(shop: Shop) -> None:
    fill, label = shop.accepted()
    shop.clock.turn(5 * 365.25 * DAY_MIN)
    answer = shop.collect(fill, label, by=shop.mara)
    assert not answer.done
    assert gate(answer, "periodic-test")[0] == "stop"


def test_one_that_was_found_damaged_on_the_shelf_does_not_leave(shop: Shop) -> None:
    fill, label = shop.accepted()
    looking.look(shop.station, shop.jo, fill, outside="no, dropped from the shelf")
    answer = shop.collect(fill, label, by=shop.mara)
    assert gate(answer, "external-look")[0] == "stop"
    assert shop.row(fill).state == "accepted"


def test_one_read_on_an_analyser_found_off_since_does_not_leave(shop: Shop) -> None:
    fill, label = shop.accepted()
    off(shop, "22.5")
    assert gate(shop.collect(fill, label, by=shop.mara), "drift")[0] == "stop"


def test_a_sound_one_leaves_and_every_answer_is_kept(shop: Shop) -> None:
    fill, label = shop.accepted()
    answer = shop.collect(fill, label)
    assert answer.done
    assert gate(answer, "signed-for")[0] == "pass"
    asked = {one["gate"] for one in shop.last().data["gates"]}
    assert asked >= {"signed-for", "periodic-test", "working-pressure", "drift", "amended"}


def test_whose_it_is_may_be_amended_and_it_still_leaves(shop: Shop) -> None:
    fill, label = shop.accepted()
    shop.amend(fill, "customer", "Lena Tief")
    assert shop.collect(fill, label).done


def test_another_cylinder_amended_in_asks_a_manager_for_a_new_label(shop: Shop) -> None:
    fill, label = shop.accepted()
    assert shop.amend(fill, "cylinder", "C-1003").done
    answer = shop.collect(fill, label, serial="C-1003")
    assert gate(answer, "amended")[0] == "ask"
    assert "print the label anew" in gate(answer, "amended")[1]


# -- whose air ---------------------------------------------------------------------------------


@pytest.fixture(name="two")
def _two(shop: Shop) -> Shop:
    for name in ("K1", "K2"):
        compressors.add_compressor(shop.station, shop.mara, name=name, rated_intake="40%")
    return shop


def air_tested(shop: Shop, name: str, oil: str = "0.05mg/m3", co: str = "1ppm") -> None:
    found = {"co": co, "co2": "400ppm", "oil": oil, "water": "20mg/m3"}
    measuring.enter_air_test(
        shop.station, shop.jo, sampled="2026-11-01", by="lab 7", compressor=name, **found
    )


def test_the_worst_air_of_several_compressors_counts(two: Shop) -> None:
    measuring.read_co(two.station, two.jo, reading="0.5ppm", compressor="K1")
    answer = two.plan(two.request())
    assert gate(answer, "carbon-monoxide")[1].startswith("K2: no reading")
    measuring.read_co(two.station, two.jo, reading="5ppm", compressor="K2")
    answer = two.plan(two.request(), by=two.mara)
    assert gate(answer, "carbon-monoxide")[0] == "stop"
    assert gate(answer, "carbon-monoxide")[1].startswith("K2: ")
    compressors.retire_compressor(two.station, two.mara, name="K2", reason="burns oil")
    assert gate(two.plan(two.request()), "carbon-monoxide")[0] == "pass"


def test_an_air_test_is_of_one_compressor(two: Shop) -> None:
    air_tested(two, "K1")
    assert gate(two.plan(two.request()), "air-test")[1].startswith("K2: no test")
    air_tested(two, "K2", oil="0.4mg/m3")
    assert gate(two.plan(two.request()), "top-air")[0] == "stop"
    with pytest.raises(Exception, match="say whose air it is: K1, K2"):
        measuring.read_co(two.station, two.jo, reading="0.5ppm")
    with pytest.raises(Exception, match="compressors in use are K1, K2"):
        measuring.read_co(two.station, two.jo, reading="0.5ppm", compressor="K3")


def test_with_one_compressor_nobody_has_to_name_it(shop: Shop) -> None:
    measuring.read_co(shop.station, shop.jo, reading="0.5ppm")  # before any is on record
    compressors.add_compressor(shop.station, shop.mara, name="K1", rated_intake="40%")
    assert gate(shop.plan(shop.request()), "carbon-monoxide")[0] == "pass"
    assert measuring.read_co(shop.station, shop.jo, reading="0.7ppm")["compressor"] == "K1"
