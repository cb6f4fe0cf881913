"""A mistyped analysis or residual is corrected by who entered it, before anything rests on it."""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError, RefusedError
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import equipment, slips
from blender.station.answer import Answer
from blender.station.book import story
from blender.station.panel import panel_fill
from blender.station.printing import print_receipt
from blender.station.recomputing import recompute
from tests.station.shop import Shop, gate

LEFT_OUT = {"seq", "fill", "started_us", "requested_us"}


def reading(shop: Shop, fill: int, text: str, helium: str | None = None, by: Any = None) -> Answer:
    return slips.correct_analysis(shop.station, by or shop.jo, fill, reading=text, helium=helium)


def left(shop: Shop, fill: int, have: str, residual: str = "", by: Any = None) -> Answer:
    return slips.correct_residual(shop.station, by or shop.jo, fill, have=have, residual=residual)


def stands(shop: Shop, fill: int) -> dict[str, Any]:
    return {k: v for k, v in shop.row(fill).model_dump().items() if k not in LEFT_OUT}


def whole(shop: Shop) -> None:
    """What the record says comes out of its entries alone, and every figure out of its typing."""
    before = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == before
    assert verify(shop.path).ok
    assert recompute(shop.station.record)["differences"] == []


def test_a_mistyped_analysis_of_the_mix_is_put_right_and_the_old_one_kept(shop: Shop) -> None:
    slipped, right = shop.analysed("23.1"), shop.analysed("32.1")
    old = next(one for one in shop.entries() if one.kind == "fill.analysed")
    assert shop.row(slipped).decision != "accept"
    done = reading(shop, slipped, "32.1")
    assert done.done
    assert done.facts["decision"] == "accept"
    assert done.facts["corrects"] == old.seq
    assert stands(shop, slipped) == stands(shop, right)
    new = shop.last()
    assert new.kind == "fill.analysis-corrected"
    assert (new.data["corrects"], new.data["was"]["reading"]) == (old.seq, "23.1")
    assert next(one for one in shop.entries() if one.seq == old.seq).digest == old.digest
    told = [(row.kind, row.text) for row in shop.exceptions(slipped)]
    assert ("analysis-corrected", f"23.1 -> 32.1 (entry {old.seq})") in told
    analyses = story(shop.station.record, slipped)["analyses"]
    assert [(row["typed"], row["stands"]) for row in analyses] == [("23.1", False), ("32.1", True)]
    assert shop.accept(slipped, "31.8").done  # the diver's reading is held against the right one
    whole(shop)


def test_it_is_worked_out_with_the_setting_the_analyser_had_then(shop: Shop) -> None:
    slipped, right = shop.analysed("23.1"), shop.analysed("32.1")
    equipment.calibrate(shop.station, shop.jo, name="A1", gas="oxygen", reading="97.0")
    reading(shop, slipped, "32.1")
    assert shop.row(slipped).o2_ppm == shop.row(right).o2_ppm
    whole(shop)


def test_a_slip_that_made_a_recheck_ends_it(shop: Shop) -> None:
    fill = shop.analysed("32.1")
    assert shop.analyse(fill, "23.1").state == "recheck"
    assert reading(shop, fill, "32.2").state == "analysed"
    whole(shop)


def test_a_receipt_printed_meanwhile_is_in_nobodys_way(shop: Shop) -> None:
    fill = shop.analysed("23.1")
    print_receipt(shop.station.record, fill, shop.clock(), lambda _: "r.pdf", shop.station.keys)
    assert reading(shop, fill, "32.1").done


def test_nobody_corrects_anothers_and_a_refusal_is_entered(shop: Shop) -> None:
    fill = shop.analysed("23.1")
    answer = reading(shop, fill, "32.1", by=shop.mara)
    assert not answer.done
    assert gate(answer, "same-person")[0] == "stop"
    assert shop.last().data["action"] == "correct_analysis"
    assert shop.row(fill).o2_ppm == pytest.approx(231_000, abs=3_000)


def test_once_signed_or_planned_anew_it_is_too_late(shop: Shop) -> None:
    fill, _ = shop.accepted()
    assert not reading(shop, fill, "32.2").done
    other = shop.analysed("23.1")
    shop.plan(other)
    assert shop.row(other).state == "correcting"
    assert not reading(shop, other, "32.1").done


def test_what_cannot_be_read_or_changes_nothing_is_said(shop: Shop) -> None:
    fill, count = shop.analysed("32.1"), shop.seq()
    for text in ("", "32.1", "lots", "132"):
        with pytest.raises(InputError):
            reading(shop, fill, text)
    assert shop.seq() == count


def test_an_analysis_of_what_is_left_is_corrected_and_planned_from_anew(shop: Shop) -> None:
    slipped = shop.request(have="60bar@20C:EAN28", residual="stated")
    right = shop.request(have="60bar@20C:EAN28", residual="stated")
    for fill, text in ((slipped, "82.0"), (right, "28.0")):
        shop.analyse(fill, text)
        shop.plan(fill)
    done = reading(shop, slipped, "28.0")
    assert done.state == "requested"
    shop.plan(slipped)
    assert stands(shop, slipped) == stands(shop, right)
    assert [row.to_mbar for row in shop.steps(slipped)] == [
        row.to_mbar for row in shop.steps(right)
    ]
    whole(shop)


def test_what_was_stated_to_be_left_is_corrected_before_gas_goes_in(shop: Shop) -> None:
    slipped = shop.request(have="60bar@20C:EAN82", residual="stated")
    right = shop.request(have="60bar@20C:EAN28", residual="label")
    shop.plan(right)
    assert left(shop, slipped, "60bar@20C:EAN28", "label").done
    assert shop.last().data["was"] == {"have": "60bar@20C:EAN82", "residual": "stated"}
    shop.plan(slipped)
    assert stands(shop, slipped) == stands(shop, right)
    whole(shop)


def test_once_gas_goes_in_what_was_left_is_no_longer_corrected(shop: Shop) -> None:
    fill = shop.filling()
    assert not left(shop, fill, "70bar@20C:EAN28").done
    assert not reading(shop, fill, "28.0").done
    done = shop.analysed("32.1", cylinder="C-1003")
    answer = left(shop, done, "70bar@20C:EAN28")
    assert "gas was let in" in answer.text


def test_where_its_gas_was_analysed_the_pressure_alone_is_corrected(shop: Shop) -> None:
    fill = shop.request(have="160bar@20C:EAN28", residual="stated")
    shop.analyse(fill, "28.0")
    with pytest.raises(InputError, match="alone"):
        left(shop, fill, "60bar@20C:EAN28")
    known = shop.row(fill).have_typed.partition(":")[2]
    assert left(shop, fill, "60bar@18C").done
    row = shop.row(fill)
    assert (row.gauge_mbar, row.temp_mk, row.residual) == (60_000, 291_150, "analysed")
    assert row.have_typed.partition(":")[2] == known
    whole(shop)


def test_the_panel_knows_what_can_be_corrected(shop: Shop) -> None:
    record = shop.station.record
    fill = shop.request(residual="stated")
    assert panel_fill(record, fill).mends == "residual"
    shop.analyse(fill, "28.0")
    assert panel_fill(record, fill).mends == "analysis"
    shop.plan(fill)
    assert panel_fill(record, fill).mends == "analysis"
    shop.start(fill)
    assert panel_fill(record, fill).mends == ""
    done = shop.analysed("32.1", cylinder="C-1003")
    assert panel_fill(record, done).mends == "analysis"


def test_an_auditor_corrects_nothing(shop: Shop) -> None:
    fill = shop.analysed("32.1")
    with pytest.raises(RefusedError):
        reading(shop, fill, "32.2", by=shop.ada)


def test_a_plan_made_on_a_mistyped_residual_is_over(shop: Shop) -> None:
    fill = shop.request(have="60bar@20C:EAN82", residual="stated")
    assert shop.plan(fill).done
    assert shop.steps(fill)
    assert left(shop, fill, "60bar@20C:EAN28").state == "requested"
    assert shop.steps(fill) == []
    assert not panel_fill(shop.station.record, fill).plan
