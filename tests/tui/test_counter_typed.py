"""What is typed at the Counter, without a terminal: each form understood, each doubt refused."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.planning.request import parse_gas_at
from tui.places.counter_typed import again, left, left_text, want, want_text
from tui.shown import Units

METRIC, IMPERIAL = Units(), Units(imperial=True)


@pytest.mark.parametrize(
    ("typed", "bar", "o2", "he", "source"),
    [
        ("60 28.1", 60.0, 0.281, 0.0, "analysed"),
        ("60,5 28,1", 60.5, 0.281, 0.0, "analysed"),
        ("60 18C 21.2 34.8", 60.0, 0.212, 0.348, "analysed"),
        ("60 A2 28.1%", 60.0, 0.281, 0.0, "analysed"),
        ("60 0.8 99", 60.0, 0.008, 0.99, "analysed"),
        ("60 100", 60.0, 1.0, 0.0, "analysed"),
        ("60", 60.0, 0.319, 0.0, "label"),
        ("60 label", 60.0, 0.319, 0.0, "label"),
        ("60 EAN28", 60.0, 0.28, 0.0, "stated"),
        ("60 EAN 28", 60.0, 0.28, 0.0, "stated"),
        ("60 18/45 stated", 60.0, 0.18, 0.45, "stated"),
        ("60 unknown", 60.0, 0.20946, 0.0, "unknown"),
        ("0", 0.0, 0.20946, 0.0, "unknown"),
    ],
)
def test_what_is_left(typed: str, bar: float, o2: float, he: float, source: str) -> None:
    found = left(typed, METRIC, "EAN31.9", "A1")
    gas = parse_gas_at(found.have, "have")
    assert gas.gauge_bar == bar
    assert (gas.mix.o2, gas.mix.he) == pytest.approx((o2, he), abs=1e-9)
    assert found.source == source


@pytest.mark.parametrize(
    "typed",
    ["", "x", "28.1 stated", "-5 21", "60 28,100", "60 28.1 3 4", "60 101", "600 21", "60 28.1 90",
     "1,234", "60 18Q 28.1", "60 [/]"],
)  # fmt: skip
def test_what_cannot_be_read_is_refused(typed: str) -> None:
    with pytest.raises(InputError):
        left(typed, METRIC, "EAN31.9", "A1")


def test_no_label_is_no_gas() -> None:
    with pytest.raises(InputError, match="no label"):
        left("60", METRIC, "", "A1")


def test_helium_is_typed_where_the_last_gas_had_some() -> None:
    with pytest.raises(InputError, match="helium"):
        left("60 21.2", METRIC, "21/35", "A1", had_helium=True)
    assert left("60 21.2 0", METRIC, "21/35", "A1", had_helium=True).he == "0"


def test_a_bare_number_is_in_the_units_shown_and_the_echo_says_so() -> None:
    found = left("870 64F EAN28", IMPERIAL, "", "A1")
    assert found.have == "870psi@64F:EAN28"
    assert left_text(found, IMPERIAL).startswith("870 psi at 64 °F")
    assert "assumed" in left_text(left("60 28.1", METRIC, "", "A1"), METRIC)


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("230 EAN32", "230bar:EAN32"),
        ("EAN32 230", "230bar:EAN32"),
        ("18/45 3000psi", "3000psi:18/45"),
        ("230bar:EAN32", "230bar:EAN32"),
        ("3000psi 18/45", "3000psi:18/45"),
        ("200 heliox 20/80 for x", "200bar:heliox 20/80"),
        # 1.4 / (32 / 10 + 1) = 0.3333; 1.4 / (100 / 33 + 1) = 0.3474; 1.6 / 4 = 0.40
        ("230 best 32m", "230bar:EAN33"),
        ("230 best 100ft 1.4", "230bar:EAN34"),
        ("230 best 30 1.6", "230bar:EAN40"),
        ("230 best 60m", "230bar:20/50"),
    ],
)
def test_what_is_wanted(typed: str, expected: str) -> None:
    assert want(typed, METRIC).want == expected


@pytest.mark.parametrize(
    "typed",
    ["", "230", "230 foo", "230 EAN32 for", "230 best", "230 best 30 1.7",
     "230 EAN32 flow", "230 helium", "230 EAN32 at 20C extra"],
)  # fmt: skip
def test_a_wish_that_cannot_be_read_is_refused(typed: str) -> None:
    with pytest.raises(InputError):
        want(typed, METRIC)


def test_planning_words_and_customer_follow_the_gas() -> None:
    found = want("230 EAN32 flow 40% for Kai Diver", METRIC)
    assert (found.want, found.whose) == ("230bar:EAN32", "Kai Diver")
    assert found.plan_options.method == "continuous-flow"


def test_the_echo_names_depth_customer_and_what_is_above_the_rating() -> None:
    said = want_text(want("240 EAN32", METRIC), METRIC, "Kai", 232.0)
    assert "MOD 33 m" in said
    assert "for Kai" in said
    assert "above WP 232 bar" in said


def test_same_again_is_typed_in_the_units_shown() -> None:
    assert again("230bar:EAN32", METRIC) == "230 EAN32"
    assert again("230bar:EAN32", IMPERIAL) == "230bar EAN32"
    assert again(None, METRIC) == ""
