"""More open fills than the list has rows: the one at hand is seen, the others are counted."""

from __future__ import annotations

from blender.record.glance import glance
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.keys import COMMANDS
from tui.places.door import inside


def many(shop: Shop) -> list[int]:
    """Fifteen open fills, gas going into the last."""
    fills = [shop.request(cylinder=serial) for serial in ("C-1001", "C-1003", "D-7") * 5]
    shop.plan(fills[-1])
    assert shop.start(fills[-1], "D-7").done
    return fills


def rack(rig: Rig) -> list[str]:
    return [line[:30].rstrip() for line in rig.screen_text().splitlines()[1:19]]


def test_the_list_shows_the_one_at_hand_and_counts_the_others(rig: Rig, shop: Shop) -> None:
    fills = many(shop)

    async def main() -> None:
        async with rig.run() as pilot:
            seen = "\n".join(rack(rig))
            assert " 7 below, 1 FILLING" in seen
            assert sum(line.startswith("▌") for line in rack(rig)) == 2
            await pilot.press("up")  # round to the last
            await rig.settle(pilot)
            assert rig.terminal.screen.focused_fill == fills[-1]
            seen = "\n".join(rack(rig))
            assert " 7 above" in seen
            assert "FILLING" not in seen
            assert "▌#15 D-7" in seen
            for _ in range(4):
                await pilot.press("up")
            await rig.settle(pilot)
            seen = "\n".join(rack(rig))
            assert " 3 above, 4 below, 1 FILLING" in seen
            assert "▌" in seen

    run(main)


def test_as_many_as_fit_need_no_count(rig: Rig, shop: Shop) -> None:
    for _ in range(9):
        shop.request()

    async def main() -> None:
        async with rig.run():
            assert not any(" above" in line or " below" in line for line in rack(rig))

    run(main)


def test_at_the_door_where_gas_goes_in_comes_first(rig: Rig, shop: Shop) -> None:
    many(shop)
    lines = inside(glance(str(rig.location)), rig.clock().us).plain.splitlines()
    assert "filling" in lines[1]
    assert lines[-1] == "and 3 more"


def test_a_fill_without_a_function_key_has_a_number_that_turns_to_it(rig: Rig, shop: Shop) -> None:
    fills = many(shop)

    async def main() -> None:
        async with rig.run() as pilot:
            assert "↑↓ Fill" in rig.screen_text()  # in the footer, however many there are
            await pilot.press("f9")
            await rig.settle(pilot)
            await rig.put(pilot, "#9")
            assert "turns to D-7" in rig.screen_text()
            await rig.enter(pilot, "")
            assert rig.terminal.screen.focused_fill == fills[8]
            assert "▌#9 D-7" in "\n".join(rack(rig))
            await rig.enter(pilot, "#10")
            assert rig.terminal.screen.focused_fill == fills[9]
            await rig.enter(pilot, "#16")
            assert rig.said() == ("refused", "No open fill has number 16 in the list.")
            await pilot.press("down")
            await rig.settle(pilot)
            assert rig.terminal.screen.focused_fill == fills[10]

    run(main)


def test_a_key_of_the_panels_means_nothing_else_elsewhere() -> None:
    """alt+h holds a fill; alt+digit, alt+b and alt+f reach no terminal as they were pressed."""
    assert [one.ident for one in COMMANDS if one.key == "alt+h"] == ["panel.hold"]
    unfit = [f"alt+{char}" for char in "0123456789f"]
    assert not [one.ident for one in COMMANDS if set(one.key.split(",")) & set(unfit)]
