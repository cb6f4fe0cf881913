"""The terminal as a whole: the door, the lock, keys, themes, units, and what it never does."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from textual.widgets import Footer, Input

from blender.station import ruling
from tests.station.shop import NAMES, SECRET
from tests.tui.house import Rig, run, shop_at
from tests.tui.nasty import NASTY
from tui import keys
from tui.app import Terminal
from tui.dialogs.explain import Explain
from tui.keys import COMMANDS, PLACES
from tui.places.door import Door

TUI = Path(__file__).parents[2] / "tui"


def test_one_signs_in_by_the_keyboard(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.sign_in(pilot, NAMES["blender"])
            assert rig.terminal.current_mode == "panel"
            assert NAMES["blender"] in rig.screen_text()

    run(main)


def test_a_stranger_stays_outside(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            door = rig.terminal.screen
            assert isinstance(door, Door)
            for text in ("nobody", *NASTY):
                door.say("note", "")
                for typed in (text, SECRET):
                    door.query_one(Input).value = typed
                    await pilot.press("enter")
                    await rig.settle(pilot)
                assert rig.terminal.floor.actor is None
                assert rig.terminal.current_mode == "door"
                assert rig.said()[0] == "refused", text
                for key in ("alt+p", "alt+o", "ctrl+g"):
                    await pilot.press(key)
                assert rig.terminal.current_mode == "door"
                await pilot.press("escape")  # asks for a name again
                await rig.settle(pilot)

    run(main)


def test_an_idle_terminal_locks_and_shows_nothing_personal(rig: Rig) -> None:
    shop = shop_at(rig.location.parent)
    shop.filling()
    shop.station.record.close()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.put(pilot, "74.5 2")
            assert "Kai Diver" in rig.screen_text()
            rig.clock.turn(9)
            rig.terminal.lock_if_idle()
            assert rig.terminal.current_mode == "panel"
            rig.clock.turn(2)
            rig.terminal.lock_if_idle()
            await rig.settle(pilot)
            shown = rig.screen_text()
            assert rig.terminal.current_mode == "door"
            assert rig.terminal.floor.actor is None
            for name in ("Kai", *NAMES.values()):
                assert name not in shown
            assert "DO NOT BREATHE" in shown
            await rig.sign_in(pilot, NAMES["blender"])
            assert rig.terminal.screen.query_one(Input).value == "74.5 2"

    run(main)


def test_b3_the_secret_is_asked_for_at_each_signature_where_that_is_the_rule(rig: Rig) -> None:
    """The first signing takes name and secret, each later one the secret again; what was typed
    waits for it.
    """
    shop = shop_at(rig.location.parent)
    fill = shop.filling()
    ruling.set_rule(shop.station, shop.mara, "sign-each", "yes", reason="strict")
    before = shop.seq()
    rig.clock.us = shop.clock.us + 60_000_000

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "84.4 20")
            assert shop.last().kind == "fill.reading"
            assert shop.row(fill).state == "filling"
            await rig.enter(pilot, "230 20")
            assert rig.terminal.current_mode == "door"
            assert rig.terminal.floor.actor is None
            assert "Sign in for each signature here, then press Enter again." in rig.screen_text()
            assert shop.seq() == before + 1
            await rig.sign_in(pilot, NAMES["blender"])
            assert rig.terminal.current_mode == "panel"
            assert rig.terminal.screen.query_one(Input).value == "230 20"
            await pilot.press("enter")
            await rig.settle(pilot)

    run(main)
    assert shop.row(fill).state == "resting"
    assert shop.seq() == before + 2
    shop.station.record.close()


def test_a_shift_is_handed_over_and_fills_stay_where_they_stand(rig: Rig) -> None:
    shop = shop_at(rig.location.parent)
    fill = shop.filling()
    rig.clock.us = shop.clock.us + 60_000_000

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+l")
            await rig.settle(pilot)
            assert shop.row(fill).state == "filling"
            await rig.sign_in(pilot, NAMES["manager"])
            await rig.enter(pilot, "84.4 20")

    run(main)
    assert shop.last().sig is not None
    assert shop.last().sig["name"] == NAMES["manager"]
    shop.station.record.close()


def test_settings_persist(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+t", "alt+u")
            await rig.settle(pilot)

    run(main)
    again = Rig(rig.location, rig.clock)
    again.files = rig.files
    terminal = Terminal(again.house())
    assert terminal.theme == "day"
    assert terminal.units.imperial


@pytest.mark.parametrize("text", ["{", "[]", '{"theme": 3, "idle_minutes": 0}', "\x00"])
def test_settings_that_cannot_be_read_start_anew(rig: Rig, text: str) -> None:
    rig.files["settings.json"] = text
    terminal = Terminal(rig.house())
    assert terminal.theme == "night"
    assert terminal.settings.idle_minutes == 10


def test_keys_can_be_given_to_other_commands(rig: Rig) -> None:
    rig.files["keys.toml"] = '"panel.hold" = "f10"\n"all.units" = "alt+1, alt+2"\n'
    shop = shop_at(rig.location.parent)
    shop.filling()
    shop.station.record.close()
    rig.terminal = Terminal(rig.house())

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("f10")
            await rig.settle(pilot)
            assert "held" in rig.prompt()
            await pilot.press("escape", "alt+2")
            await rig.settle(pilot)
            assert rig.terminal.units.imperial

    run(main)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('"panel.hodl" = "f10"', "panel.hodl"),
        ('"panel.hold" = 3', "panel.hold"),
        ('"panel.hold" = "alt+m"', "alt+m is both"),
        ("nonsense", "keys.toml"),
    ],
)
def test_a_keymap_that_is_wrong_is_named(rig: Rig, text: str, said: str) -> None:
    rig.files["keys.toml"] = text
    assert said in Terminal(rig.house()).trouble


def test_no_command_is_on_a_key_that_terminals_send_as_another() -> None:
    """Many send alt+f as a word to the right, as they send alt+b as one to the left.

    alt+b is taken for what it is where the field is empty; a second such key would not be.
    """
    assert not [one.ident for one in COMMANDS if "alt+f" in one.key.split(",")]


def test_commands_are_one_list_without_clashes() -> None:
    idents = [command.ident for command in COMMANDS]
    assert len(idents) == len(set(idents))
    assert all(command.text and command.label for command in COMMANDS)
    assert {command.place for command in COMMANDS} <= {"all", *PLACES}
    assert keys.clashes({}) == []


def test_help_lists_every_key_that_works_here(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("f1")
            await rig.settle(pilot)
            screen = rig.terminal.screen
            assert isinstance(screen, Explain)
            listed = " ".join(str(part.render()) for part in screen.query("Static"))
            for command in keys.at("panel"):
                assert command.text in listed
            await pilot.press("escape")
            assert not isinstance(rig.terminal.screen, Explain)

    run(main)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_no_footer_overflows_and_nothing_scrolls_sideways(rig: Rig, size: tuple[int, int]) -> None:
    async def main() -> None:
        async with rig.run(size=size) as pilot:
            for place in PLACES:
                rig.terminal.action_place(place)
                await rig.settle(pilot)
                screen = rig.terminal.screen
                assert rig.terminal.current_mode == place
                assert screen.query_one(Footer).max_scroll_x == 0, place
                assert (screen.max_scroll_x, screen.max_scroll_y) == (0, 0), place

    run(main)


def test_the_letter_leads_to_every_place(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(who="manager") as pilot:
            for place in PLACES:
                await pilot.press("ctrl+g", place[0])
                await rig.settle(pilot)
                assert rig.terminal.current_mode == place

    run(main)


def test_every_place_says_what_must_not_be_breathed(rig: Rig) -> None:
    shop = shop_at(rig.location.parent)
    shop.reading(shop.filling(), "70bar")
    rig.clock.us = shop.clock.us
    shop.station.record.close()

    async def main() -> None:
        async with rig.run() as pilot:
            for place in PLACES:
                rig.terminal.action_place(place)
                await rig.settle(pilot)
                assert rig.terminal.current_mode == place
                assert "! 1 DO NOT BREATHE" in rig.screen_text().splitlines()[0], place

    run(main)


def test_a_small_terminal_says_so(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(size=(60, 20)) as pilot:
            await pilot.pause()
            assert "too small" in rig.screen_text()
            await pilot.resize_terminal(80, 24)
            await pilot.pause()
            assert "too small" not in rig.screen_text()

    run(main)


def test_the_palette_has_every_command_of_the_place(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("ctrl+p")
            await rig.settle(pilot)
            await rig.put(pilot, "psi")
            await rig.until(pilot, lambda: "Switch between bar" in rig.screen_text())
            await pilot.press("enter")
            await rig.until(pilot, lambda: rig.terminal.units.imperial)

    run(main)


def test_no_formatted_text_becomes_markup() -> None:
    """What is put together from parts goes through `plain`, never straight into a widget."""
    careless = {"Static", "Label", "Button", "notify", "update", "Collapsible", "Option"}
    for path in TUI.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            called = getattr(node.func, "id", getattr(node.func, "attr", ""))
            unsafe = isinstance(node.args[0], ast.JoinedStr)
            plain = any(word.arg == "markup" for word in node.keywords)
            assert not (called in careless and unsafe and not plain), f"{path}:{node.lineno}"
