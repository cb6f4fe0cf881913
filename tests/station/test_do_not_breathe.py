"""From the first gas let in until acceptance every view says so, and what is in it."""

from __future__ import annotations

from blender.station import book, papers
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
