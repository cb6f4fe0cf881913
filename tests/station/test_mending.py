"""A mistyped reading is corrected by a new entry, and nothing of its effect remains.

Every corrected fill is compared with one where the slip was never made.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from blender.errors import RefusedError
from blender.record import read
from blender.record.rebuild import rebuild
from blender.station import equipment, export, mending, supplies
from blender.station.answer import Answer
from blender.station.book import story
from tests.station.shop import Shop, gate

LEFT_OUT = {"seq", "started_us", "requested_us", "resumes_to"}


def correct(shop: Shop, fill: int, at: str, temperature: str = "20C", **more: Any) -> Answer:
    by = more.pop("by", None) or shop.jo
    return mending.correct_reading(shop.station, by, fill, at=at, temperature=temperature, **more)


def stands(shop: Shop, fill: int) -> dict[str, Any]:
    return {k: v for k, v in shop.row(fill).model_dump().items() if k not in LEFT_OUT}


def bottles(shop: Shop) -> dict[str, int]:
    with shop.station.record.read() as conn:
        return {row.name: row.content_umol for row in read.supplies(conn)}


def used(shop: Shop, fill: int) -> tuple[float, float, float]:
    view = export.log_view(shop.station.record, "2026-11-25", "2026-11-26", shop.clock())
    line = next(line for line in view.lines if line.fill == fill)
    return line.oxygen_mol, line.helium_mol, line.top_mol


def bank(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="150bar")


def same(shop: Shop, slip: Callable[[int], None], right: Callable[[int], None]) -> int:
    """Fill two cylinders, one with a slip, one without; all that the record holds is equal."""
    one, other = shop.filling(), shop.filling()
    start = bottles(shop)
    slip(one)
    gone = {name: start[name] - left for name, left in bottles(shop).items()}
    middle = bottles(shop)
    right(other)
    assert gone == {name: middle[name] - left for name, left in bottles(shop).items()}
    first, second = stands(shop, one), stands(shop, other)
    assert first | {"fill": 0} == second | {"fill": 0}
    assert used(shop, one) == pytest.approx(used(shop, other), abs=1e-9)
    return one


def test_a_digit_swapped_below_the_stop(shop: Shop) -> None:
    bank(shop)

    def slip(fill: int) -> None:
        assert not shop.reading(fill, "68.4bar").facts["closes"]
        answer = correct(shop, fill, "84.425bar")
        assert answer.done
        assert answer.facts["closes"]
        assert "68.4bar 20C was a slip" in answer.text

    fill = same(shop, slip, lambda fill: shop.reading(fill, "84.425bar"))
    assert shop.moles(fill)[0] == pytest.approx(0.28 * 30.497 + 12.664, abs=0.01)


def test_an_overshoot_that_was_none(shop: Shop) -> None:
    bank(shop)

    def slip(fill: int) -> None:
        over = shop.reading(fill, "94.425bar")
        assert over.facts["warnings"][0]["code"] == "beyond-stop"
        assert correct(shop, fill, "84.425bar").facts["warnings"] == []

    fill = same(shop, slip, lambda fill: shop.reading(fill, "84.425bar"))
    noted = {row.kind: row for row in shop.exceptions(fill)}
    assert set(noted) == {"beyond-stop", "reading-corrected"}
    assert noted["beyond-stop"].text.startswith(f"corrected by entry {shop.row(fill).seq}: 94.4 ")
    assert noted["reading-corrected"].text == "94.425bar 20C -> 84.425bar 20C"


def test_a_slip_that_closed_the_last_step(shop: Shop) -> None:
    bank(shop)

    def fill_up(fill: int, *, slip: bool) -> None:
        shop.reading(fill, "84.425bar")
        if slip:
            assert shop.reading(fill, "230bar").state == "resting"
            assert correct(shop, fill, "203bar").state == "filling"
        else:
            shop.reading(fill, "203bar")

    fill = same(shop, lambda f: fill_up(f, slip=True), lambda f: fill_up(f, slip=False))
    assert shop.reading(fill, "230bar").state == "resting"
    assert shop.analyse(fill, "32.1").done


def test_a_slip_that_emptied_the_bottle_gives_back_what_was_there(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="10L", at="150bar")
    fill = shop.filling()
    (full,) = bottles(shop).values()
    shop.reading(fill, "224.4bar")
    assert bottles(shop) == {"o1": 0}
    correct(shop, fill, "60bar")
    assert bottles(shop) == {"o1": full}


def test_a_temperature_mistyped(shop: Shop) -> None:
    def slip(fill: int) -> None:
        shop.reading(fill, "85.163bar", "3C")
        correct(shop, fill, "85.163bar", "30C")

    same(shop, slip, lambda fill: shop.reading(fill, "85.163bar", "30C"))


def test_a_wall_for_a_gas_leaves_everything_as_it_was(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "70bar", "21C", gauge="G1")
    before = stands(shop, fill)
    shop.reading(fill, "84.425bar", "25C", gauge="G2")
    answer = correct(shop, fill, "84.425bar", "25C", kind="wall")
    assert not answer.facts["closes"]
    assert stands(shop, fill) == before
    assert shop.reading(fill, "84.425bar").facts["closes"]


def test_a_wall_after_a_rest_counts_from_when_it_was_read(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(20)
    shop.reading(fill, "190bar", "18C", "room")
    shop.clock.turn(20)
    answer = correct(shop, fill, "229bar", "18C", kind="room")
    assert answer.facts["warnings"][0]["code"] == "temperature-not-gas"


def test_a_correction_is_corrected_in_turn(shop: Shop) -> None:
    bank(shop)

    def slip(fill: int) -> None:
        shop.reading(fill, "94.4bar")
        correct(shop, fill, "48.4bar", kind="wall")
        correct(shop, fill, "74.4bar")
        correct(shop, fill, "84.425bar")

    fill = same(shop, slip, lambda fill: shop.reading(fill, "84.425bar"))
    told = story(shop.station.record, fill)
    marks = [r["corrected_by"] for r in told["readings"]]
    seqs = [r["seq"] for r in told["readings"]]
    assert marks == [*seqs[1:], None]
    corrected = [row.text for row in shop.exceptions(fill) if row.kind == "reading-corrected"]
    assert corrected == [
        "94.4bar 20C -> 48.4bar 20C", "48.4bar 20C -> 74.4bar 20C", "74.4bar 20C -> 84.425bar 20C",
    ]  # fmt: skip


def test_a_second_slip_after_a_corrected_one(shop: Shop) -> None:
    bank(shop)

    def slip(fill: int) -> None:
        shop.reading(fill, "94.4bar")
        correct(shop, fill, "70bar")
        shop.reading(fill, "94.4bar")
        correct(shop, fill, "84.425bar")

    def right(fill: int) -> None:
        shop.reading(fill, "70bar")
        shop.reading(fill, "84.425bar")

    same(shop, slip, right)


def test_a_drain_misread(shop: Shop) -> None:
    rich = {"have": "180bar:EAN40", "want": "200bar:EAN32"}
    one, other = shop.filling(**rich), shop.filling(**rich, cylinder="C-1003")
    shop.reading(one, "11.1bar")
    answer = correct(shop, one, "111.1bar")
    assert answer.facts["closes"]
    shop.reading(other, "111.1bar")
    assert shop.moles(one) == shop.moles(other)
    assert shop.reading(one, "111.4bar").facts["closes"]


def test_corrected_while_held_it_stays_held(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "94.4bar")
    shop.hold(fill)
    assert not shop.resume(fill, "84.4bar").done
    answer = correct(shop, fill, "84.425bar")
    assert (answer.done, answer.state, shop.row(fill).resumes_to) == (True, "held", "filling")
    assert shop.resume(fill, "84.4bar").state == "filling"
    assert shop.reading(fill, "230bar").facts["holds"]["o2"] == pytest.approx(0.32, abs=1e-4)


def test_held_while_resting_by_a_slip(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    shop.reading(fill, "230bar")
    shop.hold(fill)
    correct(shop, fill, "203bar")
    assert shop.row(fill).resumes_to == "filling"
    assert shop.resume(fill, "203bar").state == "filling"


LATER: list[tuple[str, Callable[[Shop, int], object], str]] = [
    ("resume", lambda s, f: (s.hold(f), s.resume(f, "84.4bar")), "fill.resumed"),
    ("analysis", lambda s, f: (s.hold(f), s.analyse(f, "49")), "fill.residual"),
    ("plan", lambda s, f: s.plan(f), "fill.planned"),
    ("quarantine", lambda s, f: (s.quarantine(f), s.release(f)), "fill.quarantined"),
]


@pytest.mark.parametrize(("name", "later", "kind"), LATER, ids=[name for name, _, _ in LATER])
def test_too_late(shop: Shop, name: str, later: Callable[[Shop, int], object], kind: str) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    later(shop, fill)
    before = stands(shop, fill)
    answer = correct(shop, fill, "83bar")
    assert not answer.done
    assert gate(answer, "order")[0] == "stop"
    assert kind in answer.text
    assert "analyse what is in it, then plan again" in answer.text
    assert stands(shop, fill) == before
    last = shop.last()
    assert (last.kind, last.data["action"]) == ("fill.refused", "correct_reading")
    assert last.data["given"]["typed"]["at"] == "83bar", name


@pytest.mark.parametrize("state", ["requested", "filling", "analysed", "rejected"])
def test_nothing_to_correct(shop: Shop, state: str) -> None:
    fill = {
        "requested": shop.request,
        "filling": shop.filling,
        "analysed": shop.analysed,
        "rejected": lambda: shop.reject(shop.rested()).fill,
    }[state]()
    answer = correct(shop, fill, "83bar")
    assert (answer.done, answer.state) == (False, state)
    assert gate(answer, "order")[0] == "stop"


def test_who_may_read_may_correct(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "94bar")
    with pytest.raises(RefusedError):
        correct(shop, fill, "84bar", by=shop.ada)
    assert correct(shop, fill, "84bar", by=shop.mara).done


def test_a_rebuilt_record_says_the_same(shop: Shop) -> None:
    bank(shop)
    fill = shop.filling()
    shop.reading(fill, "94.4bar")
    correct(shop, fill, "84.425bar")
    before = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == before


def test_a_bottle_read_since_is_as_it_was_read(shop: Shop) -> None:
    """Its own gauge counts for more than what is reckoned from the cylinder's."""
    bank(shop)
    fill = shop.filling()
    shop.reading(fill, "94.4bar")
    supplies.read_supply(shop.station, shop.mara, "o1", at="140bar")
    read_then = bottles(shop)
    correct(shop, fill, "74.425bar")
    assert bottles(shop) == read_then
    correct(shop, fill, "84.425bar")
    assert bottles(shop) == read_then
    assert shop.reading(fill, "230bar").done


def test_a_correction_of_a_correction_is_of_the_moment_it_was_first_read(shop: Shop) -> None:
    fill = shop.rested()
    shop.clock.turn(20)
    shop.reading(fill, "190bar", "18C", "room")
    shop.clock.turn(20)
    correct(shop, fill, "219bar", "18C", kind="room")
    answer = correct(shop, fill, "229bar", "18C", kind="room")
    assert answer.facts["warnings"][0]["code"] == "temperature-not-gas"
