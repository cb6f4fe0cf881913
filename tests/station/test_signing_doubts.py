"""What speaks against a fill reaches whoever signs: a rest cut short, lost gas, another's name."""

from __future__ import annotations

from blender.station import equipment, handover, slips
from blender.station.certificate import certificate_view
from blender.station.offer import offer
from blender.station.panel import panel_fill
from tests.station.shop import Shop, gate
from tests.station.test_slips import whole

TOO_SOON = "analysed 1 min after filling: may not be mixed"


def test_a_corrected_analysis_is_cautioned_again_and_whoever_signs_is_told(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(1)
    shop.analyse(fill, "23.1")
    shop.clock.turn(5)
    done = slips.correct_analysis(shop.station, shop.jo, fill, reading="32.1")
    assert "Only 1 min since gas went in or out" in done.text
    assert done.facts["warnings"][-1]["code"] == "rest"
    assert offer(shop.station.record, fill).unrested == TOO_SOON
    assert shop.accept(fill, "31.9").done
    assert f"rest: {TOO_SOON}" in certificate_view(shop.station.record, fill).exceptions
    whole(shop)


def test_after_its_rest_nothing_of_it_is_told(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(10)
    shop.analyse(fill, "32.1")
    assert offer(shop.station.record, fill).unrested == ""


def test_gas_lost_while_it_rests_asks_a_manager_before_it_is_signed_for(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(20)
    shown = shop.reading(fill, "5bar")
    assert shown.facts["warnings"][0]["code"] == "lost-gas"
    assert any("shows 5.0 bar" in one for one in panel_fill(shop.station.record, fill).warnings)
    answer = shop.analyse(fill, "32.1")
    assert "MIND" in answer.text
    refused = shop.accept(fill, "32.0")
    assert not refused.done
    told, why = gate(refused, "lost-gas")
    assert told == "ask"
    assert "230.0 bar" in why
    assert "shows 5.0 bar" in why
    whole(shop)


def test_a_misread_gauge_put_right_asks_nobody(shop: Shop) -> None:
    from blender.station import mending

    fill = shop.rested()
    shop.reading(fill, "23bar")
    mending.correct_reading(shop.station, shop.jo, fill, at="230bar", temperature="20C")
    shop.analyse(fill, "32.1")
    assert shop.accept(fill, "32.0").done


def test_a_recheck_names_the_readings_that_differ(shop: Shop) -> None:
    fill = shop.analysed("32.1")
    handover.dispute(shop.station, shop.jo, fill, reading="23.8")
    told = panel_fill(shop.station.record, fill).next_text
    assert "A1 32." in told
    assert "diver 23.8 %" in told


def test_signed_for_another_is_an_exception_with_both_names(shop: Shop) -> None:
    fill = shop.analysed("32.1")
    assert not shop.accept(fill, "25.0", name="Uma Neu").done
    disputed = shop.last()
    with shop.station.record.read() as conn:
        from blender.record import private

        kept = private.get(conn, disputed.data["private"])
    assert (kept or {})["name"] == "Uma Neu"
    equipment.calibrate(shop.station, shop.jo, name="A1", gas="air", reading="20.9")
    shop.analyse(fill, "32.0")
    assert shop.accept(fill, "31.9", name="Uma Neu").done
    unusual = certificate_view(shop.station.record, fill).exceptions
    assert "representative: signed for Kai Diver by Uma Neu" in unusual
    whole(shop)


def test_two_disputed_posts_are_set_aside_once_each_was_read_anew(shop: Shop) -> None:
    fill = shop.request(cylinder="T-1+T-2")
    shop.plan(fill)
    shop.start(fill, serial="T-1+T-2", isolator="open")
    for step in shop.steps(fill):
        if step.action == "add":
            shop.reading(fill, f"{step.to_mbar / 1000}bar")
    shop.analyse(fill, "31.7", serial="T-1")
    assert shop.analyse(fill, "32.3", serial="T-2").state == "recheck"
    equipment.calibrate(shop.station, shop.jo, name="A1", gas="air", reading="20.9")
    assert shop.analyse(fill, "31.85", serial="T-1").state == "analysed"
    last = shop.analyse(fill, "31.75", serial="T-2")
    assert last.state == "analysed", last.text
    whole(shop)


def test_an_overshot_stop_stands_until_it_is_planned_anew(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "94.4bar")
    shown = panel_fill(shop.station.record, fill)
    assert shown.stop is None
    assert shown.next_text.startswith("PLAN AGAIN: 94.4 bar is beyond the stop")
    shop.reading(fill, "150bar")  # gone on with, by decision
    assert panel_fill(shop.station.record, fill).stop is not None
