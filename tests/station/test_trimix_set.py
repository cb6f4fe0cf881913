"""A twin-set, helium first: what is in it on the way, and one analysis per post.

Numbers: GERG-2008 (pyaga8 0.1.18), 24 L, oxygen of 99.5 % with argon as the rest.
"""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.station import book, papers
from blender.station.answer import Answer
from blender.station.offer import offer
from blender.station.panel import panel_fill
from blender.station.recomputing import recompute
from tests.station.shop import Shop, gate

SET = "T-1+T-2"
SUPPLIES = ("he=helium", "o1=oxygen99.5")


def requested(shop: Shop) -> int:
    return shop.request(
        cylinder=SET, customer="Lena Tief", have="40bar@20C:21/35", want="220bar:18/45"
    )


def started(shop: Shop) -> int:
    fill = requested(shop)
    assert shop.plan(fill, supply=SUPPLIES).done
    assert shop.start(fill, SET, isolator="open").done
    return fill


def filled(shop: Shop) -> int:
    fill = started(shop)
    for at in ("121.894bar", "136.142bar", "220bar"):
        assert shop.reading(fill, at).facts["closes"]
    assert shop.row(fill).state == "resting"
    return fill


def post(shop: Shop, fill: int, serial: str, o2: str, **more: str) -> Answer:
    return shop.analyse(fill, o2, more.pop("helium", "45.0"), serial=serial, **more)


def test_the_three_stops(shop: Shop) -> None:
    fill = requested(shop)
    assert sum(shop.moles(fill)) == pytest.approx(39.820, rel=1e-3)
    steps = shop.plan(fill, supply=SUPPLIES).facts["plan"]["steps"]
    adds = [s for s in steps if s["action"] == "add"]
    assert [s["to_bar"] for s in adds] == pytest.approx([121.894, 136.142, 220.0], abs=0.05)
    assert [s["amount_mol"] for s in adds] == pytest.approx([73.043, 12.200, 68.226], rel=1e-3)


def test_what_is_in_it_on_the_way(shop: Shop) -> None:
    fill = started(shop)
    for at, o2, he in (
        ("121.894bar", 7.409, 77.067),
        ("136.142bar", 16.393, 69.549),
        ("220bar", 18.000, 45.000),
    ):
        holds = shop.reading(fill, at).facts["holds"]
        assert (holds["o2"] * 100, holds["he"] * 100) == pytest.approx((o2, he), abs=0.01)
    assert sum(shop.moles(fill)) == pytest.approx(193.290, rel=1e-3)


def test_oxygen_first_needs_its_own_order(shop: Shop) -> None:
    fill = requested(shop)
    shop.plan(fill, supply=SUPPLIES, order="oxygen,helium,top")
    shop.start(fill, SET, isolator="open")
    holds = shop.reading(fill, "52.43bar").facts["holds"]
    assert (holds["o2"] * 100, holds["he"] * 100) == pytest.approx((39.411, 26.791), abs=0.01)


def test_stopped_after_helium_says_do_not_breathe(shop: Shop) -> None:
    fill = started(shop)
    shop.reading(fill, "121.894bar")
    held = shop.hold(fill, "shift over")
    assert held.state == "held"
    assert held.facts["holds_text"] == "O2 7.4 % He 77.1 % - DO NOT BREATHE"
    assert "DO NOT BREATHE" in held.text
    tag = papers.tag_view(shop.station.record, fill)
    assert tag.holds_now == "O2 7.4 % He 77.1 % (calculated)"
    assert tag.state == "held"
    told = book.story(shop.station.record, fill)
    assert told["holds_text"] == "O2 7.4 % He 77.1 % (calculated) - DO NOT BREATHE"
    with pytest.raises(RefusedError, match="label"):
        papers.label_view(shop.station.record, fill)
    assert [row.kind for row in shop.exceptions(fill)] == ["held"]


def test_a_closed_isolator_stops_the_start(shop: Shop) -> None:
    fill = requested(shop)
    shop.plan(fill, supply=SUPPLIES)
    refused = shop.start(fill, SET, isolator="closed")
    assert not refused.done
    assert gate(refused, "isolator")[0] == "stop"
    assert shop.row(fill).state == "planned"
    with pytest.raises(InputError, match="open or closed"):
        shop.start(fill, SET, isolator="ajar")
    assert shop.start(fill, SET, isolator="open").done


def test_one_half_of_a_set_is_not_the_set(shop: Shop) -> None:
    fill = requested(shop)
    shop.plan(fill, supply=SUPPLIES)
    for serial in ("T-1", "T-2", "T-2+T-1", "C-1001"):
        assert gate(shop.start(fill, serial), "identity")[0] == "stop"
    assert shop.row(fill).state == "planned"


def test_helium_must_be_read(shop: Shop) -> None:
    fill = filled(shop)
    count = shop.seq()
    with pytest.raises(InputError, match="helium reading needed"):
        shop.analyse(fill, "18.0", serial="T-1")
    assert shop.seq() == count
    assert shop.row(fill).he_ppm == -1  # not measured, never 0
    assert book.fills(shop.station.record)["fills"][-1]["analysed"] is None


def test_helium_must_be_read_in_the_residual_too(shop: Shop) -> None:
    fill = requested(shop)
    with pytest.raises(InputError, match="helium reading needed"):
        shop.analyse(fill, "21.0", serial="T-1")


def test_each_post_is_analysed(shop: Shop) -> None:
    fill = filled(shop)
    assert post(shop, fill, "T-1", "18.0").state == "analysed"
    refused = shop.accept(fill, "18.0", "45.0")
    assert gate(refused, "set")[0] == "stop"
    assert "1 of 2" in gate(refused, "set")[1]
    # The same post again is not the other post.
    assert post(shop, fill, "T-1", "18.1").state == "analysed"
    assert not shop.accept(fill, "18.0", "45.0").done
    assert post(shop, fill, "T-2", "18.2").state == "analysed"
    accepted = shop.accept(fill, "18.0", "45.0", name="Lena Tief")
    assert accepted.state == "accepted"
    view = papers.label_view(shop.station.record, fill)
    assert view.he_percent == 45.0
    assert view.mod_agreed_m == pytest.approx(10 * (1.4 / 0.182) - 10, abs=1e-3)
    assert view.floor_m == pytest.approx(0.0, abs=1e-3)


def test_eighteen_percent_has_its_depths(shop: Shop) -> None:
    fill = filled(shop)
    post(shop, fill, "T-1", "18.0")
    post(shop, fill, "T-2", "18.0")
    shop.accept(fill, "18.0", name="Lena Tief")  # the diver may read oxygen only
    view = papers.label_view(shop.station.record, fill)
    assert view.mod_agreed_m == pytest.approx(67.778, abs=0.001)


def test_posts_that_differ_have_no_label(shop: Shop) -> None:
    """18.0 against 18.6: the isolator was closed, or the gas has not mixed."""
    fill = filled(shop)
    post(shop, fill, "T-1", "18.0")
    answer = post(shop, fill, "T-2", "18.6")
    assert answer.state == "recheck"
    refused = shop.accept(fill, "18.0", "45.0")
    assert not refused.done
    with pytest.raises(RefusedError, match="label"):
        papers.label_view(shop.station.record, fill)


def test_a_third_reading_at_one_post_does_not_outvote_the_other(shop: Shop) -> None:
    fill = filled(shop)
    post(shop, fill, "T-1", "18.0")
    post(shop, fill, "T-2", "18.6")
    post(shop, fill, "T-1", "18.0", analyser="A2")
    refused = shop.accept(fill, "18.0", "45.0")
    assert not refused.done
    assert shop.row(fill).state != "accepted"


def test_posts_half_a_point_apart_agree(shop: Shop) -> None:
    fill = filled(shop)
    post(shop, fill, "T-1", "18.0")
    assert post(shop, fill, "T-2", "18.5").state == "analysed"
    assert shop.accept(fill, "18.2", "45.0").state == "accepted"


def test_helium_is_not_for_everybody(shop: Shop) -> None:
    fill = shop.request(cylinder=SET, have="40bar@20C:21/35", want="220bar:18/45")
    refused = shop.plan(fill, supply=SUPPLIES)
    assert gate(refused, "certification")[0] == "ask"
    assert not refused.done
    assert shop.plan(fill, by=shop.mara, supply=SUPPLIES).done


def test_the_label_of_a_set_states_each_post_whichever_was_read_last(shop: Shop) -> None:
    fill = filled(shop)
    post(shop, fill, "T-1", "18.4", helium="45.3")
    post(shop, fill, "T-2", "18.0", helium="44.8")
    accepted = shop.accept(fill, "18.2", "45.0", name="Lena Tief")
    assert accepted.facts["label"]["o2_ppm"] == pytest.approx(184_000, abs=500)  # not the last
    view = papers.label_view(shop.station.record, fill)
    told = [(one.serial, round(one.o2_percent, 1), one.he_percent) for one in view.posts]
    assert told == [("T-1", 18.4, 45.3), ("T-2", 18.0, 44.8)]
    assert view.mod_agreed_m == pytest.approx(10 * (1.4 / 0.184) - 10, abs=0.01)
    assert recompute(shop.station.record)["differences"] == []


def test_after_the_first_post_the_other_is_what_comes_next(shop: Shop) -> None:
    fill, record = filled(shop), shop.station.record
    answer = post(shop, fill, "T-1", "18.0")
    assert answer.facts["posts_left"] == ["T-2"]
    assert "Now the other post, T-2" in answer.text
    shown = panel_fill(record, fill)
    assert (shown.posts_left, shown.next_text) == (("T-2",), "Next: analyse the other post, T-2.")
    assert offer(record, fill).posts_left == ("T-2",)
    last = post(shop, fill, "T-2", "18.1")
    assert "posts_left" not in last.facts
    assert panel_fill(record, fill).posts_left == offer(record, fill).posts_left == ()


def test_a_single_cylinder_has_no_other_post(shop: Shop) -> None:
    fill = shop.analysed()
    assert panel_fill(shop.station.record, fill).posts_left == ()
    assert offer(shop.station.record, fill).posts_read == ()
