"""A fill's story: the plan beside each reading, who refused what and why, who signed what."""

from __future__ import annotations

import json

import pytest

from blender.station import book
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
