"""Every recipe there is, ranked: never worse than one method alone, and each comes true."""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from blender.planning import METHODS, PlanRequest, parse_gas_at, parse_supply, parse_want, plan
from blender.planning.certainty import with_certainty
from blender.planning.choice import CRITERIA, USUAL, choices, rank
from blender.planning.merits import FREE_M3_MOL, Terms, merits
from tests.executor import carry_out
from tui.commands.choose import answer, lines

BANK = ("o1=oxygen99.5@180barx50L", "he=helium@190barx50L", "b1=EAN36@230barx2x50L",
        "b2=EAN50@200barx50L", "b3=EAN32@240barx2x50L")  # fmt: skip
PRICES = {"o1": 6.0, "he": 40.0, "b1": 2.0, "b2": 3.0, "b3": 2.0}
NITROX = ("60bar:EAN28", "230bar:EAN32")


def asked(have="60bar:EAN28", want="230bar:EAN32", bank=BANK, **more):
    supplies = tuple(parse_supply(text, "s") for text in bank)
    return PlanRequest(0.012, parse_gas_at(have, "h"), parse_want(want), supplies=supplies, **more)


def with_merits(found, terms):
    """The merits of a plan with its uncertainties."""
    sure = with_certainty(found).assurance
    figures = merits(found, terms)
    if sure is None:
        return figures
    return replace(figures, o2_uncertainty=sure.o2_uncertainty, he_uncertainty=sure.he_uncertainty)


@pytest.mark.parametrize("seed", range(25))
def test_never_worse_than_any_single_method(seed):
    """For random requests and criteria: no method's own plan ranks before the first choice."""
    dice = random.Random(seed)
    have = f"{dice.uniform(0, 120):.1f}bar:{dice.choice(['air', 'EAN28', 'EAN36', '21/35'])}"
    want = f"{dice.uniform(150, 232):.1f}bar:{dice.choice(['EAN32', 'EAN40', '18/45', '21/35'])}"
    bank = dice.sample(BANK, dice.randint(1, 5))
    by = tuple(dice.sample(list(CRITERIA), dice.randint(0, 3)))
    terms = Terms({name: PRICES[name] for name in PRICES if dice.random() < 0.8})
    request = asked(have, want, bank, rated_intake=0.40, delivery_l_min=200.0)
    criteria = tuple(dict.fromkeys((*by, *USUAL)))
    try:
        best = rank(choices(request, terms, by)[0].merits, criteria)
    except NoFillError:
        best = None
    for method in METHODS:
        if method == "mass":
            continue
        try:
            alone = plan(replace(request, method=method))
        except NoFillError:
            continue
        assert best is not None, method
        assert best <= rank(with_merits(alone, terms), criteria), method


@pytest.mark.parametrize(("have", "want"), [NITROX, ("40bar:21/35", "220bar:18/45")])
def test_every_choice_comes_true_in_an_independent_equation(have, want):
    """Each carried out by pyaga8 from the steps alone, within 0.01 points and 0.05 bar."""
    for choice in choices(asked(have, want), Terms({}), scale_g=1.0):
        if choice.merits.miss > 1e-6 or "mass" in choice.name:
            continue
        typed = {"cylinder": "12L", "have": have, "want": want, "supply": list(BANK)}
        world = carry_out(typed, choice.as_dict())
        total = sum(world.moles)
        assert world.moles[0] / total == pytest.approx(choice.plan.result.o2, abs=1e-4)
        assert world.gauge(20.0) == pytest.approx(world.want_bar, abs=0.05)


def test_no_two_are_alike_and_each_says_why():
    found = choices(asked("40bar:21/35", "220bar:18/45", rated_intake=0.4), Terms(PRICES))
    assert len(found) >= 6
    names = {choice.name for choice in found}
    assert {"partial pressure, helium first", "partial pressure, oxygen first"} <= names
    assert "continuous flow" in names
    assert all(choice.why for choice in found[:-1])
    keys = [rank(choice.merits, USUAL) for choice in found]
    assert keys == sorted(keys)


def test_what_decides_can_be_said():
    cheap = choices(asked(), Terms(PRICES), ("cost",))
    sure = choices(asked(), Terms(PRICES), ("certainty",))
    quick = choices(asked(), Terms(PRICES), ("time",))
    assert cheap[0].merits.cost == min(choice.merits.cost for choice in cheap)
    assert sure[0].merits.uncertainty == min(choice.merits.uncertainty for choice in sure)
    assert quick[0].merits.minutes == pytest.approx(
        min(choice.merits.minutes for choice in quick), abs=0.5
    )
    figure = r"\d+\.\d\d"
    assert re.fullmatch(f"costs less: {figure}, the next {figure}", cheap[0].why)
    sure_of = f"is surer of its mix: {figure} points, the next {figure} points"
    assert re.fullmatch(sure_of, sure[0].why)


def test_an_unknown_price_is_not_a_price_of_nothing():
    found = choices(asked(), Terms({"b1": 2.0}), ("cost",))
    assert found[0].merits.cost is not None
    assert found[-1].merits.cost is None


def test_gas_and_money_by_hand():
    """S1: 12.664 mol of oxygen; a mole is 24.055 L at 20 C and 1 atm (exact from R)."""
    found = plan(asked(bank=("o=oxygen",)))
    figures = merits(found, Terms({"o": 10.0}, oxygen_rate_bar_min=5.0, other_rate_bar_min=10.0))
    assert pytest.approx(0.0240551, rel=1e-5) == FREE_M3_MOL
    assert figures.oxygen_m3 == pytest.approx(12.664 * 0.0240551, rel=1e-4)
    assert figures.cost == pytest.approx(10.0 * figures.oxygen_m3)
    assert figures.minutes == pytest.approx(24.425 / 5.0 + 145.575 / 10.0, abs=1e-3)
    assert figures.helium_m3 == figures.drained_m3 == 0.0


def test_an_oxygen_stage_takes_its_time():
    """S6: 150 bar of oxygen at 5 bar a minute is 30 min."""
    found = plan(asked("0bar:air", "150bar:oxygen", ("o=oxygen",)))
    assert merits(found, Terms({}, oxygen_rate_bar_min=5.0)).minutes == pytest.approx(30.0)


def test_injected_oxygen_is_what_the_air_does_not_bring():
    """S5: of 83.022 mol let in, 17.566 % of the inlet flow is oxygen, the inlet 0.84 % wetter."""
    request = asked("45bar:air", "220bar:EAN32", ("o=oxygen",), rated_intake=0.4)
    found = plan(replace(request, method="continuous-flow"))
    figures = merits(found, Terms({"o": 1.0}))
    share = (found.steps[0].intake_o2 - 0.20946) / (1.0 - 0.20946)
    assert figures.oxygen_m3 == pytest.approx(share * 83.022 * FREE_M3_MOL, rel=1e-3)
    assert figures.cost == pytest.approx(figures.oxygen_m3)


def test_only_the_orders_a_rule_allows():
    found = choices(asked("40bar:21/35", "220bar:18/45"), Terms({}), orders=("oxygen first",))
    assert all("helium first" not in choice.name for choice in found)


def test_no_recipe_at_all():
    with pytest.raises(NoFillError):
        choices(asked("200bar:EAN32", "60bar:EAN80", ("b3=EAN32",)), Terms({}))


# ---- air before oxygen


def test_air_goes_in_before_oxygen():
    """US Navy practice, 100 psi of air first (from memory): the same air, only earlier."""
    request = asked("0bar:air", "200bar:EAN32", ("o=oxygen",))
    ruled = plan(replace(request, air_first_bar=6.895))
    first, oxygen, last = (step for step in ruled.steps if step.action == "add")
    assert (first.supply, oxygen.supply, last.supply) == ("top", "o", "top")
    assert first.to_bar == pytest.approx(6.895, abs=1e-6)
    assert ruled.result.o2 == pytest.approx(0.32, abs=1e-9)
    assert ruled.pressure_bar == pytest.approx(200.0, abs=1e-6)
    plain = plan(request)
    assert first.amount_mol + last.amount_mol == pytest.approx(plain.steps[1].amount_mol, rel=1e-9)


def test_what_stands_high_enough_needs_no_air_first():
    assert plan(asked(air_first_bar=6.895)).steps == plan(asked()).steps
    helium = asked("0bar:air", "200bar:18/45", ("he=helium", "o=oxygen"))
    assert plan(replace(helium, air_first_bar=6.895)).steps == plan(helium).steps


def test_a_mix_without_that_much_air_is_refused():
    request = asked("0bar:air", "200bar:heliox 20/80", ("he=helium", "o=oxygen"),
                    order=("oxygen", "helium", "top"), air_first_bar=6.895)  # fmt: skip
    with pytest.raises(NoFillError, match="before oxygen"):
        plan(request)


@settings(max_examples=60)
@given(
    have=st.floats(0.0, 20.0), first=st.floats(0.1, 20.0), o2=st.floats(0.25, 0.5),
    order=st.permutations(["helium", "oxygen", "top"]),
)  # fmt: skip
def test_the_rule_never_changes_the_mix(have, first, o2, order):
    request = asked(f"{have:.3f}bar:air", f"200bar:{o2:.4f}/0", ("o=oxygen",), order=tuple(order))
    ruled = plan(replace(request, air_first_bar=first))
    assert ruled.result.o2 == pytest.approx(o2, abs=1e-4)
    assert ruled.pressure_bar == pytest.approx(200.0, abs=1e-6)
    rich = next(step for step in ruled.steps if step.supply == "o")
    assert rich.from_bar >= first - 1e-6


# ---- the command


def test_the_command_says_it_in_words():
    found = answer("12L", *NITROX, supply=BANK, price=("o1=6", "b1=2,5"), by="certainty",
                   rated_intake="40%", scale="5g")  # fmt: skip
    assert found["choices"][0]["merits"]["o2_uncertainty"] > 0.0
    text = "\n".join(lines(found))
    assert "1. " in text
    assert "sure to O2" in text
    assert "It is surer of its mix" in text


@pytest.mark.parametrize(
    "bad",
    [
        {"price": ("o9=6",)}, {"price": ("o1",)}, {"price": ("o1=-1",)}, {"price": ("o1=1e9",)},
        {"by": "beauty"}, {"oxygen_rate": "fast"}, {"oxygen_rate": "900bar"}, {"method": "mass"},
        {"way": "top"}, {"air_first": "200bar"}, {"scale": "0g"},
    ],
)  # fmt: skip
def test_nonsense_is_one_message(bad):
    with pytest.raises(InputError) as caught:
        answer("12L", *NITROX, supply=BANK, **bad)
    assert "\n" not in str(caught.value)


def test_helium_in_the_intake_is_counted_as_helium():
    """All the nitrogen is the air's; helium and oxygen make up the rest: conservation."""
    request = asked("0bar:air", "200bar:21/35", ("he=helium", "o=oxygen"), rated_intake=0.4,
                    method="continuous-flow", inject=("helium", "oxygen"))  # fmt: skip
    found = plan(request)
    let_in = sum(step.amount_mol for step in found.steps if step.action == "flow")
    total = request.residual().total_mol + let_in
    air = (found.result.n2 * total - request.residual().amounts_mol[2]) / 0.78120
    figures = merits(found, Terms({"he": 40.0, "o": 6.0}))
    assert figures.helium_m3 == pytest.approx(0.35 * total * FREE_M3_MOL, rel=1e-6)
    oxygen = 0.21 * total - request.residual().amounts_mol[0] - 0.20946 * air
    assert figures.oxygen_m3 == pytest.approx(oxygen * FREE_M3_MOL, rel=1e-5)
    assert figures.cost == pytest.approx(40.0 * figures.helium_m3 + 6.0 * figures.oxygen_m3)


def test_a_purge_goes_up_and_down_again():
    found = plan(asked("0bar:air", "150bar:oxygen", ("o=oxygen99.5",), oxygen_minimum=0.994))
    terms = Terms({}, oxygen_rate_bar_min=5.0)
    assert next(step.action for step in found.steps) == "purge"
    assert merits(found, terms).minutes == pytest.approx(2.0 * 10.0 / 5.0 + 150.0 / 5.0)


def test_certainty_is_known_of_all_where_it_decides():
    request = asked("40bar:21/35", "220bar:18/45", rated_intake=0.4)
    first = choices(request, Terms(PRICES), ("certainty",))
    assert len(first) > 5
    assert all(choice.merits.o2_uncertainty is not None for choice in first)
    later = choices(request, Terms(PRICES))
    assert all(choice.merits.o2_uncertainty is not None for choice in later[:5])


def test_rich_nitrox_counts_as_oxygen_before_which_air_goes():
    """The line for oxygen service: 40 % (29 CFR 1910.430, 46 CFR 197.326)."""
    request = asked("0bar:air", "200bar:EAN32", ("b2=EAN50",), air_first_bar=6.895)
    assert next(step.supply for step in plan(request).steps if step.action == "add") == "top"
    lean = asked("0bar:air", "200bar:EAN32", ("b1=EAN36",), air_first_bar=6.895)
    assert next(step.supply for step in plan(lean).steps if step.action == "add") == "b1"
