"""An oxygen deco cylinder by purge.

Numbers: GERG-2008 (pyaga8 0.1.18); oxygen of 99.5 % with argon as the rest.
"""

from __future__ import annotations

import pytest

from blender.errors import NoFillError
from blender.station import papers
from tests.station.shop import Shop


def deco(shop: Shop, **facts: str) -> int:
    usual = {"cylinder": "D-7", "have": "0bar@20C:air", "residual": "unknown"}
    return shop.request(**(usual | {"want": "150bar:oxygen"} | facts))


def test_a_straight_fill_is_enough_for_99_percent(shop: Shop) -> None:
    fill = deco(shop)
    assert sum(shop.moles(fill)) == pytest.approx(0.291, abs=0.001)
    answer = shop.plan(fill, supply=("o1=oxygen99.5",))
    assert [s["action"] for s in answer.facts["plan"]["steps"]] == ["add", "rest", "analyse"]
    shop.start(fill, "D-7")
    last = shop.reading(fill, "150bar")
    assert last.facts["holds"]["o2"] * 100 == pytest.approx(99.006, abs=0.01)
    assert sum(shop.moles(fill)) == pytest.approx(46.279, rel=1e-3)
    assert shop.analyse(fill, "99.1", serial="D-7").facts["decision"] == "accept"
    shop.accept(fill, "99.0")
    view = papers.label_view(shop.station.record, fill)
    assert view.mod_high_m == pytest.approx(6.145, abs=0.001)


@pytest.mark.parametrize(
    ("minimum", "holds"),
    [("99.4%", [92.323]), ("99.49%", [92.323, 98.844])],
)
def test_purges_reach_more(shop: Shop, minimum: str, holds: list[float]) -> None:
    fill = deco(shop)
    steps = shop.plan(fill, supply=("o1=oxygen99.5",), oxygen_minimum=minimum)
    actions = [s["action"] for s in steps.facts["plan"]["steps"]]
    assert actions == ["purge"] * len(holds) + ["add", "rest", "analyse"]
    shop.start(fill, "D-7")
    for o2 in holds:
        answer = shop.reading(fill, "0bar")
        assert answer.facts["closes"]
        assert answer.facts["holds"]["o2"] * 100 == pytest.approx(o2, abs=0.01)
    last = shop.reading(fill, "150bar")
    expected = {1: 99.455, 2: 99.496}[len(holds)]
    assert last.facts["holds"]["o2"] * 100 == pytest.approx(expected, abs=0.01)
    assert last.state == "resting"


def test_a_purge_not_vented_is_not_a_purge(shop: Shop) -> None:
    """With the oxygen still in, the gauge shows 10 bar: nothing has been vented yet."""
    fill = deco(shop)
    shop.plan(fill, supply=("o1=oxygen99.5",), oxygen_minimum="99.4%")
    shop.start(fill, "D-7")
    for at in ("10bar", "6bar"):
        assert not shop.reading(fill, at).facts["closes"]
    assert shop.reading(fill, "0bar").facts["holds"]["o2"] * 100 == pytest.approx(92.323, abs=0.01)
    odd = shop.reading(fill, "14bar")  # on the way with the last step
    assert not odd.facts["closes"]


def test_more_than_the_supply_has_is_no_fill(shop: Shop) -> None:
    fill = deco(shop)
    count = shop.seq()
    with pytest.raises(NoFillError):
        shop.plan(fill, supply=("o1=oxygen99.5",), oxygen_minimum="99.9%")
    assert shop.seq() == count


def test_oxygen_goes_only_into_a_clean_cylinder(shop: Shop) -> None:
    fill = deco(shop, cylinder="C-1002")
    refused = shop.plan(fill, supply=("o1=oxygen99.5",))
    assert not refused.done
    assert [g.gate for g in refused.objections] == ["oxygen-clean"]
