"""Names alike are named at registering: a caution for scripts, a question at a terminal."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.station import importing, people
from blender.station.alike import alike, are_alike, folded
from tests.station.shop import Shop


@pytest.mark.parametrize(
    ("one", "other"),
    [("Kai Diver", "kai diver"), ("Kai Diver", "KAI  Diver"), ("Zoë Núñez", "Zoe Nunez"),
     ("Kai Diver", "Kay Diver"), ("Kai Diver", "Kai Divers"), ("Kai Diver", "Kia Diver"),
     ("Kai Diver", "Diver, Kai"), ("Straße", "Strasse"), ("Łucja", "łucja"),
     ("Ελένη", "ΕΛΕΝΗ"), ("Kai Diver", "Kai Diver")],
)  # fmt: skip
def test_these_are_alike(one: str, other: str) -> None:
    assert are_alike(one, other)
    assert are_alike(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [("Kai Diver", "Lena Tief"), ("Kai Diver", "Kai Driverson"), ("Bo", "Jo"), ("Kai", "Kay"),
     ("", ""), ("", "a"), ("Mara Linde", "Mira Lunde")],
)  # fmt: skip
def test_these_are_not(one: str, other: str) -> None:
    assert not are_alike(one, other)
    assert not are_alike(other, one)


@given(st.text(max_size=30), st.text(max_size=30))
def test_any_two_names_are_compared_both_ways(one: str, other: str) -> None:
    assert are_alike(one, other) == are_alike(other, one)
    assert bool(folded(one)) == are_alike(one, one)


def test_a_script_is_cautioned_and_not_stopped(shop: Shop) -> None:
    made = people.add_person(shop.station, shop.jo, name="kai  díver", role="customer")
    assert [one["name"] for one in made["alike"]] == ["Kai Diver"]
    assert "Kai Diver (customer, P-" in made["cautions"][0]
    other = people.add_person(shop.station, shop.jo, name="Ole Wick", role="customer")
    assert (other["alike"], other["cautions"]) == ([], [])
    assert {one["name"] for one in alike(shop.station.record, "Kai Dyver")} >= {"Kai Diver"}


def test_staff_and_customers_are_compared_with_each_other(shop: Shop) -> None:
    made = people.add_person(shop.station, shop.jo, name="Jo Blent", role="customer")
    assert made["alike"][0]["role"] == "blender"


def test_a_table_says_whose_names_are_alike(shop: Shop) -> None:
    text = b"name\nKAI DIVER\nOle Wick\nole  wick\n"
    said = importing.rehearse(shop.station.record, "customers", text, shop.clock())
    assert said["bad"] == []
    assert said["cautions"] == [
        "line 2: KAI DIVER is nearly Kai Diver's name",
        "line 4: ole wick is nearly Ole Wick's name",
    ]  # fmt: skip
    done = importing.bring_in(shop.station, shop.mara, "customers", text)
    assert done["cautions"] == said["cautions"]
