"""Two thousand random fills, each carried out with an independent GERG-2008 (pyaga8)."""

from __future__ import annotations

import random

import pytest

from blender.errors import InputError, NoFillError
from tests.executor import (
    World,
    bank_can_give,
    can_make,
    carry_out,
    check_drain,
    check_miss,
    intake_needed,
    least_kept,
    oxygen_needed,
)
from tests.parts import parts
from tui.commands.plan import answer

WANTED = 2000


def _request(rng: random.Random) -> dict[str, object]:
    kind = rng.choice(
        ["nitrox"] * 4 + ["trimix"] * 3 + ["heliox", "oxygen", "flow", "flow", "bank", "bank"]
    )
    asked: dict[str, object] = {
        "cylinder": rng.choice(["12L", "7L", "11.1L", "2x12L", "80cuft@3000psi", "10L", "0.5L"]),
        "settle_at": rng.choice(["20C", "15C", "70F", f"{rng.uniform(0, 35):.1f}C"]),
        "ambient": f"{rng.choice([1.01325, rng.uniform(0.7, 1.05)]):.5f}bar",
    }
    bar = rng.choice([0.0, rng.uniform(0, 60), rng.uniform(0, 230)])
    read_at = rng.choice(["", f"@{rng.uniform(-5, 45):.1f}C"])
    asked["have"] = f"{_pressure(rng, bar)}{read_at}:{_residual(rng, kind)}"
    if rng.random() < 0.6:
        asked["temperature"] = f"{rng.uniform(0, 45):.1f}C"
    if kind != "bank" and rng.random() < 0.2:
        asked["order"] = rng.choice(["oxygen,helium,top", "top,helium,oxygen"])
    _WANTS[kind](rng, asked)
    return asked


def _pressure(rng: random.Random, bar: float) -> str:
    return f"{bar:.2f}bar" if rng.random() < 0.7 else f"{bar / 0.0689475729:.1f}psi"


def _residual(rng: random.Random, kind: str) -> str:
    if kind in ("trimix", "heliox") or rng.random() < 0.1:
        return rng.choice(["air", "EAN32", "21/35", "18/45", "10/70", "heliox 20/80"])
    return rng.choice(["air", "EAN28", "EAN32", f"EAN{rng.uniform(21, 60):.1f}", "oxygen99.5"])


def _oxygen_name(rng: random.Random) -> str:
    return rng.choice(["oxygen", "oxygen99.5", "oxygen98"])


def _nitrox(rng: random.Random, asked: dict[str, object]) -> None:
    o2 = rng.choice(["EAN32", "EAN36", "0.32/0", f"EAN{rng.uniform(21, 90):.1f}"])
    asked["want"] = f"{_pressure(rng, rng.uniform(100, 300))}:{o2}"
    if rng.random() < 0.5:
        asked["supply"] = [f"o1={_oxygen_name(rng)}"]


def _trimix(rng: random.Random, asked: dict[str, object]) -> None:
    he = rng.uniform(5, 75)
    o2 = rng.uniform(8, min(40.0, 95.0 - he))
    asked["want"] = f"{_pressure(rng, rng.uniform(120, 280))}:{o2:.1f}/{he:.1f}"
    if rng.random() < 0.5:
        asked["supply"] = [f"o1={_oxygen_name(rng)}", "he=helium"]
    if rng.random() < 0.3:
        asked["top"] = "EAN32"


def _heliox(rng: random.Random, asked: dict[str, object]) -> None:
    asked["have"] = "0bar:heliox 20/80" if rng.random() < 0.5 else "30bar:heliox 15/85"
    o2 = rng.randint(10, 40)
    asked["want"] = f"{_pressure(rng, rng.uniform(100, 250))}:heliox {o2}/{100 - o2}"


def _oxygen(rng: random.Random, asked: dict[str, object]) -> None:
    asked["want"] = f"{_pressure(rng, rng.uniform(80, 200))}:oxygen"
    asked["supply"] = [f"o1={rng.choice(['oxygen', 'oxygen99.5'])}"]
    asked["oxygen_minimum"] = rng.choice(["99%", "99.3%", "98%"])


def _flow(rng: random.Random, asked: dict[str, object]) -> None:
    asked["method"] = "continuous-flow"
    asked["rated_intake"] = rng.choice(["40%", "36%"])
    if rng.random() < 0.7:
        asked["intake_air"] = f"{rng.uniform(5, 35):.0f}C/{rng.randint(20, 90)}%"
        asked["delivery"] = "200L/min"
    if rng.random() < 0.3:
        asked["supply"] = [f"o1=oxygen99.5@{rng.uniform(5, 60):.1f}barx50L", "o2=oxygen99.5"]
    mix = f"EAN{rng.uniform(24, 38):.1f}"
    if rng.random() < 0.3:
        mix = f"{rng.uniform(15, 30):.1f}/{rng.uniform(10, 40):.1f}"
        asked["supply"] = ["o1=oxygen99.5", "he=helium"]
    asked["want"] = f"{_pressure(rng, rng.uniform(150, 300))}:{mix}"


def _bank(rng: random.Random, asked: dict[str, object]) -> None:
    asked["have"] = f"{rng.uniform(0, 60):.1f}bar:EAN32"
    gas = rng.choice(["oxygen", "oxygen99.5", "EAN60"])
    asked["supply"] = [
        f"b{i}={gas}@{rng.uniform(30, 230):.1f}barx{rng.choice(['50L', '2x50L', '10L'])}"
        for i in range(rng.randint(1, 4))
    ]
    asked["want"] = f"{rng.uniform(100, 230):.1f}bar:EAN{rng.uniform(28, 50):.1f}"


_WANTS = {
    "nitrox": _nitrox,
    "trimix": _trimix,
    "heliox": _heliox,
    "oxygen": _oxygen,
    "flow": _flow,
    "bank": _bank,
}


def _check_refusal(asked: dict[str, object], error: NoFillError) -> None:
    assert error.code in ("unreachable", "bank", "rated-intake")
    world = World(asked)
    o2, he = world.want_gas[:2]
    if error.code == "rated-intake":
        rated = float(asked["rated_intake"].rstrip("%")) / 100.0
        needs_drain = not can_make(world, 1.0, o2, he)
        assert needs_drain or intake_needed(world) > rated
        return
    if error.code == "bank":
        assert not bank_can_give(world, oxygen_needed(world)), "refused, yet the bank has it"
        return
    for kept in (1.0, least_kept(world)):
        assert not can_make(world, kept, o2, he), "refused, yet it can be made"


@pytest.mark.parametrize("part", parts(4))
def test_random_fills_land_where_asked(part):
    rng = random.Random(1000 + part)
    planned = drained = refused = lists = off = 0
    while planned < WANTED // 4:
        asked = _request(rng)
        try:
            plan = answer(**asked)
        except NoFillError as error:
            refused += 1
            _check_refusal(asked, error)
            continue
        gases = {tuple(s["gas"].items()) for s in plan["steps"] if s["action"] in ("add", "flow")}
        if len(gases) > 1 and rng.random() < 0.5:  # now one temperature per gas
            at = ",".join(f"{rng.uniform(0, 45):.1f}C" for _ in gases)
            try:
                plan = answer(**{**asked, "temperature": at})
            except (NoFillError, InputError):
                continue  # a hotter first stop may change which gases or bottles it takes
            asked["temperature"] = at
            lists += 1
        try:
            world = carry_out(asked, plan)
            drained += check_drain(World(asked), plan)
            off += check_miss(World(asked), plan)
        except AssertionError as error:
            raise AssertionError(f"{asked}: {error}") from error
        assert sum(world.moles) > 0.0
        planned += 1
    assert drained > 20
    assert lists > 50
    assert off > 5
    assert refused < planned
