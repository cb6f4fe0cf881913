"""A fill's story: the plan beside each reading, who refused what and why, who signed what."""

from __future__ import annotations

import json

import pytest

from blender.station import book, watch
from tests.station.shop import Shop


@pytest.fixture(name="story")
def _story(shop: Shop) -> dict[str, object]:
    """Plan, start, hold, resume, plan again, a refused start, then to the label."""
    fill = shop.filling()
    shop.hold(fill, "compressor tripped")
    shop.clock.turn(30)
    assert shop.resume(fill, "60bar").done
    assert not shop.reading(fill, "70bar").facts["closes"]
    assert shop.plan(fill, temperature="30C").done
    assert not shop.start(fill).done  # it is filling already
    for step in shop.steps(fill)[:-2]:
        assert shop.reading(fill, f"{step.to_mbar / 1000}bar", "30C").facts["closes"]
    assert shop.analyse(fill, "32.1").done
    assert shop.accept(fill, "31.8").done
    return book.story(shop.station.record, fill)


def test_each_reading_has_the_stop_of_the_plan_it_was_read_for(story: dict) -> None:
    first, *_, last = story["readings"]
    assert first["plan_to_bar"] == pytest.approx(84.425, abs=0.001)
    assert first["plan_temperature_c"] == 20.0
    assert last["plan_temperature_c"] == 30.0
    assert last["plan_to_bar"] == pytest.approx(last["pressure_bar"], abs=0.5)
    assert f"plan {last['plan_to_bar']:.1f} bar at 30.0 degC" in "\n".join(book.story_lines(story))


def test_holds_say_when_it_went_on(story: dict) -> None:
    (hold,) = story["holds"]
    assert (hold["reason"], hold["by"]) == ("compressor tripped", "Jo Blend")
    assert hold["resumed_at"] > hold["at"]


def test_refusals_name_every_gate(story: dict) -> None:
    (refused,) = story["refusals"]
    assert refused["action"] == "start"
    assert any(gate["answer"] == "stop" and gate["reason"] for gate in refused["gates"])
    text = "\n".join(book.story_lines(story))
    assert "start refused (Jo Blend):" in text


def test_signatures_are_the_entries_and_the_divers(story: dict) -> None:
    signed = [one for one in story["signatures"] if one["role"] != "customer"]
    assert [one["seq"] for one in signed] == [
        entry["seq"] for entry in story["entries"] if entry["signed_by"]
    ]
    (diver,) = [one for one in story["signatures"] if one["role"] == "customer"]
    assert (diver["by"], diver["meaning"]) == ("Kai Diver", "accepted")
    assert diver["at"] == story["accepted_at"]


def test_the_analyser_is_told(story: dict) -> None:
    assert {row["analyser"] for row in story["analyses"] if row["party"] == "staff"} == {"A1"}
    assert " on A1, O2 32." in "\n".join(book.story_lines(story))


def test_a_story_is_json(story: dict) -> None:
    assert json.loads(json.dumps(story, allow_nan=False)) == story


def test_the_customers_signature_says_what_was_signed_for(story: dict) -> None:
    (diver,) = [one for one in story["signatures"] if one["role"] == "customer"]
    signed = diver["signed"]
    assert (signed["serial"], signed["o2"], signed["own_o2"]) == ("C-1001", 0.321, 0.318)
    assert signed["mod_m"] == pytest.approx(33.613, abs=1e-9)
    assert (signed["mod_ppo2_bar"], signed["floor_m"], diver["drawn"]) == (1.4, 0.0, False)
    (line,) = [one for one in book.story_lines(story) if "Kai Diver, customer: accepted" in one]
    for said in (diver["at"], "typed", "O2 32.1 %", "MOD 33 m at ppO2 1.4 bar",
                 "own reading O2 31.8 %"):  # fmt: skip
        assert said in line


def test_a_plan_that_was_superseded_stays_in_the_story(story: dict) -> None:
    first, last = story["plans"]
    assert (first["superseded_by"], last["superseded_by"]) == (last["seq"], None)
    assert first["steps"][0]["to_bar"] == pytest.approx(84.425, abs=0.001)
    assert first["steps"][0]["temperature_c"] == 20.0
    assert first["by"] == "Jo Blend"
    in_force = [{k: v for k, v in s.items() if k not in ("seq", "holds")} for s in story["steps"]]
    assert last["steps"] == in_force
    text = "\n".join(book.story_lines(story))
    assert f"plan before, partial-pressure, by Jo Blend {first['at']}" in text
    assert "84.4 bar at 20.0 degC" in text.partition("readings:")[0]


def test_one_moment_has_one_time_whatever_the_zone_was(shop: Shop) -> None:
    """The clocks went forward between request and hold: each is told in its entry's zone."""
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    shop.clock.offset_min = 120
    shop.hold(fill, "power cut")
    assert not shop.start(fill).done
    shop.resume(fill, "84.425bar")
    shop.reading(fill, "230bar")
    shop.analyse(fill, "32.1")
    assert shop.accept(fill, "31.8").done
    story = book.story(shop.station.record, fill)
    times = {entry["seq"]: entry["at"] for entry in story["entries"]}
    for part in ("exceptions", "readings", "analyses", "refusals", "holds", "signatures"):
        assert story[part]
        assert {row["seq"]: row["at"] for row in story[part]}.items() <= times.items(), part
    office = {row["seq"]: row["when"] for row in watch.exceptions(shop.station.record)}
    assert office == {row["seq"]: row["at"] for row in story["exceptions"]}
    assert story["accepted_at"] in times.values()
    assert {at[-6:] for at in times.values()} == {"+01:00", "+02:00"}
