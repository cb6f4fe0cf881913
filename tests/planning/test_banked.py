"""Fills of banked mixes: carried out with an independent GERG-2008 (pyaga8), and the choice."""

from __future__ import annotations

import json
import random
from itertools import combinations, pairwise, permutations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from tests.executor import (
    World,
    _in_hull,
    _plus,
    _times,
    amount,
    carry_out,
    check_drain,
    check_miss,
    least_kept,
)
from tests.parts import parts
from tui.commands.plan import answer, lines

WANTED = 1000
PLAIN = {"cylinder": "12L", "have": "60bar:EAN28", "method": "banked"}


def adds(plan):
    return [step for step in plan["steps"] if step["action"] == "add"]


def line_of(asked):
    return float(asked.get("oxygen_line", "40%").rstrip("%")) / 100.0


def lean(asked):
    """The same request without the supplies a banked fill may not use."""
    bottles = World(asked).bottles
    names = [text.split("=")[0] for text in asked["supply"]]
    kept = [
        text
        for name, text in zip(names, asked["supply"], strict=True)
        if bottles[name].gas[0] <= line_of(asked) + 1e-9
    ]
    return {**asked, "supply": kept or ["none=air"]}


def corners(world):
    """What residual and one gas alone make, at most and at least kept."""
    o2, he = world.want_gas[:2]
    total = amount(world.want_gas, world.want_bar + world.ambient, world.settle, world.litres)
    found = []
    for kept in (least_kept(world), min(1.0, total / sum(world.residual))):
        left = _times(world.residual, kept)
        for bottle in world.bottles.values():
            if he > 0.0 or bottle.gas[1] == 0.0:
                mixed = _plus(left, bottle.gas, total - sum(left))
                found.append((mixed[0] / total, mixed[1] / total))
    return (o2, he), found


# ---- scenarios


def test_topped_with_a_banked_nitrox():
    """S12: 12 L with 50 bar EAN32 from three EAN32 banks, the low one first (scenarios.md)."""
    banks = [f"b{i}=EAN32@{bar}barx50L" for i, bar in ((1, 200), (2, 230), (3, 260))]
    want = {"have": "50bar:EAN32", "want": "200bar:EAN32", "supply": banks}
    plan = answer(**{**PLAIN, **want})
    stood = {step["supply"]: step["supply_to_bar"] for step in adds(plan)}
    assert stood == pytest.approx({"b1": 168.683, "b2": 221.819}, abs=0.05)
    assert plan["request"]["oxygen_line"] == 0.40
    assert "oxygen-service" not in {warning["code"] for warning in plan["warnings"]}


def test_two_banks_make_a_third_mix():
    """Amounts by hand (lever rule) and stops by the independent equation of state."""
    asked = {**PLAIN, "want": "200bar:EAN32", "supply": ["rich=EAN36@240barx2x50L",
             "lean=EAN31@230barx2x50L"], "top": "EAN31"}  # fmt: skip
    plan = answer(**asked)
    assert [step["supply"] for step in adds(plan)] == ["lean", "rich"]
    world = carry_out(asked, plan)
    begun, total = sum(world.residual), sum(world.moles)
    rich = (0.32 * total - 0.28 * begun - 0.31 * (total - begun)) / (0.36 - 0.31)
    assert adds(plan)[1]["amount_mol"] == pytest.approx(rich, rel=1e-9)


@pytest.mark.parametrize(
    ("have", "want", "supply", "steps"),
    [
        ("90bar:EAN38", "200bar:EAN32", ["b=EAN36@230barx50L"], ["b", "top"]),  # out with air
        ("60bar:EAN36", "90bar:0.21/0.416666666667", ["he=helium"], ["drain", "he"]),  # with helium
        ("0bar:18/45", "180bar:18/45", ["t=18/45@230barx2x50L", "he=helium", "b=EAN36"], ["t"]),
        ("60bar:EAN28", "150bar:18/30", ["he=helium", "b=EAN40@230barx50L"], ["b", "he", "top"]),
    ],
)
def test_leaned_out_and_trimix(have, want, supply, steps):
    asked = {**PLAIN, "have": have, "want": want, "supply": supply}
    plan = answer(**asked)
    found = [s.get("supply", s["action"]) for s in plan["steps"] if s["action"] in ("add", "drain")]
    assert found == steps
    carry_out(asked, plan)


@pytest.mark.parametrize(("high", "low"), [("EAN36", "EAN31"), ("EAN31", "EAN36")])
def test_the_lower_bank_goes_first_whatever_its_gas(high, low):
    asked = {**PLAIN, "want": "180bar:EAN32",
             "supply": [f"h={high}@240barx6x50L", f"l={low}@190barx6x50L"]}  # fmt: skip
    assert [step["supply"] for step in adds(answer(**asked))] == ["l", "h"]


def test_helium_too_goes_by_its_pressure():
    want = {"want": "150bar:24/30"}
    for helium, nitrox, order in ((250, 200, ["b", "he"]), (200, 250, ["he", "b"])):
        banks = [f"he=helium@{helium}barx50L", f"b=EAN40@{nitrox}barx2x50L"]
        assert [s["supply"] for s in adds(answer(**PLAIN, **want, supply=banks))] == order


def test_another_order_where_the_low_bank_would_end_too_low():
    """A small full bottle sinks below the end; a large one a little lower does not."""
    asked = {
        **PLAIN,
        "have": "20bar:EAN34",
        "want": "180bar:EAN34",
        "supply": ["small=EAN37@215barx10L", "large=EAN32@210barx1000L"],
        "top": "EAN32",
    }
    plan = answer(**{**asked, "top": "air"})
    assert [step["supply"] for step in adds(plan)] == ["small", "large"]
    carry_out({**asked, "top": "air"}, plan)


def test_an_order_asked_for_is_kept():
    asked = {**PLAIN, "want": "150bar:18/30", "supply": ["he=helium", "b=EAN40@230barx50L"]}
    plan = answer(**asked, order="top,helium,oxygen")
    assert [step["supply"] for step in adds(plan)] == ["top", "he", "b"]
    carry_out(asked, plan)


def test_where_a_drain_is_needed_the_bank_that_needs_least_gives_all_it_can():
    """120 bar of air to EAN25: EAN36 needs least drain, and a small bottle of it falls short."""
    full, small, large = "b0=EAN36", "b0=EAN36@190barx10L", "b1=EAN30@250barx2x50L"
    asked = {**PLAIN, "have": "120bar:air", "want": "160bar:EAN25"}

    def drained(supply):
        plan = answer(**asked, supply=supply)
        assert plan["steps"][0]["action"] == "drain"
        return plan["steps"][0]["amount_mol"], plan

    least, both, most = drained([full]), drained([small, large]), drained([large])
    assert least[0] < both[0] < least[0] + 0.3 * (most[0] - least[0])
    first, second = adds(both[1])
    assert (first["supply"], second["supply"]) == ("b0", "b1")
    assert 0.0 < first["supply_to_bar"] - first["to_bar"] < 5.0  # nearly level: all it can
    carry_out({**asked, "supply": [small, large]}, both[1])


# ---- no rich gas


def test_rich_oxygen_is_never_used_and_partial_pressure_named():
    with pytest.raises(NoFillError) as caught:
        answer(**PLAIN, want="200bar:EAN36", supply=["b1=EAN32@230barx2x50L", "o=oxygen99.5"])
    assert caught.value.code == "oxygen-line"
    assert "partial pressure" in caught.value.text
    partial = [a for a in caught.value.alternatives if a["kind"] == "partial-pressure"]
    assert partial[0]["result"]["o2"] == pytest.approx(0.36, abs=1e-9)
    assert {step.get("supply") for step in partial[0]["steps"]} >= {"o"}
    nearest = [a for a in caught.value.alternatives if a["kind"] == "nearest"]
    assert all(step.get("supply") != "o" for a in nearest for step in a["steps"])


def test_a_station_without_rich_gas_is_told_what_pure_oxygen_would_do():
    with pytest.raises(NoFillError) as caught:
        answer(**PLAIN, want="200bar:EAN36", supply=["b1=EAN32@230barx2x50L"])
    assert caught.value.code == "unreachable"
    partial = [a for a in caught.value.alternatives if a["kind"] == "partial-pressure"]
    assert partial[0]["result"]["o2"] == pytest.approx(0.36, abs=1e-9)


def test_oxygen_is_no_banked_fill():
    with pytest.raises(NoFillError) as caught:
        answer(**PLAIN, want="150bar:oxygen")
    assert caught.value.code == "oxygen-line"
    kinds = {a["kind"]: a for a in caught.value.alternatives}
    assert kinds["partial-pressure"]["result"]["o2"] >= 0.99


def test_the_line_is_an_option():
    asked = {**PLAIN, "want": "200bar:EAN36", "supply": ["b2=EAN50"]}
    with pytest.raises(NoFillError):
        answer(**asked)
    plan = answer(**asked, oxygen_line="50%")
    assert [step["supply"] for step in adds(plan)] == ["b2", "top"]
    assert "oxygen-service" in {warning["code"] for warning in plan["warnings"]}


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"top": "EAN50"}, "--top"),
        ({"oxygen_line": "0.4.1%"}, "--oxygen-line"),
        ({"oxygen_line": "140%"}, "--oxygen-line"),
        ({"oxygen_line": "20%"}, "--top"),  # air itself is above it
        ({"method": "mass", "oxygen_line": "40%"}, "--oxygen-line"),
        ({"scale": "5g"}, "--scale"),
    ],
)
def test_contradictions_are_told(more, field):
    with pytest.raises(InputError) as caught:
        answer(**{**PLAIN, "want": "200bar:EAN32", **more})
    assert caught.value.field == field


def test_a_way_on_from_a_banked_fill_uses_no_rich_gas_either():
    plan = answer(**PLAIN, want="200bar:EAN30", way="no-bleed",
                  supply=["o=oxygen", "b=EAN36@230barx50L"])  # fmt: skip
    assert "o" not in {step.get("supply") for step in plan["steps"]}


# ---- the choice


def brute(world, he_wanted):
    """Every exact recipe of the fewest gases that keeps all of the residual, independently."""
    names = [n for n, b in world.bottles.items() if b.gas[1] == 0.0 or he_wanted]
    names = [n for i, n in enumerate(names)
             if world.bottles[n].gas not in [world.bottles[m].gas for m in names[:i]]]  # fmt: skip
    total = amount(world.want_gas, world.want_bar + world.ambient, world.settle, world.litres)
    o2, he = world.want_gas[:2]
    target = np.array([o2, he, 1.0]) * total
    rest = target - np.array([world.residual[0], world.residual[1], sum(world.residual)])
    for count in (1, 2, 3):
        found = []
        for chosen in combinations(names, count):
            rows = np.array([[*world.bottles[n].gas[:2], 1.0] for n in chosen]).T
            mol, *_ = np.linalg.lstsq(rows, rest, rcond=None)
            is_full = np.linalg.matrix_rank(rows, tol=1e-9) == count
            off = np.abs(rows @ mol - rest).max()
            if is_full and off < 1e-7 * total and mol.min() > 1e-7 * total:
                found.append(dict(zip(chosen, mol, strict=True)))
        if found:
            return found
    return []


def test_the_fewest_gases_then_the_least_of_the_most_valuable():
    rng = random.Random(11)
    chosen = several = 0
    while chosen < 150:
        trimix = rng.random() < 0.4
        supply = [f"b{i}=EAN{rng.randint(24, 40)}" for i in range(rng.randint(2, 4))]
        supply += ["he=helium", f"t=21/{rng.randint(20, 40)}", "t2=15/55"] if trimix else []
        mix = (
            f"{rng.randint(16, 24)}/{rng.randint(10, 40)}"
            if trimix
            else f"EAN{rng.randint(22, 39)}"
        )
        asked = {**PLAIN, "have": f"{rng.randint(0, 90)}bar:EAN{rng.randint(22, 38)}",
                 "want": f"{rng.randint(150, 230)}bar:{mix}", "supply": supply}  # fmt: skip
        world = World(asked)
        found = brute(world, trimix)
        if not found:
            continue
        plan = answer(**asked)
        assert all(step["action"] != "drain" for step in plan["steps"]), asked
        gases = {n: b.gas for n, b in world.bottles.items()}
        order = sorted({g[:2] for g in gases.values()}, key=lambda g: (g[1], g[0]), reverse=True)

        def drawn(recipe, gases=gases, order=order):
            return [sum(m for n, m in recipe.items() if gases[n][:2] == g) for g in order]

        ours = drawn({step["supply"]: step["amount_mol"] for step in adds(plan)})
        best = min((drawn(recipe) for recipe in found), key=lambda d: [round(x, 3) for x in d])
        assert ours == pytest.approx(best, abs=2e-2), (asked, found)
        chosen += 1
        several += len(found) > 1
    assert several > 30


# ---- random requests


def _request(rng):
    kind = rng.choice(["top", "two", "many", "lean", "trimix", "ready", "rich"])
    asked = {
        "method": "banked",
        "cylinder": rng.choice(["12L", "7L", "2x12L", "80cuft@3000psi", "10L", "0.5L"]),
        "settle_at": rng.choice(["20C", "15C", "70F", f"{rng.uniform(0, 35):.1f}C"]),
        "ambient": f"{rng.choice([1.01325, rng.uniform(0.7, 1.05)]):.5f}bar",
    }
    if rng.random() < 0.5:
        asked["temperature"] = f"{rng.uniform(0, 45):.1f}C"
    if asked["cylinder"] != "0.5L" and rng.random() < 0.2:
        asked["whip"] = f"{rng.uniform(0.05, 0.3):.2f}L"
    o2 = [rng.randint(25, 40) for _ in range(4)]
    bar = rng.choice([0.0, rng.uniform(0, 60), rng.uniform(0, 120)])
    have = rng.choice([f"EAN{o2[0]}", "EAN32", "air", f"EAN{rng.uniform(21, 45):.1f}"])
    banks = [_bank(rng, f"b{i}", f"EAN{mix}") for i, mix in enumerate(o2)]
    mix = f"EAN{rng.choice([32, 34, rng.uniform(23, 40)]):.1f}"
    counts = {"top": 1, "two": 2, "many": 4, "lean": rng.randint(0, 1), "rich": 2}
    supply = banks[: counts.get(kind, 2)]
    if kind == "lean":
        have, bar = f"EAN{rng.uniform(36, 60):.1f}", rng.uniform(40, 180)
    if kind in ("trimix", "ready"):
        have = rng.choice([have, "21/35", "18/45"])
        mix = f"{rng.uniform(12, 26):.1f}/{rng.uniform(5, 45):.1f}"
        supply.append("he=helium" if rng.random() < 0.5 else _bank(rng, "he", "helium"))
    if kind == "ready":
        supply.append(_bank(rng, "t", rng.choice(["21/35", "18/45", "15/55"])))
    if kind == "rich" or rng.random() < 0.2:
        supply.append(rng.choice(["o=oxygen", "o=oxygen99.5@200barx50L", "o=EAN50@230barx50L"]))
    if rng.random() < 0.15:
        asked["oxygen_line"] = rng.choice(["50%", "36%", "100%"])
    asked["have"] = f"{bar:.2f}bar:{have}"
    asked["want"] = f"{rng.uniform(120, 232):.2f}bar:{mix}"
    asked["supply"] = supply or ["b=EAN32@230barx50L"]
    return asked


def _bank(rng, name, gas):
    if rng.random() < 0.15:
        return f"{name}={gas}"
    size = rng.choice(["50L", "2x50L", "6x50L"])
    return f"{name}={gas}@{rng.uniform(120, 300):.1f}barx{size}"


def _gives(world, gas, mol, bottles, at):
    """Let an amount in from the bottles of a gas, low ones first; False if they fall short."""
    mine = [n for n, b in world.bottles.items() if b.gas == gas]
    if any(not world.bottles[n].litres for n in mine):
        world.moles = _plus(world.moles, gas, mol)
        return True

    def stands(name):
        bottle = world.bottles[name]
        full, bottle.mol = bottle.mol, bottles[name]
        gauge = bottle.gauge(world.ambient)
        bottle.mol = full
        return gauge

    for name in sorted(mine, key=stands):
        start, full, low, high = world.moles, bottles[name], 0.0, min(mol, 0.999 * bottles[name])
        for turn in range(40):
            moved = high if turn == 0 else 0.5 * (low + high)
            world.moles, bottles[name] = _plus(start, gas, moved), full - moved
            if stands(name) >= world.gauge(at):
                low = moved
                if turn == 0:
                    break
            else:
                high = moved
        world.moles, bottles[name] = _plus(start, gas, low), full - low
        mol -= low
    return mol < 1e-6


def bottles_can(asked):
    """Say whether any recipe of the fewest gases, in any order, can be filled undrained."""
    world = World(lean(asked))
    at = world.temperatures[0]
    for recipe in brute(world, world.want_gas[1] > 0.0):
        for order in permutations(recipe):
            trial = World(lean(asked))
            left = {n: b.mol for n, b in trial.bottles.items()}
            if all(_gives(trial, trial.bottles[n].gas, recipe[n] - 1e-4, left, at) for n in order):
                return order
    return None


def _check_refusal(asked, error):
    (point, lean_corners), (_, all_corners) = corners(World(lean(asked))), corners(World(asked))
    if error.code in ("unreachable", "oxygen-line"):
        assert not _in_hull(point, lean_corners), "refused, yet the banks make it"
    if error.code == "oxygen-line":
        far = 0.005 + 1e-6
        square = [(point[0] + a, point[1] + b) for a in (-far, 0, far) for b in (-far, 0, far)]
        assert any(_in_hull(p, all_corners) for p in square), "richer gas does not help"
        has_helium = point[1] == 0.0 or "he=helium" in asked["supply"]
        named = any(other["kind"] == "partial-pressure" for other in error.alternatives)
        assert named or not has_helium
    if error.code == "bank" and "whip" not in asked:
        assert bottles_can(asked) is None, "refused, yet the bottles have it"


def _check_drain(asked, plan):
    """No drain that the mix does not need; more of it only where the bottles are short."""
    within = lean(asked)
    if check_needed(World(within), plan):
        return True
    drains = [step for step in plan["steps"] if step["action"] == "drain"]
    if not drains or any(w["code"] == "off-target" for w in plan["warnings"]):
        return False
    names = {text.partition("@")[0] for text in within["supply"]}
    full = answer(**{**within, "supply": sorted(names)})
    least = [step for step in full["steps"] if step["action"] == "drain"]
    assert least, "drained for the bank's sake"
    assert drains[0]["amount_mol"] > least[0]["amount_mol"], "drained more than needed"
    return False


def check_needed(world, plan):
    try:
        return check_drain(world, plan)
    except AssertionError:
        return False


@pytest.mark.parametrize("part", parts(10))
def test_random_banked_fills_land_where_asked(part):
    rng = random.Random(7000 + part)
    planned = drained = 0
    refused = dict.fromkeys(("unreachable", "oxygen-line", "bank", "drain"), 0)
    while planned < WANTED // 10:
        asked = _request(rng)
        try:
            plan = answer(**asked)
        except NoFillError as error:
            refused[error.code] += 1
            try:
                _check_refusal(asked, error)
            except AssertionError as wrong:
                raise AssertionError(f"{asked}: {wrong}") from wrong
            continue
        try:
            world = carry_out(asked, plan)
            check_miss(World(lean(asked)), plan)
            drained += _check_drain(asked, plan)
        except AssertionError as error:
            raise AssertionError(f"{asked}: {error}") from error
        for step in adds(plan):
            assert world.bottles[step["supply"]].gas[0] <= line_of(asked) + 1e-9, asked
        planned += 1
    assert drained > 3
    assert min(refused[code] for code in ("unreachable", "oxygen-line", "bank")) > 1, refused


# ---- properties


@given(
    have=st.floats(0.0, 60.0),
    low=st.floats(26.0, 35.0),
    more=st.floats(0.001, 3.0),
    bar=st.floats(120.0, 230.0),
)
@settings(max_examples=40, deadline=None)
def test_more_oxygen_asked_never_draws_less_of_the_rich_bank(have, low, more, bar):
    def drawn(percent):
        try:
            plan = answer(**{**PLAIN, "have": f"{have:.5f}bar:EAN26"},
                          want=f"{bar:.5f}bar:EAN{percent:.5f}", supply=["b=EAN40"])  # fmt: skip
        except NoFillError:
            assume(False)
        return sum(step["amount_mol"] for step in adds(plan) if step["supply"] == "b")

    assert drawn(low + more) >= drawn(low) - 1e-7


@given(
    one=st.tuples(st.floats(21.0, 40.0), st.floats(0.0, 50.0)),
    other=st.tuples(st.floats(21.0, 40.0), st.floats(0.0, 50.0)),
    share=st.floats(0.05, 0.95),
    bar=st.floats(120.0, 230.0),
)
@settings(max_examples=40, deadline=None)
def test_two_banks_mix_on_their_line(one, other, share, bar):
    assume(abs(one[0] - other[0]) > 1.0 or abs(one[1] - other[1]) > 1.0)
    (a, b), (c, d) = ((round(x / 100, 6), round(y / 100, 6)) for x, y in (one, other))
    first, second = f"{a:.6f}/{b:.6f}", f"{c:.6f}/{d:.6f}"
    want = f"{a + share * (c - a):.12f}/{b + share * (d - b):.12f}"
    plan = answer(cylinder="12L", have=f"1bar:{first}", want=f"{bar:.4f}bar:{want}",
                  method="banked", supply=[f"a={first}", f"b={second}"], top=first)  # fmt: skip
    total = 0.0
    for step in plan["steps"]:
        o2, he = step["holds"]["o2"], step["holds"]["he"]
        assert (o2 - a) * (d - b) - (he - b) * (c - a) == pytest.approx(0.0, abs=1e-8)
        assert min(a, c) - 1e-6 <= o2 <= max(a, c) + 1e-6
        total += step.get("amount_mol", 0.0)
    assert total > 0.0


@given(
    line=st.floats(21.5, 100.0),
    o2=st.floats(21.0, 60.0),
    he=st.sampled_from([0.0, 0.0, 20.0]),
    bar=st.floats(20.0, 250.0),
    pressures=st.lists(st.floats(10.0, 300.0), min_size=4, max_size=4),
)
@settings(max_examples=60, deadline=None)
def test_nothing_above_the_line_goes_in_and_nothing_is_lost(line, o2, he, bar, pressures):
    gases = ["EAN28", "EAN36", "EAN50", "oxygen"]
    supply = [f"b{i}={g}@{p:.2f}barx50L"
              for i, (g, p) in enumerate(zip(gases, pressures, strict=True))]  # fmt: skip
    try:
        plan = answer(cylinder="12L", have="30bar:EAN30", want=f"{bar:.3f}bar:{o2:.4f}/{he}",
                      method="banked", supply=[*supply, "he=helium"],
                      oxygen_line=f"{line:.4f}%")  # fmt: skip
    except NoFillError as error:
        assert error.exit_code == 3
        json.dumps(error.alternatives, allow_nan=False)
        return
    assert all(isinstance(row, str) for row in lines(plan))
    assert all(step["gas"]["o2"] <= line / 100 + 1e-8 for step in adds(plan))
    assert all(a["to_bar"] <= b["from_bar"] + 1e-6 for a, b in pairwise(adds(plan))
               if a["temperature_c"] == b["temperature_c"])  # fmt: skip


def test_a_short_bank_names_what_helps_and_partial_pressure():
    banks = ["b1=EAN36@100barx50L", "b2=EAN38@90barx50L"]
    with pytest.raises(NoFillError) as caught:
        answer(**PLAIN, want="200bar:EAN35", supply=banks)
    assert caught.value.code == "bank"
    kinds = {other["kind"] for other in caught.value.alternatives}
    assert {"mix", "pressure", "fuller-bottle", "partial-pressure"} <= kinds
    json.dumps(caught.value.alternatives, allow_nan=False)
