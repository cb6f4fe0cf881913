"""What speaks against a fill reaches whoever signs: a rest cut short, lost gas, another's name."""

from __future__ import annotations

import pytest

from blender.record.glance import glance
from blender.station import book, equipment, handover, mending, papers, search, slips
from blender.station.certificate import certificate_view
from blender.station.lookup import known
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


def told_of(shop: Shop, fill: int) -> list[str]:
    """What each view has of a fill, as text."""
    record = shop.station.record
    (line,) = [one for one in book.fills(record)["fills"] if one["fill"] == fill]
    return [
        str(glance(str(shop.path)).fills),
        panel_fill(record, fill).next_text,
        book.fill_line(line),
        book.fill_line(search.lines(record, [fill])[0]),
        "\n".join(book.story_lines(book.story(record, fill))),
        "; ".join(papers.tag_view(record, fill).warnings),
        str(known(record, "C-1001", shop.clock())["gas_lost"]),
    ]


def is_told(text: str) -> bool:
    return "GAS LOST" in text or "kind='lost-gas', should_bar=230.0, shows_bar=150.0" in text


def test_every_view_says_that_gas_was_lost_and_what_the_way_out_is(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(20)
    assert not any(map(is_told, told_of(shop, fill)))
    shown = shop.reading(fill, "150bar")
    assert "let it settle and mix" not in shown.text
    again = shop.reading(fill, "149bar")  # no more of it is lost: what was lost is
    for text in (shown.text, again.facts["next_text"], *told_of(shop, fill)[1:2]):
        assert "reject it, or analyse it, top it up by a new plan and analyse it anew" in text
    assert all(map(is_told, told_of(shop, fill)))
    shop.analyse(fill, "32.0")
    assert all(map(is_told, told_of(shop, fill)))
    assert "GAS LOST" in offer(shop.station.record, fill).lost
    made = shop.plan(fill)  # topped up from what is left
    assert made.state == "correcting", made.text
    assert made.facts["plan"]["result"]["o2"] * 100 == pytest.approx(32.0, abs=0.1)
    assert shop.start(fill).done
    assert not any(map(is_told, told_of(shop, fill)))
    while shop.row(fill).state == "filling":
        step = shop.steps(fill)[shop.row(fill).step]
        shop.reading(fill, f"{step.to_mbar / 1000:.2f}bar")
    shop.clock.turn(20)
    shop.analyse(fill, "32.1")
    assert shop.accept(fill, "32.0").done  # nobody is asked any more


@pytest.mark.parametrize("end", ["reject", "correct"])
def test_lost_gas_is_over_once_it_was_rejected_or_put_right(shop: Shop, end: str) -> None:
    fill = shop.rested()
    shop.reading(fill, "150bar")
    if end == "reject":
        assert shop.reject(fill, "the neck leaks").done
    else:
        mending.correct_reading(shop.station, shop.jo, fill, at="230bar", temperature="20C")
    record = shop.station.record
    assert "GAS LOST" not in panel_fill(record, fill).next_text
    assert not any(map(is_told, map(str, glance(str(shop.path)).fills)))
