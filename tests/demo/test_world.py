"""The world errs as instruments do, and knows nothing of any plan."""

from __future__ import annotations

import random
import re
from pathlib import Path
from statistics import mean

import pytest

import demo.world as module
from demo import signature
from demo.clock import Clock, minute_of
from demo.station import BENCH, BOTTLES, COUNTER, DARK, OXYGEN_HIGH, PLAIN, PURE
from demo.world import CHECK_IN, PANEL, Cell, World


def world(seed: int = 1) -> World:
    made = World(random.Random(seed))
    made.bring(PLAIN)
    made.connect(OXYGEN_HIGH)
    return made


@pytest.mark.parametrize("gauge", [PANEL, CHECK_IN])
def test_a_gauge_errs_within_class_one(gauge):
    for true_bar in range(0, 301, 5):
        assert abs(gauge.shows(float(true_bar)) - true_bar) <= 3.15
        again = gauge.true_bar(gauge.shows(true_bar))
        assert again == pytest.approx(true_bar, abs=1.01 * gauge.step_bar)


def test_an_empty_cylinder_shows_nothing():
    assert PANEL.shows(0.0) == 0.0


def test_a_cell_set_on_damp_air_reads_high_on_dry_gas():
    # 19 degC, 65 %: 1.4 % water by the handbooks' tables, so 32.0 reads 32.0 * 20.9 / 20.65.
    cell = Cell(BENCH)
    cell.set_on_its_gas()
    chance = random.Random(3)
    shown = mean(cell.shows(0.32, chance) for _ in range(200))
    assert shown == pytest.approx(32.0 * 20.9 / 20.65 + 0.006 * 11.1, abs=0.05)


@pytest.mark.parametrize(("meter", "o2"), [(COUNTER, 0.20946), (PURE, 0.996)])
def test_a_cell_shows_what_it_was_set_to_on_its_gas(meter, o2):
    cell = Cell(meter)
    cell.set_on_its_gas()
    shown = mean(cell.shows(o2, random.Random(n)) for n in range(200))
    assert shown == pytest.approx(float(meter.shown), abs=0.03)


def test_what_goes_in_comes_out_of_the_bottle():
    made = world()
    vessel, bottle = made.vessels[PLAIN.serial], made.sources["o2"]
    before = vessel.contents.total_mol + bottle.contents.total_mol
    made.let_in(PLAIN.serial, "o2", 85.0, 20.0)
    assert vessel.contents.total_mol + bottle.contents.total_mol == pytest.approx(before, rel=1e-9)
    assert made.reads(PLAIN.serial) == 85.0


def test_a_bottle_gives_no_more_than_until_both_are_level():
    made = world()
    made.let_in(PLAIN.serial, "o2", 250.0, 20.0)
    assert made.vessels[PLAIN.serial].gauge_bar <= 189.3 + 1e-6


def test_bleeding_chills_and_the_gauge_climbs_again():
    made = world()
    made.let_out(PLAIN.serial, 40.0, chilled_k=25.0)
    assert made.reads(PLAIN.serial) == 40.0
    made.rest(PLAIN.serial)
    assert made.reads(PLAIN.serial) > 43.0


def test_bleeding_takes_mixed_gas():
    made = world()
    before = made.oxygen(PLAIN.serial)
    made.let_out(PLAIN.serial, 30.0)
    assert made.oxygen(PLAIN.serial) == pytest.approx(before, abs=1e-12)


def test_the_stream_follows_the_intake_meter_with_its_error():
    made = world()
    made.intake_error = 0.05
    gas = made.stream_in(PLAIN.serial, 0.347, "19C/65%", 220.0, 20.0)
    # 34.7 % held, 5 % more in truth; drying takes away the air's share of water, 1.1 %.
    assert gas.o2 == pytest.approx(0.347 * 1.05 / (1.0 - 0.011), abs=0.003)
    assert sum(gas.fractions) == pytest.approx(1.0)


def test_the_world_knows_no_plan_and_no_record():
    source = Path(module.__file__).read_text(encoding="utf-8")
    imported = re.findall(r"^from (\S+) import (.*)$", source, re.MULTILINE)
    rooms = {room for room, _ in imported}
    assert not {room for room in rooms if room.startswith(("blender.station", "blender.record"))}
    assert [names for room, names in imported if "planning" in room] == ["parse_gas_at"]


def test_every_cylinder_has_its_owner_and_serial_once():
    assert len({bottle.serial for bottle in BOTTLES}) == len(BOTTLES)
    assert all(bottle.owner for bottle in BOTTLES)


def test_a_signature_is_a_line_within_its_box():
    for bottle in BOTTLES:
        strokes = signature.draw(bottle.owner)
        assert strokes == signature.draw(bottle.owner)
        points = [point for stroke in strokes for point in stroke]
        assert all(0 <= x <= 1000 and 0 <= y <= 1000 for x, y in points)
        assert max(x for x, _ in points) - min(x for x, _ in points) > 700
    assert signature.draw(DARK.owner) != signature.draw(PLAIN.owner)


def test_the_clock_goes_only_forward():
    clock = Clock(minute_of("08:05"))
    assert clock.time == "08:05"
    clock.until(minute_of("08:00"))
    clock.wait(70)
    assert clock().iso == "2026-06-13T09:15:00+02:00"
