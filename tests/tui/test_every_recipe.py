"""Every kind of recipe the planner makes, from the request to the signed label.

What the supplies have lost in the end is what the plan said: that comes from the planner's own
bank of bottles, the stock from the readings entered, and both must agree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from blender.planning import plan as make_plan
from blender.record import read
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import compressors, equipment, register
from blender.station.planning import request_of
from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at
from tests.tui.terminal import Terminal
from tui.typed_options import options


@dataclass(frozen=True)
class Recipe:
    """A recipe as typed at the Panel, and what it makes of what."""

    words: str
    have: str
    want: str
    helium: bool = False

    @property
    def arguments(self) -> list[str]:
        """The same for the command line."""
        typed, found = options(self.words).typed(), list[str]()
        for name, value in typed.items():
            found += [f"--{name.replace('_', '-')}", str(value)]
        return found


RECIPES = {
    "whip and booster": Recipe(
        "whip 0.15L booster 15bar/30/250bar", "45bar@20C:air", "220bar:21/20", helium=True
    ),
    "banked": Recipe("banked 40%", "40bar@20C:EAN32", "200bar:EAN34"),
    "mass": Recipe("mass 5g", "20bar@20C:air", "220bar:EAN32"),
    "tower": Recipe("flow rated tower 3L@150bar:air", "45bar@20C:air", "220bar:EAN32"),
    "helium at the intake": Recipe(
        "flow rated inject helium,oxygen", "45bar@20C:air", "220bar:21/20", helium=True
    ),
}


def stocked(shop: Shop) -> None:
    """Give the station bottles to draw from, and a compressor."""
    for name, gas, size, at in (
        ("o1", "oxygen99.5", "50L", "60bar"),
        ("he1", "helium", "50L", "70bar"),
        ("b1", "EAN36", "2x50L", "240bar"),
    ):
        equipment.add_supply(shop.station, shop.mara, name=name, gas=gas, size=size, at=at)
    compressors.add_compressor(
        shop.station, shop.mara, name="K1", rated_intake="40%", maximum="330bar",
        delivery="200L/min",
    )  # fmt: skip


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    stocked(shop)
    rig.clock.us = shop.clock.us + 60_000_000
    shop.clock = rig.clock
    yield shop
    shop.station.record.close()


def stock(shop: Shop) -> dict[str, int]:
    with shop.station.record.read() as conn:
        return {row.name: row.content_umol for row in read.supplies(conn)}


def check_stock(shop: Shop, before: dict[str, int], steps: list[dict[str, Any]]) -> None:
    """Hold the stock against what the plan says each supply gives, and where its gauge ends."""
    drawn = dict.fromkeys(before, 0.0)
    for step in steps:
        given: list[tuple[Any, float]] = []
        if step["action"] == "flow":
            given.append((step.get("oxygen_supply", step["supply"]), step.get("oxygen_mol", 0.0)))
            given.append((step.get("helium_supply"), step.get("helium_mol", 0.0)))
        elif "supply" in step:
            given.append((step["supply"], step["amount_mol"] + step.get("whip_mol", 0.0)))
        for name, mol in given:
            if name in drawn:
                drawn[name] += mol
    assert any(drawn.values())
    for name, left in stock(shop).items():
        assert left == pytest.approx(before[name] - drawn[name] * 1e6, rel=1e-6), name
    stands = {one["name"]: one["pressure_bar"] for one in register.supplies(
        shop.station.record)["supplies"]}  # fmt: skip
    ends = {
        step[key]: step[f"{key}_to_bar"]
        for step in steps
        for key in ("supply", "oxygen_supply", "helium_supply")
        if f"{key}_to_bar" in step
    }
    assert ends
    for name, bar in ends.items():
        assert stands[name] == pytest.approx(bar, rel=2e-6), name


def readings(steps: list[dict[str, Any]]) -> Iterator[dict[str, str]]:
    """Give what is read at each stop, unrounded: the scale's where there is one."""
    shown_g = 0.0
    for step in steps:
        if step["action"] not in ("add", "flow"):
            continue
        shown_g += step["mass_g"]
        if "scale_g" in step:
            yield {"scale": f"{shown_g / 1000.0:.9f}kg"}
        else:
            yield {"at": f"{step['to_bar']:.9f}bar", "temperature": "20C"}


@pytest.mark.parametrize("recipe", RECIPES.values(), ids=list(RECIPES))
def test_by_the_command_line(at: Terminal, recipe: Recipe) -> None:
    shop = Shop.open(at.path)
    stocked(shop)
    before = stock(shop)
    fill = str(at.ok(
        "fill", "request", "--cylinder", "C-1001", "--customer", "Lena Tief", "--have",
        recipe.have, "--residual", "analysed", "--want", recipe.want,
    )["fill"])  # fmt: skip
    made = at.ok("fill", "plan", fill, *recipe.arguments)["plan"]
    at.ok("fill", "start", fill, "--serial", "C-1001")
    answer: dict[str, Any] = {}
    for shown in readings(made["steps"]):
        words = [word for name, value in shown.items() for word in (f"--{name}", value)]
        answer = at.ok("fill", "reading", fill, *words)
        assert answer["closes"], answer
    assert answer["state"] == "resting"
    check_stock(shop, before, made["steps"])
    o2, he = made["result"]["o2"] * 100.0, made["result"]["he"] * 100.0
    gas = ["--reading", f"{o2:.1f}", *(["--helium", f"{he:.1f}"] if recipe.helium else [])]
    analysed = at.ok("fill", "analyse", fill, "--serial", "C-1001", "--analyser", "A1", *gas)
    assert analysed["decision"] == "accept"
    signed = at.ok("fill", "accept", fill, "--name", "Lena Tief", *gas)
    assert at("label", fill, "--out", "label.pdf").code == 0
    at.ok("fill", "collect", fill, "--serial", "C-1001", "--label", signed["anchor"])
    assert shop.row(int(fill)).state == "collected"
    tables = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == tables
    shop.station.record.close()
    assert verify(at.path).ok


# What the Panel says on the way, at the first stop.
SAID: dict[str, Callable[[str], bool]] = {
    "whip and booster": lambda s: "through the booster" in s and "then vent the whip" in s,
    "banked": lambda s: "Let in EAN36 from b1 to" in s and "b1 falls to" in s,
    "mass": lambda s: "until the scale reads" in s and "kg on the scale" in s,
    "tower": lambda s: "the filter tower's air goes in first" in s,
    "helium at the intake": lambda s: "helium on first, off last" in s,
}


@pytest.mark.parametrize("name", RECIPES)
def test_by_the_panel(rig: Rig, shop: Shop, name: str) -> None:
    recipe, before = RECIPES[name], stock(shop)
    fill = shop.request(customer="Lena Tief", have=recipe.have, want=recipe.want)
    with shop.station.record.read() as conn:
        row = read.fill(conn, fill)
        request = request_of(conn, row, read.cylinder(conn, "C-1001"), options(recipe.words))
    made = make_plan(request)
    steps = [step.as_dict() for step in made.steps]
    gas = f"{made.result.o2 * 100:.1f}" + (f" {made.result.he * 100:.1f}" if recipe.helium else "")

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await rig.enter(pilot, recipe.words)
            assert shop.row(fill).state == "planned", rig.said()
            await rig.enter(pilot, "C-1001")
            assert SAID[name](" ".join(rig.screen_text().split())), rig.screen_text()
            for shown in readings(steps):
                typed = shown.get("scale") or f"{shown['at']} {shown['temperature']}"
                await rig.enter(pilot, typed)
                assert rig.said()[0] in ("done", "mind"), rig.said()
            assert shop.row(fill).state == "resting", rig.said()
            for typed in ("C-1001", f"A1 {gas}", "", gas, "Lena Tief"):
                await rig.enter(pilot, typed)
            await rig.until(pilot, lambda: shop.row(fill).state == "accepted")

    run(main)
    check_stock(shop, before, steps)
    assert any(paper.startswith("label") for paper in rig.papers)
