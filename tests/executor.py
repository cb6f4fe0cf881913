"""Carries out a plan as a blender would, with an independent GERG-2008, and judges it.

Nothing of the product is imported.  Gases, sizes and bottles are read from the typed
request; from the plan come only the steps.  Every stop is driven by its gauge pressure, and
the amounts that flow are then compared with what the plan says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import Any

from pyaga8 import Composition, Gerg2008

PSI_BAR = 0.0689475729316836
AIR = (0.20946, 0.0, 0.78120, 0.00934)  # O2, He, N2, Ar
Moles = tuple[float, ...]  # four: O2, He, N2, Ar

_EOS = Gerg2008()


def _composed(moles: Moles) -> None:
    total = sum(moles)
    gas = Composition()
    gas.oxygen, gas.helium, gas.nitrogen, gas.argon = (n / total for n in moles)
    _EOS.set_composition(gas)


def pressure_bar(moles: Moles, celsius: float, litres: float) -> float:
    """Absolute pressure of amounts in a volume."""
    _composed(moles)
    _EOS.temperature = celsius + 273.15
    _EOS.d = sum(moles) / litres
    return float(_EOS.calc_pressure()) / 100.0


def amount(fractions: Moles, absolute_bar: float, celsius: float, litres: float) -> float:
    """Amount that makes an absolute pressure in a volume."""
    _composed(fractions)
    _EOS.temperature = celsius + 273.15
    _EOS.pressure = absolute_bar * 100.0
    _EOS.calc_density(0)
    return float(_EOS.d) * litres


# ---- reading the request, independently


def gas_of(text: str) -> Moles:
    """Fractions of a gas as typed."""
    text = text.strip()
    if text == "air":
        return AIR
    if text == "helium":
        return (0.0, 1.0, 0.0, 0.0)
    if found := re.fullmatch(r"oxygen([\d.]*)", text):
        o2 = float(found[1] or 100.0) / 100.0
        return (o2, 0.0, 0.0, 1.0 - o2)
    if found := re.fullmatch(r"EAN([\d.]+)", text):
        return _with_rest(float(found[1]) / 100.0, 0.0)
    o2, he = (float(part) for part in text.removeprefix("heliox ").split("/"))
    scale = 1.0 if "." in text and max(o2, he) <= 1.0 else 100.0
    return _with_rest(o2 / scale, he / scale)


def _with_rest(o2: float, he: float) -> Moles:
    rest = max(1.0 - o2 - he, 0.0)
    argon = AIR[3] / (AIR[2] + AIR[3])
    return (o2, he, rest * (1.0 - argon), rest * argon)


def bar_of(text: str) -> float:
    """Gauge pressure as typed, bar."""
    return float(text[:-3]) * (PSI_BAR if text.endswith("psi") else 1.0)


def celsius_of(text: str) -> float:
    """Temperature as typed, degC."""
    value = float(text[:-1])
    return value if text.endswith("C") else (value - 32.0) / 1.8


def litres_of(text: str) -> float:
    """Size as typed, L."""
    if "cuft" in text:
        rated, psi = text.removesuffix("psi").split("cuft@")
        return float(rated) * 28.316846592 * 14.7 / (float(psi) + 14.7)
    count, each = ("1", text) if "x" not in text else text.split("x")
    return int(count) * float(each.removesuffix("L"))


@dataclass
class Bottle:
    """A supply while gas is drawn from it; unlimited without litres."""

    gas: Moles
    litres: float = 0.0
    mol: float = 0.0

    def gauge(self, ambient: float) -> float:
        """Gauge pressure at 20 degC."""
        return pressure_bar(_times(self.gas, self.mol), 20.0, self.litres) - ambient


@dataclass
class World:
    """The request as this module understands it, and the state while steps are done."""

    asked: dict[str, Any]
    moles: Moles = (0.0, 0.0, 0.0, 0.0)
    bottles: dict[str, Bottle] = field(default_factory=dict)
    whip_gas: Moles | None = None  # what was left in the whip at ambient pressure
    tower: Moles = (0.0, 0.0, 0.0, 0.0)  # what stands in the filter tower
    tower_left: float = 0.0  # how much of it has not gone in

    def __post_init__(self) -> None:
        asked = self.asked
        self.litres = litres_of(asked["cylinder"])
        self.whip = litres_of(asked["whip"]) if "whip" in asked else 0.0
        self.ambient = float(asked.get("ambient", "1.01325bar").removesuffix("bar"))
        self.temperatures = [celsius_of(t) for t in asked.get("temperature", "20C").split(",")]
        self.settle = celsius_of(asked.get("settle_at", "20C"))
        pressure, have_gas = asked["have"].split(":")
        pressure, _, at = pressure.partition("@")
        self.residual_gas = gas_of(have_gas)
        read_at = celsius_of(at) if at else self.temperatures[0]
        mol = amount(self.residual_gas, bar_of(pressure) + self.ambient, read_at, self.litres)
        self.moles = self.residual = self.ledger = _times(self.residual_gas, mol)
        want_bar, self.want_text = asked["want"].split(":")
        self.want_bar, self.want_gas = bar_of(want_bar), gas_of(self.want_text)
        self.bottles["top"] = Bottle(gas_of(asked.get("top", "air")))
        for text in asked.get("supply") or ("oxygen=oxygen", "helium=helium"):
            self._bottle(text)
        if "tower" in asked:
            self._tower(asked["tower"])

    def _tower(self, text: str) -> None:
        size, _, stands = text.partition("@")
        pressure, gas = stands.split(":")
        pressure, _, at = pressure.partition("@")
        celsius = celsius_of(at) if at else self.temperatures[0]
        absolute = bar_of(pressure) + self.ambient
        self.tower_left = amount(gas_of(gas), absolute, celsius, litres_of(size))
        self.tower = _times(gas_of(gas), self.tower_left)

    def _bottle(self, text: str) -> None:
        name, rest = text.split("=")
        gas, _, content = rest.partition("@")
        fractions = gas_of(gas)
        if not content:
            self.bottles[name] = Bottle(fractions)
            return
        bar, size = content.split("x", 1)
        litres = litres_of(size)
        mol = amount(fractions, bar_of(bar) + self.ambient, 20.0, litres)
        self.bottles[name] = Bottle(fractions, litres, mol)

    def gauge(self, celsius: float) -> float:
        """What the cylinder's gauge shows."""
        return pressure_bar(self.moles, celsius, self.litres) - self.ambient


def _times(gas: Moles, mol: float) -> Moles:
    return tuple(x * mol for x in gas)


def _plus(moles: Moles, gas: Moles, mol: float) -> Moles:
    return tuple(n + x * mol for n, x in zip(moles, gas, strict=True))


def _let_in(world: World, gas: Moles, gauge: float, celsius: float) -> float:
    """Amount that brings the gauge to a stop, by the secant rule."""

    def excess(mol: float) -> float:
        filled = _plus(world.moles, gas, mol)
        return pressure_bar(filled, celsius, world.litres) - world.ambient - gauge

    one, other = 0.0, 0.05 * sum(world.moles)
    at_one, at_other = excess(one), excess(other)
    for _ in range(60):
        if abs(at_other) < 1e-11 or at_other == at_one:
            break
        one, other = other, other - at_other * (other - one) / (at_other - at_one)
        at_one, at_other = at_other, excess(other)
    return other


def reached(
    moles: Moles, gas: Moles, absolute_bar: float, celsius: float, litres: float, guess: float
) -> Moles:
    """What is in when a gas was let in to a pressure, by the secant rule from a guess."""

    def excess(mol: float) -> float:
        return pressure_bar(_plus(moles, gas, mol), celsius, litres) - absolute_bar

    before, mol = guess, guess * 1.01
    missed = excess(before)
    for _ in range(20):
        now = excess(mol)
        if abs(now) < 1e-7 or now == missed:
            break
        before, mol, missed = mol, mol - now * (mol - before) / (now - missed), now
    return _plus(moles, gas, max(mol, 0.0))


# ---- carrying out


def carry_out(asked: dict[str, Any], plan: dict[str, Any]) -> World:
    """Do every step by its gauge and check what the plan says of it."""
    world = World(asked)
    stops = _stops(world, plan)
    for step in plan["steps"]:
        _DO[step["action"]](world, step, stops)
        _near(step["holds"]["o2"], world.moles[0] / sum(world.moles), 1e-7, "holds O2")
        _near(step["holds"]["he"], world.moles[1] / sum(world.moles), 1e-7, "holds He")
        _book(world, step)
        assert all(value is not None for value in step.values())
    _judge(world, plan)
    return world


def _book(world: World, step: dict[str, Any]) -> None:
    """Keep a ledger by the plan's own amounts: nothing appears or vanishes, to 1e-9."""
    action, total = step["action"], sum(world.ledger)
    if action == "drain":
        world.ledger = _times(world.ledger, 1.0 - step["amount_mol"] / total)
    elif action in ("add", "purge"):
        if "whip_gas" in step:  # what was left in the whip goes in first
            left = tuple(step["whip_gas"].values())
            world.ledger = _plus(world.ledger, left, step["whip_gas_mol"])
        gas = world.bottles[step["supply"]].gas
        world.ledger = _plus(world.ledger, gas, step["amount_mol"])
    elif action == "flow":
        world.ledger = _plus(world.ledger, tuple(step["gas"].values()), step["amount_mol"])
    total = sum(world.ledger)
    _near(step["holds"]["o2"], world.ledger[0] / total, 1e-9, "ledger O2")
    _near(step["holds"]["he"], world.ledger[1] / total, 1e-9, "ledger He")
    if action == "purge":  # what is vented is mixed gas, down to where it was
        world.ledger = _times(world.ledger, sum(world.moles) / total)
    _near(sum(world.ledger), sum(world.moles), 1e-7 * total, "ledger total")


def _stops(world: World, plan: dict[str, Any]) -> dict[tuple[Any, ...], float]:
    """Temperature of each adding gas, in the plan's order of gases."""
    gases = []
    for step in plan["steps"]:
        if step["action"] in ("add", "flow") and _key(step) not in gases:
            gases.append(_key(step))
    given = world.temperatures * len(gases) if len(world.temperatures) == 1 else world.temperatures
    assert len(given) == len(gases)
    return dict(zip(gases, given, strict=True))


def _key(step: dict[str, Any]) -> tuple[Any, ...]:
    if step["action"] == "flow":  # one run of the compressor, whatever comes out of it
        return ("flow",)
    return (step["action"], *(round(x, 12) for x in step["gas"].values()))


def _drain(world: World, step: dict[str, Any], _stops: dict[Any, float]) -> None:
    at = step["temperature_c"]
    assert at == world.temperatures[0]
    _near(step["from_bar"], world.gauge(at), 1e-6, "drain from")
    total = sum(world.moles)
    gas = tuple(n / total for n in world.moles)
    left = amount(gas, step["to_bar"] + world.ambient, at, world.litres)
    _near(step["amount_mol"], total - left, 1e-7 * total, "drained")
    assert step["to_bar"] > -1e-9
    world.moles = _times(gas, left)


def _add(world: World, step: dict[str, Any], stops: dict[Any, float]) -> None:
    bottle = world.bottles[step["supply"]]
    at = step["temperature_c"]
    assert at == stops[_key(step)]
    _near(step["from_bar"], world.gauge(at), 1e-6, "add from")
    for here, there in zip(step["gas"].values(), bottle.gas, strict=True):
        _near(here, there, 1e-9, "gas added is not the supply's")
    _first_in(world, step, bottle.gas)
    mol = _let_in(world, bottle.gas, step["to_bar"], at)
    _near(step["amount_mol"], mol, 1e-7 * sum(world.moles), "added")
    world.moles = _plus(world.moles, bottle.gas, mol)
    _draw(world, step, mol + _whip_cost(world, step, bottle.gas))
    _check_flow(world, step, bottle, at)


def _check_flow(world: World, step: dict[str, Any], bottle: Bottle, at: float) -> None:
    """Gas runs downhill; uphill within what the booster can do, and the compressor."""
    stop = world.gauge(at)
    if step["supply"] == "top" and "compressor_max" in world.asked:
        assert stop < bar_of(world.asked["compressor_max"]) + 1e-6, "above the compressor"
    if not bottle.litres:
        assert "boosted" not in step
        return
    stands = bottle.gauge(world.ambient)
    if not step.get("boosted"):
        assert stands > stop - 1e-6, "gas flowed back"
        return
    inlet, ratio, outlet = world.asked["booster"].split("/")
    assert stands < stop, "boosted for nothing"
    assert stands > max(bar_of(inlet), stop / float(ratio)) - 1e-6, "below the booster's inlet"
    assert stop < bar_of(outlet) + 1e-6, "above the booster's outlet"


def _whip_left(world: World, gas: Moles) -> float:
    return amount(gas, world.ambient, 20.0, world.whip)


def _first_in(world: World, step: dict[str, Any], gas: Moles) -> None:
    """What was left in the whip goes in first, if it is another gas."""
    before = world.whip_gas
    if not world.whip or before in (None, gas):
        assert "whip_gas" not in step
        return
    assert before is not None
    for here, there in zip(step["whip_gas"].values(), before, strict=True):
        _near(here, there, 1e-9, "gas left in the whip")
    mol = _whip_left(world, before)
    _near(step["whip_gas_mol"], mol, 1e-9, "left in the whip")
    world.moles = _plus(world.moles, before, mol)


def _whip_cost(world: World, step: dict[str, Any], gas: Moles) -> float:
    """What fills the whip at the stop; of its own gas some was in it."""
    if not world.whip:
        assert "whip_mol" not in step
        return 0.0
    own = _whip_left(world, gas) if world.whip_gas in (None, gas) else 0.0
    mol = amount(gas, step["to_bar"] + world.ambient, 20.0, world.whip) - own
    _near(step.get("whip_mol", 0.0), mol, 1e-7, "vented from the whip")
    world.whip_gas = gas
    return mol


def _draw(world: World, step: dict[str, Any], mol: float, key: str = "supply") -> None:
    bottle = world.bottles[step[key]]
    if not bottle.litres:
        assert f"{key}_from_bar" not in step
        return
    _near(step[f"{key}_from_bar"], bottle.gauge(world.ambient), 1e-5, "supply from")
    bottle.mol -= mol
    _near(step[f"{key}_to_bar"], bottle.gauge(world.ambient), 1e-5, "supply to")


def _flow(world: World, step: dict[str, Any], stops: dict[Any, float]) -> None:
    is_tower = step["supply"] == "tower"
    source = "oxygen_supply" if is_tower else "supply"
    helium, oxygen, air = _drawn_in(world, step, source)
    at, top = step["temperature_c"], world.bottles["top"].gas
    assert at == stops[_key(step)]
    if is_tower:
        gas = _times(world.tower, 1.0 / sum(world.tower))
    else:
        _near(world.tower_left, 0.0, 1e-6, "delivered before the tower was spent")
        parts = zip(_gas_from(world, step, "helium_supply"), _gas_from(world, step, source), top,
                    strict=True)  # fmt: skip
        gas = tuple(helium * h + oxygen * o + air * a for h, o, a in parts)
    for here, there in zip(step["gas"].values(), gas, strict=True):
        _near(here, there, 1e-9, "gas let in is not what was drawn in")
    mol = _let_in(world, gas, step["to_bar"], at)
    _near(step["amount_mol"], mol, 1e-7 * sum(world.moles), "delivered")
    world.moles = _plus(world.moles, gas, mol)
    world.tower_left -= mol if is_tower else 0.0
    assert world.tower_left > -1e-6, "more came out of the tower than was in it"
    for key, share in ((source, oxygen), ("helium_supply", helium)):
        if key in step:
            _draw(world, step, share * mol, key)
    rated = float(world.asked["rated_intake"].rstrip("%")) / 100.0
    assert step["intake_o2"] <= rated + 1e-9
    assert step["intake_reading"] <= step["intake_o2"] + 1e-12


def _gas_from(world: World, step: dict[str, Any], key: str) -> Moles:
    return world.bottles[step.get(key, "top")].gas


def _drawn_in(world: World, step: dict[str, Any], source: str) -> tuple[float, float, float]:
    """Shares of helium, oxygen and air that make the intake's fractions."""
    top = world.bottles["top"].gas
    h, o = (_gas_from(world, step, key) for key in ("helium_supply", source))
    want = (step["intake_o2"] - top[0], step.get("intake_he", top[1]) - top[1])
    (a, c), (b, d) = ((gas[0] - top[0], gas[1] - top[1]) for gas in (h, o))
    det = a * d - b * c
    if det:
        helium, oxygen = (want[0] * d - b * want[1]) / det, (a * want[1] - want[0] * c) / det
    elif c:  # helium alone
        helium, oxygen = want[1] / c, 0.0
    else:
        helium, oxygen = 0.0, want[0] / b if b else 0.0
    _near(step["intake_o2"], top[0] + helium * a + oxygen * b, 1e-9, "intake O2")
    _near(step.get("intake_he", top[1]), top[1] + helium * c + oxygen * d, 1e-9, "intake He")
    shares = (helium, oxygen, 1.0 - helium - oxygen)
    assert min(shares) >= -1e-9
    return shares


def _purge(world: World, step: dict[str, Any], _stops: dict[Any, float]) -> None:
    at = step["temperature_c"]
    gas = world.bottles[step["supply"]].gas
    _near(step["from_bar"], world.gauge(at), 1e-6, "purge from")
    mol = _let_in(world, gas, step["to_bar"], at)
    _near(step["amount_mol"], mol, 1e-6, "purged with")
    mixed = _plus(world.moles, gas, mol)
    fractions = tuple(n / sum(mixed) for n in mixed)
    left = amount(fractions, step["from_bar"] + world.ambient, at, world.litres)
    world.moles = _times(fractions, left)
    _draw(world, step, mol + _whip_cost(world, step, gas))


def _rest(world: World, step: dict[str, Any], _stops: dict[Any, float]) -> None:
    _near(step["to_bar"], world.gauge(step["temperature_c"]), 1e-5, "rest")


def _analyse(_world: World, _step: dict[str, Any], _stops: dict[Any, float]) -> None:
    pass


_DO = {
    "drain": _drain,
    "add": _add,
    "flow": _flow,
    "purge": _purge,
    "rest": _rest,
    "analyse": _analyse,
}


def _judge(world: World, plan: dict[str, Any]) -> None:
    """Compare the outcome with what was asked, within 0.01 points and 0.05 bar."""
    total, result = sum(world.moles), plan["result"]
    o2, he = world.moles[0] / total, world.moles[1] / total
    _near(result["o2"], o2, 1e-6, "result O2")
    _near(result["he"], he, 1e-6, "result He")
    _near(result["pressure_bar"], world.want_bar, 1e-6, "result pressure")
    _near(world.gauge(world.settle), world.want_bar, 1e-4, "settled pressure")
    actions = [step["action"] for step in plan["steps"]]
    assert actions[-2:] == ["rest", "analyse"]
    for here, after in pairwise(actions):
        assert here != "drain" or after == "rest"
    if world.want_text == "oxygen":
        minimum = float(world.asked.get("oxygen_minimum", "99%").rstrip("%")) / 100.0
        assert o2 >= minimum - 1e-8
        return
    miss = max(abs(o2 - world.want_gas[0]), abs(he - world.want_gas[1]))
    is_off = any(warning["code"] == "off-target" for warning in plan["warnings"])
    assert miss < (5e-3 + 1e-7 if is_off else 1e-6), f"missed by {miss}"
    assert is_off == (miss > 1e-8), f"miss {miss}, warning {is_off}"


def _near(given: float, true: float, tolerance: float, what: str) -> None:
    assert abs(given - true) <= tolerance, f"{what}: {given} instead of {true}"


# ---- what is possible at all


def can_make(world: World, kept: float, o2: float, he: float) -> bool:
    """Say whether a fraction kept of the residual and the gases there are can make a mix."""
    total = amount(_with_rest(o2, he), world.want_bar + world.ambient, world.settle, world.litres)
    left = tuple(a + b for a, b in zip(_times(world.residual, kept), world.tower, strict=True))
    rest = total - sum(left)
    if rest < -1e-9 * total:
        return False
    point = ((o2 * total - left[0]), (he * total - left[1]))
    if rest < 1e-9 * total:
        return max(abs(point[0]), abs(point[1])) < 1e-9 * total
    point = (point[0] / rest, point[1] / rest)
    gases = [(b.gas[0], b.gas[1]) for b in world.bottles.values()]
    if "rated_intake" in world.asked:  # what is delivered is no richer than that
        rated = float(world.asked["rated_intake"].rstrip("%")) / 100.0
        gases = list(_within(rated, gases, "helium" in world.asked.get("inject", "")))
    return _in_hull(point, gases)


def _within(
    rated: float, gases: list[tuple[float, float]], injected: bool
) -> Iterator[tuple[float, float]]:
    """Corners of what can be let in: of the gas delivered no more than the rating is oxygen."""
    for o2, he in gases:
        if not injected:  # helium goes in by partial pressure
            yield min(o2, rated), he
        elif o2 <= rated:
            yield o2, he
        else:  # injected into helium or into air, up to the rating
            for into_o2, into_he in gases:
                if into_o2 <= rated:
                    share = (rated - into_o2) / (o2 - into_o2)
                    yield rated, into_he + share * (he - into_he)


def least_kept(world: World) -> float:
    """Fraction that stays when the cylinder is emptied to zero on the gauge."""
    empty = amount(world.residual_gas, world.ambient, world.temperatures[0], world.litres)
    return min(1.0, empty / sum(world.residual))


def _in_hull(point: tuple[float, float], corners: list[tuple[float, float]]) -> bool:
    """True if a point is within rounding of a segment or triangle of the corners."""
    slack = 1e-9
    for one, other in combinations([*corners, corners[0]], 2):
        along = (other[0] - one[0], other[1] - one[1])
        offset = (point[0] - one[0], point[1] - one[1])
        length = along[0] ** 2 + along[1] ** 2
        share = (offset[0] * along[0] + offset[1] * along[1]) / length if length else 0.0
        share = min(max(share, 0.0), 1.0)
        gap = (offset[0] - share * along[0], offset[1] - share * along[1])
        if max(abs(gap[0]), abs(gap[1])) < slack:
            return True
    for a, b, c in combinations(corners, 3):
        area = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])
        if abs(area) < 1e-12:
            continue
        u = ((point[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (point[1] - a[1])) / area
        v = ((b[0] - a[0]) * (point[1] - a[1]) - (point[0] - a[0]) * (b[1] - a[1])) / area
        if u > -slack and v > -slack and u + v < 1.0 + slack:
            return True
    return False


def check_drain(world: World, plan: dict[str, Any]) -> bool:
    """A drain must be needed: with a little less of it the mix cannot be made."""
    drains = [step for step in plan["steps"] if step["action"] == "drain"]
    codes = {warning["code"] for warning in plan["warnings"]}
    if not drains or "off-target" in codes or world.want_text == "oxygen":
        return False
    total = sum(world.residual)
    kept = 1.0 - drains[0]["amount_mol"] / total
    more = min(kept + 1e-5, 1.0)
    assert not can_make(world, more, *world.want_gas[:2]), "drained more than needed"
    return True


def intake_needed(world: World) -> float:
    """Dry oxygen fraction a compressor would have to deliver into the undrained residual."""
    o2, he = world.want_gas[:2]
    total = amount(_with_rest(o2, he), world.want_bar + world.ambient, world.settle, world.litres)
    helium = he * total - world.residual[1]
    return (o2 * total - world.residual[0]) / (total - sum(world.residual) - helium)


def oxygen_needed(world: World) -> float:
    """Amount of the bank's one gas that a nitrox fill needs, nothing drained."""
    o2, gas = world.want_gas[0], next(b.gas for b in world.bottles.values() if b.litres)
    top = world.bottles["top"].gas
    total = amount(world.want_gas, world.want_bar + world.ambient, world.settle, world.litres)
    rest = total - sum(world.residual)
    return (o2 * total - world.residual[0] - top[0] * rest) / (gas[0] - top[0])


def bank_can_give(world: World, mol: float) -> bool:
    """Say whether the bottles, low ones first, can give an amount of their one gas."""
    at = world.temperatures[0]
    bottles = [b for b in world.bottles.values() if b.litres]
    for bottle in sorted(bottles, key=lambda b: b.gauge(world.ambient)):
        low, high = 0.0, min(mol, 0.999 * bottle.mol)
        start, full = world.moles, bottle.mol
        for _ in range(50):  # the largest amount after which the bottle is not the lower one
            moved = high if low == 0.0 and high == mol else 0.5 * (low + high)
            world.moles, bottle.mol = _plus(start, bottle.gas, moved), full - moved
            if bottle.gauge(world.ambient) >= world.gauge(at):
                low = moved
                if moved == mol:
                    return True
            else:
                high = moved
        world.moles, bottle.mol = _plus(start, bottle.gas, low), full - low
        mol -= low
    return mol < 1e-6


def check_miss(world: World, plan: dict[str, Any]) -> bool:
    """A miss must be as small as it can be: nothing lies inside a slightly smaller square."""
    if not any(warning["code"] == "off-target" for warning in plan["warnings"]):
        return False
    o2, he = world.want_gas[:2]
    miss = max(abs(plan["result"]["o2"] - o2), abs(plan["result"]["he"] - he))
    total = amount(_with_rest(o2, he), world.want_bar + world.ambient, world.settle, world.litres)
    corners = []
    for kept in (least_kept(world), min(1.0, total / sum(world.residual))):
        left = _times(world.residual, kept)
        for bottle in world.bottles.values():
            if he > 0.0 or bottle.gas[1] == 0.0:  # no helium where none is wanted
                mixed = _plus(left, bottle.gas, total - sum(left))
                corners.append((mixed[0] / total, mixed[1] / total))
    for i in range(-10, 11):
        side, radius = i / 10.0, 0.98 * miss
        for d_o2, d_he in ((side, 1.0), (side, -1.0), (1.0, side), (-1.0, side)):
            point = (o2 + radius * d_o2, he + radius * d_he)
            assert not _in_hull(point, corners), f"{point} is nearer, and can be made"
    return True
