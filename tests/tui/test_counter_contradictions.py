"""What is typed at the Counter against what the record knows: said before anything is entered."""

from __future__ import annotations

import pytest

from blender.station import requesting, story_facts
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.places.counter_typed import left, left_text
from tui.shown import Units


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("60 32.4", ""),
        ("60 21.0", "O2 21.0 % is not the 32.1 % analysed then"),
        ("60 EAN50", "O2 50.0 % is not the 32.1 % analysed then"),
        ("250 32.1", "250.0 bar is more than the 230.0 bar"),
        ("0", ""),
    ],
)
def test_what_is_left_is_held_against_what_went_out(
    rig: Rig, shop: Shop, typed: str, says: str
) -> None:
    number, label = shop.accepted()
    shop.collect(number, label)

    async def main() -> None:
        async with rig.run(place="counter", size=(120, 40)) as pilot:
            rig.terminal.remember(analyser="A1")
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, typed)
            kind, told = rig.said()
            assert says in told
            assert (kind == "mind") is bool(says), told

    run(main)


def test_more_than_the_working_pressure_is_refused_before_it_is_entered(
    rig: Rig, shop: Shop
) -> None:
    """C-1001 is marked WP 232 bar."""
    before = shop.seq()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")
            for text in ("C-1001", "60 28.1", "Kai", "260 EAN32"):
                await rig.enter(pilot, text)
            kind, told = rig.said()
            assert kind == "refused"
            assert "Nothing was entered" in told
            assert "working pressure 232.0 bar: too high" in told

    run(main)
    assert shop.seq() == before


def test_a_card_for_less_is_asked_for_at_the_request(rig: Rig, shop: Shop) -> None:
    """Otto's card on record is for air."""

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")
            for text in ("C-1001", "60 28.1", "Otto", "230 EAN32"):
                await rig.enter(pilot, text)
            assert "for air only. Shown a nitrox card?" in rig.prompt()
            await rig.enter(pilot, "yes")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.row(1).state == "planned"


def test_a_request_on_the_command_line_says_the_same(shop: Shop) -> None:
    number, label = shop.accepted()
    shop.collect(number, label)
    answer = requesting.request(
        shop.station, shop.jo, cylinder="C-1001", customer="Otto Luft", have="60bar:air",
        residual="stated", want="260bar:EAN32",
    )  # fmt: skip
    minds = answer.facts["minds"]
    assert [mind.partition(":")[0] for mind in minds[:2]] == ["working-pressure", "certification"]
    assert "not the 32.1 % analysed then" in minds[2]
    assert all(mind in answer.text for mind in minds)


def test_a_state_that_changed_elsewhere_is_not_left_standing(rig: Rig, shop: Shop) -> None:
    fill = shop.request()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            assert f"Fill {fill} of this cylinder is requested" in rig.said()[1]
            shop.plan(fill)  # at another terminal
            rig.terminal.screen.tick()
            await rig.settle(pilot)
            assert rig.said() == ("note", f"Fill {fill} is planned now.")
            assert "is planned. Enter goes to the Panel" in rig.prompt()

    run(main)


def test_an_analysis_without_an_analyser_says_how_to_name_one() -> None:
    told = left_text(left("60 28.1", Units(), "", ""), Units())
    assert told.endswith("analysed now (put the analyser's name before the O2)")


def test_the_story_says_who_signed_for_whom(shop: Shop) -> None:
    fill = shop.analysed()
    answer = shop.accept(fill, "31.8", name="Uma Neu")
    assert "recorded as representative" in answer.text
    with shop.station.record.read() as conn:
        signed = story_facts.signatures(conn, shop.entries())
    (diver,) = [one for one in signed if one["role"] == "customer"]
    assert diver["representative"] is True
