"""Where there is no room: a mark says so, and F1 shows the whole, in places and dialogs."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.content import Content
from textual.widgets import Input

from blender.station import people
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.dialogs.dialog import Dialog
from tui.dialogs.explain import Explain
from tui.dialogs.form import Form
from tui.plain import CUT, fit
from tui.widgets.fitted import MORE, cut
from tui.widgets.stopboard import StopBoard
from tui.widgets.word import Word

LONG = " ".join(f"word{number}" for number in range(150))


def explained(rig: Rig) -> str:
    screen = rig.terminal.screen
    assert isinstance(screen, Explain)
    return " ".join(" ".join(str(part.render()) for part in screen.query("Static")).split())


@given(st.text(st.characters(codec="utf-8"), max_size=80), st.integers(1, 30))
def test_what_is_cut_from_a_cell_is_marked(text: str, width: int) -> None:
    made = fit(text, width)
    assert made.rstrip() == fit(text, 200).rstrip() or made.rstrip().endswith(CUT)


@given(st.lists(st.text("abc ", min_size=1, max_size=30), min_size=1, max_size=9),
       st.integers(20, 60), st.integers(1, 6))  # fmt: skip
def test_what_does_not_fit_says_so(lines: list[str], width: int, height: int) -> None:
    whole = Content("\n").join(Content(line) for line in lines)
    made = cut(whole, width, height)
    assert len(made.wrap(width)) <= max(height, 1)
    assert (made.plain == whole.plain) or made.plain.endswith(MORE)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_long_message_takes_the_room_there_is_and_is_read_whole_by_f1(
    rig: Rig, size: tuple[int, int]
) -> None:
    async def main() -> None:
        async with rig.run(size) as pilot:
            rig.terminal.word("refused", LONG)
            await rig.settle(pilot)
            word = rig.terminal.screen.query_one(Word)
            assert word.size.height == (5 if size[1] == 24 else 8)
            assert MORE in rig.screen_text()
            assert "word149" not in rig.screen_text()
            await pilot.press("f1")
            await rig.settle(pilot)
            assert LONG in explained(rig)

    run(main)


def test_a_message_that_fits_has_no_mark(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run() as pilot:
            rig.terminal.word("done", " ".join(LONG.split()[:40]))
            await rig.settle(pilot)
            assert MORE not in rig.screen_text()
            assert "word39" in rig.screen_text()

    run(main)


def test_cautions_of_a_plan_come_before_it_and_are_never_cut_silently(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    assert shop.plan(fill).done

    async def main() -> None:
        async with rig.run() as pilot:
            panel: Any = rig.terminal.screen
            cautions = tuple(f"caution {number} {LONG[:160]}" for number in range(4))
            shown = replace(panel.fill, warnings=cautions)
            panel.query_one(StopBoard).show(shown, rig.terminal.units, rig.clock.us)
            await pilot.pause()
            text = rig.screen_text()
            assert "caution 0" in text
            assert MORE in text
            await pilot.press("f1")
            await rig.settle(pilot)
            assert "caution 3" in explained(rig)

    run(main)


def test_a_long_name_at_the_rack_is_marked(rig: Rig, shop: Shop) -> None:
    people.add_person(shop.station, shop.mara, name="Jory Wetherfield", role="customer",
                      certified="nitrox")  # fmt: skip
    shop.request(customer="Jory Wetherfield")

    async def main() -> None:
        async with rig.run():
            assert f"Jory Weth{CUT}" in rig.screen_text()

    run(main)


def test_a_long_plan_at_the_counter_is_scrolled_by_keys_it_names(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            counter: Any = rig.terminal.screen
            counter.hits = [{"kind": "cylinder", "key": str(n), "text": f"hit-{n}"}
                            for n in range(30)]  # fmt: skip
            counter.show()
            await rig.settle(pilot)
            assert "PgDn" in rig.screen_text()
            assert "hit-29" not in rig.screen_text()
            for _ in range(4):
                await pilot.press("pagedown")
            await pilot.pause()
            assert "hit-29" in rig.screen_text()

    run(main)


def test_f1_in_a_form_explains_its_field_and_keeps_what_is_typed(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+n")
            await rig.settle(pilot)
            form = rig.terminal.screen
            assert isinstance(form, Form)
            await rig.enter(pilot, "NEW-7")
            await rig.put(pilot, "12")
            await pilot.press("f1")
            await rig.settle(pilot)
            text = explained(rig)
            assert "Size" in text
            assert "80cuft@3000psi" in text
            assert "Leave; what was typed is kept" in text
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.terminal.screen is form
            assert form.answers["size"] == "12"
            assert isinstance(form.focused, Input)

    run(main)


@pytest.mark.parametrize(
    ("place", "key", "says"),
    [
        ("book", "alt+v", "Verify, against the label"),
        ("book", "alt+j", "Date or number"),
        ("office", "alt+k", "secret"),
        ("panel", "ctrl+g", "Go to that place"),
    ],
)
def test_f1_works_in_every_dialog(rig: Rig, shop: Shop, place: str, key: str, says: str) -> None:
    async def main() -> None:
        async with rig.run(place=place, who="manager") as pilot:
            await pilot.press(key)
            await rig.settle(pilot)
            dialog = rig.terminal.screen
            assert isinstance(dialog, Dialog)
            await pilot.press("f1")
            await rig.settle(pilot)
            assert says in explained(rig)
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.terminal.screen is dialog

    run(main)


def test_every_dialog_says_what_it_is_and_which_keys_work() -> None:
    for room in ("dialogs.batchboard", "dialogs.confirm", "dialogs.go", "dialogs.verify",
                 "dialogs.wayson", "widgets.signpad"):  # fmt: skip
        import_module(f"tui.{room}")
    assert len(Dialog.__subclasses__()) >= 7
    for kind in Dialog.__subclasses__():
        assert kind.HELP_TEXT, kind
        assert len(kind.KEYS) > 1, kind
