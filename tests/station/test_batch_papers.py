"""What the sheet of a batch states: who signed is not on it, who did not is."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.planning.options import Options
from blender.station.batch import BatchCylinder, plan_batch, request_batch
from blender.station.batch_papers import batch_view
from tests.station.shop import Shop


def _asked(shop: Shop) -> int:
    serials = ("C-1001", "C-1003", "D-7")
    cylinders = [BatchCylinder(one, "60bar@20C:EAN28", "analysed") for one in serials]
    facts = {"customer": "Kai Diver", "want": "230bar:EAN32"}
    number = int(request_batch(shop.station, shop.jo, cylinders=cylinders, **facts)["batch"])
    plan_batch(shop.station, shop.jo, number, Options())
    return number


def test_who_signed_is_not_on_it_and_who_did_not_is(shop: Shop) -> None:
    number = _asked(shop)
    for fill, serial in ((1, "C-1001"), (2, "C-1003")):
        shop.start(fill, serial)
        shop.reading(fill, "84.425bar")
        shop.reading(fill, "230bar")
        shop.analyse(fill, "32.1", serial=serial)
    assert shop.accept(1, "31.9").done
    made = batch_view(shop.station.record, number, shop.clock())
    assert (made.cylinders, [line.serial for line in made.lines]) == (3, ["C-1003", "D-7"])
    assert made.lines[0].holds == "EAN32.1 (analysed), 230.0 bar at 20.0 degC"
    assert made.lines[1].holds == "O2 28.0 % (analysed), 60.0 bar at 20.0 degC"
    assert [line.unsafe for line in made.lines] == [True, False]
    assert made.proof.seq == shop.seq()


def test_part_filled_cylinders_are_as_calculated_and_unsafe(shop: Shop) -> None:
    number = _asked(shop)
    shop.start(1, "C-1001")
    shop.reading(1, "84.425bar")
    shop.hold(1)
    line = batch_view(shop.station.record, number, shop.clock()).lines[0]
    assert (line.state, line.unsafe) == ("held", True)
    assert line.holds == "O2 49.1 % (calculated), 84.4 bar at 20.0 degC"


def test_a_batch_there_is_not_has_no_sheet(shop: Shop) -> None:
    with pytest.raises(InputError, match="batch"):
        batch_view(shop.station.record, 9, shop.clock())
