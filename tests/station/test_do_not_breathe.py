"""From the first gas let in until acceptance every view says so, and what is in it."""

from __future__ import annotations

import pytest

from blender.station import book, papers
from blender.station.panel import panel_fill
from blender.station.states import STATES, do_not_breathe
from tests.station.shop import Shop


def views(shop: Shop, fill: int) -> list[str]:
    record = shop.station.record
    row = next(line for line in book.fills(record)["fills"] if line["fill"] == fill)
    story = "\n".join(book.story_lines(book.story(record, fill)))
    return [book.fill_line(row), story]


def test_every_view_says_so_from_the_first_gas_until_acceptance(shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    assert not any("DO NOT BREATHE" in view for view in views(shop, fill))
    shop.start(fill)
    shop.reading(fill, "84.425bar")
    for view in views(shop, fill):
        assert "O2 49.1 % (calculated) - DO NOT BREATHE" in view
    assert papers.tag_view(shop.station.record, fill).holds_now == "O2 49.1 % (calculated)"
    shop.reading(fill, "230bar")
    shop.analyse(fill, "32.1")
    assert all("DO NOT BREATHE" in view for view in views(shop, fill))
    shop.accept(fill, "31.8")
    assert not any("DO NOT BREATHE" in view for view in views(shop, fill))


def test_a_tag_hung_before_the_start_does_not_state_what_will_change(shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    assert papers.tag_view(shop.station.record, fill).holds_now == "O2 32.0 to 49.1 % on the way"
    shop.start(fill)
    shop.reading(fill, "84.425bar")
    shop.hold(fill)
    held = papers.tag_view(shop.station.record, fill)
    assert held.warnings[0] == "held: the gauge last showed 84.4 bar at 20 °C (gas)"


def test_an_analysis_far_from_what_went_in_asks_the_manager(shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    shop.start(fill)
    shop.reading(fill, "230bar")  # entered at the oxygen step
    shop.reading(fill, "230bar")
    shop.analyse(fill, "32.1")
    refused = shop.accept(fill, "32.0")
    assert not refused.done
    assert [gate.gate for gate in refused.objections] == ["calculated"]
    assert shop.accept(fill, "32.0", by=shop.mara).done


def said_of(shop: Shop, fill: int) -> bool:
    (line,) = [row for row in book.fills(shop.station.record)["fills"] if row["fill"] == fill]
    assert ("DO NOT BREATHE" in line.get("holds_text", "")) is line["do_not_breathe"]
    panel = panel_fill(shop.station.record, fill).do_not_breathe
    assert (
        panel is line["do_not_breathe"] is book.story(shop.station.record, fill)["do_not_breathe"]
    )
    return bool(line["do_not_breathe"])


def test_what_is_given_up_or_set_apart_says_so_even_without_gas_let_in(shop: Shop) -> None:
    for end in (shop.reject, shop.quarantine):
        fill = shop.request()
        assert not said_of(shop, fill)
        assert end(fill).done
        assert said_of(shop, fill)
    assert shop.release(fill).done
    assert not said_of(shop, fill)


def test_what_was_accepted_and_then_given_up_says_so_again(shop: Shop) -> None:
    fill, _ = shop.accepted()
    assert not said_of(shop, fill)
    shop.quarantine(fill)
    assert said_of(shop, fill)
    shop.release(fill)
    assert not said_of(shop, fill)
    shop.reject(fill)
    assert said_of(shop, fill)


@pytest.mark.parametrize("state", STATES)
def test_every_state_with_gas_but_the_signed_ones(state: str) -> None:
    signed = ("accepted", "collected", "elsewhere")  # the last at another station of the shop
    assert do_not_breathe(state, has_gas=True) is (state not in signed)
    assert do_not_breathe(state, has_gas=False) is (state in ("rejected", "quarantined"))
