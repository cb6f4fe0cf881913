"""Banks at work: read, swapped, retired, and planned with by name."""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.gas import OXYGEN
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import equipment, register, supplies
from blender.vessel import amount_for_pressure
from tests.station.shop import Shop


@pytest.fixture(name="bank")
def _bank(shop: Shop) -> Shop:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="180bar")
    equipment.add_supply(shop.station, shop.mara, name="o 2", gas="oxygen", size="50L", at="140bar")
    equipment.add_supply(shop.station, shop.mara, name="pipe", gas="oxygen99.5")
    return shop


def row(shop: Shop, name: str) -> dict:
    return next(r for r in register.supplies(shop.station.record)["supplies"] if r["name"] == name)


def test_a_reading_sets_what_a_bank_holds(bank: Shop) -> None:
    said = supplies.read_supply(bank.station, bank.jo, "o1", at="150bar", temperature="35C")
    moles = amount_for_pressure(OXYGEN, 150.0, 35.0, 0.050)
    assert said["content_mol"] == pytest.approx(moles, abs=1e-6)
    assert said["expected_bar"] > 180.0  # warmer than when it was entered
    assert said["difference_bar"] == pytest.approx(150.0 - said["expected_bar"])
    assert said["difference_mol"] < 0
    after = row(bank, "o1")
    assert after["pressure_bar"] < 150.0  # at 20 degC
    assert after["read_us"] == bank.clock.us
    assert (bank.last().kind, bank.last().data["typed"]["at"]) == ("supply.read", "150bar")
    same = supplies.read_supply(bank.station, bank.jo, "o1", at="150bar", temperature="35C")
    assert same["difference_bar"] == pytest.approx(0.0, abs=0.002)


@pytest.mark.parametrize(
    ("name", "facts"),
    [("o1", {"at": "150"}), ("o1", {"at": "150bar", "temperature": "20"}),
     ("nobody", {"at": "1bar"}), ("pipe", {"at": "150bar"})],
)  # fmt: skip
def test_what_cannot_be_read_is_not_entered(bank: Shop, name: str, facts: dict[str, str]) -> None:
    before = bank.seq()
    with pytest.raises(InputError):
        supplies.read_supply(bank.station, bank.jo, name, **facts)
    assert bank.seq() == before


def test_a_swapped_bottle(bank: Shop) -> None:
    supplies.change_supply(bank.station, bank.jo, "o1", at="200bar")
    assert row(bank, "o1")["pressure_bar"] == pytest.approx(200.0, abs=0.01)
    supplies.change_supply(bank.station, bank.jo, "pipe", gas="oxygen99.5", size="10L", at="100bar")
    assert (row(bank, "pipe")["size_l"], row(bank, "o1")["size_l"]) == (10.0, 50.0)
    for wrong in ({}, {"size": "20L"}, {"gas": "EAN50"}, {"gas": "argon", "at": "100bar"}):
        with pytest.raises(InputError):
            supplies.change_supply(bank.station, bank.jo, "o1", **wrong)


def test_a_retired_one_is_not_planned_with_until_it_is_changed(bank: Shop) -> None:
    with pytest.raises(RefusedError):
        supplies.retire_supply(bank.station, bank.jo, "o1", reason="sold")
    for name in ("o 2", "pipe"):
        supplies.retire_supply(bank.station, bank.mara, name, reason="sold")
    steps = bank.plan(bank.request()).facts["plan"]["steps"]
    assert {s["supply"] for s in steps if s["action"] == "add"} == {"o1", "top"}
    for act in (
        lambda: supplies.read_supply(bank.station, bank.jo, "o 2", at="90bar"),
        lambda: supplies.retire_supply(bank.station, bank.mara, "o 2", reason="again"),
        lambda: bank.plan(bank.request(), supply=("o 2",)),
    ):
        with pytest.raises(InputError):
            act()
    supplies.change_supply(bank.station, bank.jo, "o 2", at="160bar")
    assert not row(bank, "o 2")["retired"]
    assert bank.plan(bank.request(), supply=("o 2",)).done


def test_planning_with_a_recorded_supply_by_name(bank: Shop) -> None:
    supplies.read_supply(bank.station, bank.jo, "o1", at="120bar")
    plan = bank.plan(bank.request(), supply=("o1",)).facts["plan"]
    (oxygen,) = [s for s in plan["steps"] if s.get("supply") == "o1"]
    assert oxygen["supply_from_bar"] == pytest.approx(120.0, abs=0.01)
    (given,) = plan["request"]["supplies"]
    assert (given["name"], given["volume_l"]) == ("o1", 50.0)
    both = bank.plan(bank.request(), supply=("he=helium", "o 2")).facts["plan"]
    assert [s["name"] for s in both["request"]["supplies"]] == ["he", "o 2"]
    with pytest.raises(InputError) as said:
        bank.plan(bank.request(), supply=("o3",))
    assert all(name in said.value.text for name in ("o1", "o 2", "pipe", "NAME=GAS"))
    with pytest.raises(InputError, match="name of its own"):
        bank.plan(bank.request(), supply=("o1", "o1"))


def test_plain_air_by_name_is_the_top_gas(bank: Shop) -> None:
    equipment.add_supply(bank.station, bank.mara, name="compressor", gas="air")
    plan = bank.plan(
        bank.request(want="230bar:EAN24", have="0bar:air"), supply=("compressor", "o1")
    )
    assert {s["supply"] for s in plan.facts["plan"]["steps"] if s["action"] == "add"} == {
        "o1",
        "top",
    }
    only = bank.plan(bank.request(want="200bar:air", have="0bar:air"), supply=("compressor",))
    assert {s["supply"] for s in only.facts["plan"]["steps"] if s["action"] == "add"} == {"top"}


def test_no_supply_is_called_top(bank: Shop) -> None:
    with pytest.raises(InputError):
        equipment.add_supply(bank.station, bank.mara, name="Top", gas="EAN32")


def test_it_can_all_be_made_again_from_the_journal(bank: Shop) -> None:
    supplies.read_supply(bank.station, bank.jo, "o1", at="120bar")
    supplies.change_supply(bank.station, bank.jo, "o 2", gas="EAN50", at="60bar")
    supplies.retire_supply(bank.station, bank.mara, "pipe", reason="sold")
    before = bank.tables()
    rebuild(bank.station.record)
    assert bank.tables() == before
    assert verify(bank.path).problems == []
