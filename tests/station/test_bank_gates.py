"""A plan that a bank no longer carries: other fills drew from it since the plan was made."""

from __future__ import annotations

from typing import Any

from blender.station import equipment, filling
from blender.station.answer import Answer
from tests.station.shop import Shop


def planned(shop: Shop, serial: str, customer: str = "Kai Diver") -> int:
    fill = shop.request(cylinder=serial, customer=customer, have="50bar:air", want="200bar:EAN32")
    assert shop.plan(fill, method="banked").done
    return fill


def with_bank(shop: Shop) -> tuple[int, int]:
    """Two fills planned from one bank, before either of them drew from it."""
    bank: dict[str, Any] = {"name": "b1", "gas": "EAN36", "size": "50L", "at": "240bar"}
    equipment.add_supply(shop.station, shop.mara, **bank)
    first, second = planned(shop, "C-1001"), planned(shop, "C-1003", "Lena Tief")
    assert shop.start(first).done
    stop = next(step for step in shop.steps(first) if step.action == "add")
    shop.reading(first, f"{stop.to_mbar / 1000}bar")
    return first, second


def start(shop: Shop, fill: int) -> Answer:
    return filling.start(shop.station, shop.jo, fill, serial="C-1003", at_hand=True)


def test_at_the_panel_a_plan_the_bank_no_longer_carries_is_stopped(shop: Shop) -> None:
    _, second = with_bank(shop)
    answer = start(shop, second)
    assert not answer.done
    assert "drew from b1" in answer.spoken
    assert "plan again" in answer.spoken
    assert shop.row(second).state == "planned"


def test_a_script_is_told(shop: Shop) -> None:
    _, second = with_bank(shop)
    answer = shop.start(second, "C-1003")
    assert answer.done
    (gate,) = [one for one in answer.gates if one.gate == "banks"]
    assert gate.caution
    assert "does not reach" in gate.reason


def test_an_untouched_bank_says_nothing(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="b1", gas="EAN36", size="50L", at="240bar")
    answer = start(shop, planned(shop, "C-1003", "Lena Tief"))
    assert answer.done
    assert [one.caution for one in answer.gates if one.gate == "banks"] == [False]
