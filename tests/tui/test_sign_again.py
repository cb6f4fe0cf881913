"""A signature that was refused is asked for again at once, its secret unseen."""

from __future__ import annotations

import pytest
from textual.widgets import Input

from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.forms import fill_form, is_unsigned
from tests.tui.house import Rig, run
from tests.tui.test_book_mending import to_story


@pytest.mark.parametrize(
    ("who", "secret", "why"),
    [("Mara Lnde", SECRET, "belong together"), (NAMES["manager"], "nonsense", "belong together"),
     (NAMES["blender"], SECRET, "needs manager")],
)  # fmt: skip
def test_what_is_typed_after_a_wrong_signer_is_never_seen(
    rig: Rig, shop: Shop, who: str, secret: str, why: str
) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book", size=(120, 40)) as pilot:
            await to_story(rig, pilot)
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "reading", "32.4", "", "misread", who, secret, stay=True)
            assert is_unsigned(rig)
            assert why in rig.screen_text()
            focused = rig.terminal.screen.focused
            assert isinstance(focused, Input)
            assert focused.password  # the keyboard is in the hidden field
            for key in SECRET:
                await pilot.press("space" if key == " " else key)
            await rig.settle(pilot)
            assert focused.value == SECRET
            assert SECRET not in rig.screen_text()
            await fill_form(rig, pilot, NAMES["manager"], SECRET)
            assert "reading 32.1 -> 32.4" in rig.said()[1], rig.said()

    run(main)
    assert [one.kind for one in shop.entries()].count("fill.amended") == 1


def test_left_it_enters_nothing_and_says_why(rig: Rig, shop: Shop) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book", size=(120, 40)) as pilot:
            await to_story(rig, pilot)
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "reading", "32.4", "", "misread", "Nobody", SECRET)
            assert rig.said()[0] == "refused"

    run(main)
    assert "fill.amended" not in [one.kind for one in shop.entries()]
