"""A bank too weak: what would do, each way carried out in pyaga8, and none a little less."""

from __future__ import annotations

import random
import re

import pytest

from blender.errors import NoFillError
from blender.planning import parse_gas_at, parse_want
from blender.planning.options import Options
from blender.planning.partial_pressure import attempt
from blender.units import parse_size
from tests.executor import carry_out
from tui.commands.plan import answer

STAGE = {"cylinder": "11.1L", "have": "30bar:EAN50", "want": "200bar:EAN50"}


def bottles(*pressures: float, gas: str = "oxygen99.5") -> list[str]:
    return [f"b{i}={gas}@{p}barx50L" for i, p in enumerate(pressures, start=1)]


def refused(**asked: object) -> dict[str, dict]:
    with pytest.raises(NoFillError) as caught:
        answer(**asked)
    assert caught.value.code == "bank"
    return {other["kind"]: other for other in caught.value.alternatives}


def is_possible(**asked: object) -> bool:
    try:
        return abs(answer(**asked)["result"]["pressure_bar"]) > 0.0
    except NoFillError:
        return False


def executed(asked: dict, other: dict) -> None:
    """Carry an alternative out in pyaga8, with the equipment it says it takes."""
    result, changed = other["result"], dict(asked)
    kind = other["kind"]
    mix = f"{result['o2']:.12f}/{result['he']:.12f}"
    changed["want"] = f"{result['pressure_bar']:.9f}bar:{mix}"
    if kind == "booster":
        changed["booster"] = "0bar/1e9/1e9bar"
    if kind == "fuller-bottle":
        (extra,) = [step for step in other["steps"] if step.get("supply") == "extra"]
        gas = asked["supply"][0].partition("=")[2].partition("@")[0]
        text = f"extra={gas}@{extra['supply_from_bar']:.9f}barx50L"
        changed["supply"] = [*asked["supply"], text]
    carry_out(changed, {"steps": other["steps"], "result": result, "warnings": []})


# ---- worked out beforehand in pyaga8


def test_an_oxygen_bank_that_equalises_needs_a_booster_or_a_second_bank() -> None:
    """50 L at 140 come to 123.176 bar in a 7 L cylinder, O2 98.897 %; wanted are 150."""
    asked = {
        "cylinder": "7L", "have": "0bar:air", "want": "150bar:oxygen",
        "supply": ["b1=oxygen99.5@140barx50L"],
    }  # fmt: skip
    found = refused(**asked)
    assert set(found) == {"pressure", "booster", "fuller-bottle"}
    for kind in ("booster", "fuller-bottle"):
        assert found[kind]["result"]["pressure_bar"] == pytest.approx(150.0, abs=1e-6)
        assert found[kind]["result"]["o2"] == pytest.approx(0.99006, abs=1e-4)
    assert is_possible(**{**asked, "booster": "15bar/30/250bar"})
    assert is_possible(**{**asked, "supply": [*asked["supply"], "b2=oxygen99.5@180barx50L"]})


def test_a_weak_bank_names_all_that_would_do() -> None:
    asked = {**STAGE, "supply": bottles(40, 70, 80)}
    found = refused(**asked)
    assert list(found) == ["mix", "pressure", "drain", "booster", "fuller-bottle"]
    for other in found.values():
        executed(asked, other)
    for kind in ("drain", "booster", "fuller-bottle"):
        assert found[kind]["result"]["o2"] == pytest.approx(0.5, abs=1e-9)
        assert found[kind]["result"]["pressure_bar"] == pytest.approx(200.0, abs=1e-6)


def test_each_way_is_the_least_that_does() -> None:
    """A tenth of a bar less of a drain, of a bottle or of a booster, and it is refused again."""
    asked = {**STAGE, "supply": bottles(40, 70, 80)}
    found = refused(**asked)
    drain = found["drain"]["steps"][0]["to_bar"]
    assert is_possible(**{**asked, "have": f"{drain:.6f}bar:EAN50"})
    assert not is_possible(**{**asked, "have": f"{drain + 0.1:.6f}bar:EAN50"})
    extra = next(s for s in found["fuller-bottle"]["steps"] if s.get("supply") == "extra")
    pressure = extra["supply_from_bar"]
    for more, possible in ((0.001, True), (-0.1, False)):
        one = f"x=oxygen99.5@{pressure + more:.6f}barx50L"
        assert is_possible(**{**asked, "supply": [*asked["supply"], one]}) is possible
    inlet = min(s["supply_to_bar"] for s in found["booster"]["steps"] if s.get("boosted"))
    for more, possible in ((-0.001, True), (0.1, False)):
        booster = f"{inlet + more:.6f}bar/900/490bar"
        assert is_possible(**{**asked, "booster": booster}) is possible


def test_what_the_booster_has_to_do_is_said() -> None:
    found = refused(**STAGE, supply=bottles(40, 70, 80))["booster"]
    said = re.search(r"takes in ([\d.]+) bar, gives ([\d.]+) bar and lifts ([\d.]+)", found["text"])
    assert said is not None
    pressed = [step for step in found["steps"] if step.get("boosted")]
    assert float(said[1]) == pytest.approx(min(s["supply_to_bar"] for s in pressed), abs=0.051)
    assert float(said[2]) == pytest.approx(max(s["to_bar"] for s in pressed), abs=0.051)


def test_where_there_is_a_booster_no_other_is_offered() -> None:
    found = refused(**STAGE, supply=bottles(40, 45), booster="39bar/30/250bar")
    assert "booster" not in found
    assert "fuller-bottle" in found


# ---- draining, another purity, oxygen first


def test_draining_first_lets_the_oxygen_in() -> None:
    """The bottles stand below the cylinder: not one can be opened before it is drained."""
    asked = {
        "cylinder": "12L", "have": "100bar:air", "want": "200bar:EAN36",
        "supply": bottles(60, 70, 90),
    }  # fmt: skip
    found = refused(**asked)
    drain, rest = found["drain"]["steps"][:2]
    assert (drain["action"], rest["action"]) == ("drain", "rest")
    assert drain["to_bar"] < 60.0
    assert found["drain"]["result"]["o2"] == pytest.approx(0.36, abs=1e-9)
    executed(asked, found["drain"])


def test_a_bank_of_another_purity() -> None:
    """EAN50 alone cannot make EAN40 undrained, so that the oxygen was planned with, in vain."""
    asked = {
        "cylinder": "12L", "have": "100bar:air", "want": "200bar:EAN40",
        "supply": [*bottles(60), "n1=EAN50@260barx50L"],
    }  # fmt: skip
    found = refused(**asked)["second-bank"]
    assert {step["supply"] for step in found["steps"] if "supply" in step} == {"n1"}
    assert "EAN50 in place of oxygen 99.5" in found["text"]
    executed(asked, found)


def test_oxygen_first() -> None:
    asked = {
        "cylinder": "12L", "have": "30bar:air", "want": "200bar:18/45",
        "supply": ["o1=oxygen@90barx50L", "he=helium"],
    }  # fmt: skip
    found = refused(**asked)
    assert [s.get("supply") for s in found["order"]["steps"]][:3] == ["o1", "he", "top"]
    for kind in ("order", "booster", "fuller-bottle"):
        executed(asked, found[kind])


def test_helium_runs_short_as_oxygen_does() -> None:
    asked = {
        "cylinder": "2x12L", "have": "20bar:air", "want": "200bar:18/45",
        "supply": ["h1=helium@60barx50L", "o1=oxygen"],
    }  # fmt: skip
    found = refused(**asked)
    assert "of helium of at least" in found["fuller-bottle"]["text"]
    executed(asked, found["fuller-bottle"])


def test_nothing_is_shown_that_does_not_land() -> None:
    """So little oxygen that no drain, no booster and no bottle in place of it helps but one."""
    found = refused(**STAGE, supply=["b1=oxygen@6barx0.5L"])
    assert set(found) <= {"mix", "pressure", "fuller-bottle"}


# ---- at random


def _asked(rng: random.Random) -> dict[str, object]:
    supply = [
        f"b{i}=oxygen@{rng.uniform(20, 120):.1f}barx{rng.choice([10, 20, 50])}L"
        for i in range(1, rng.randint(2, 4))
    ]
    if rng.random() < 0.4:
        supply.append(f"n1=EAN60@{rng.uniform(60, 250):.1f}barx50L")
    return {
        "cylinder": rng.choice(["12L", "7L", "2x12L"]),
        "have": f"{rng.uniform(20, 140):.1f}bar:{rng.choice(['air', 'EAN32'])}",
        "want": f"{rng.uniform(150, 230):.1f}bar:EAN{rng.uniform(33, 60):.1f}",
        "supply": supply,
    }


@pytest.mark.parametrize("count", [12, pytest.param(40, marks=pytest.mark.soak)])
def test_every_way_out_of_a_weak_bank_can_be_carried_out(count: int) -> None:
    rng = random.Random(11)
    seen: dict[str, int] = {}
    cases = 0
    while cases < count:
        asked = _asked(rng)
        try:
            answer(**asked)
            continue
        except NoFillError as error:
            if error.code != "bank":
                continue
            others = error.alternatives
        cases += 1
        for other in others:
            seen[other["kind"]] = seen.get(other["kind"], 0) + 1
            if other["kind"] != "fuller-bottle" or "oxygen of at least" in other["text"]:
                executed(asked, other)
        _check_drain(asked, {other["kind"] for other in others})
    kinds = ("mix", "pressure", "drain", "booster", "fuller-bottle")
    assert all(seen.get(kind, 0) > count // 12 for kind in kinds), seen
    assert count < 40 or seen["second-bank"] >= 1


def _check_drain(asked: dict, kinds: set[str]) -> None:
    """Where a drain to three levels of 30 in a row would do, one is offered."""
    bar, _, gas = asked["have"].partition("bar:")
    levels = [float(bar) * part / 30.0 for part in range(30)]
    does = [_lands_undrained({**asked, "have": f"{level:.6f}bar:{gas}"}) for level in levels]
    if any(a and b and c for a, b, c in zip(does, does[1:], does[2:], strict=False)):
        assert "drain" in kinds, asked


def _lands_undrained(asked: dict) -> bool:
    request = Options(supply=tuple(asked["supply"])).request(
        parse_size(asked["cylinder"]).volume_m3,
        parse_gas_at(asked["have"], "have"),
        parse_want(asked["want"]),
    )
    try:
        found = attempt(request)
    except NoFillError:
        return False
    return all(step.action != "drain" for step in found.steps)
