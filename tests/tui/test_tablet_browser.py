"""The tablet in a real browser: a finger taps, writes and draws, and the record holds it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from blender.record import private, read
from blender.record.verify import verify
from blender.station.papers import label_view
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui import browser as browsers
from tests.tui.browser import Tab, browser, tab
from tests.tui.house import Rig, run, shop_at
from tests.tui.tablet_rig import Served, served

pytestmark = browsers.needed()
UPRIGHT = (768, 1024)


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    yield shop
    shop.station.record.close()


async def begin(here: Served, one: Tab, token: str) -> None:
    await one.page.goto(f"{here.url}/begin#{token}")
    assert token not in one.page.url  # nobody reads it off the screen or out of the history
    await one.page.tap("#begin")


async def says(one: Tab, words: str) -> None:
    """Wait for the page's own words: looked for from outside, since its policy forbids `eval`."""
    await one.page.locator("#words", has_text=words).wait_for()


async def draw_a_name(one: Tab) -> None:
    await one.sees("Draw your signature")
    found = one.shown.where("Draw your signature")
    assert found is not None
    y = found[1] + 5.0
    await one.draw([(12 + 0.3 * at, y + 2.0 * math.sin(at / 4)) for at in range(40)])
    await one.draw([(14 + 3.0 * at, y + 3.0) for at in range(6)])
    await one.sees("⠉")


def test_a_customer_reads_signs_with_a_finger_and_the_record_holds_it(shop: Shop) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with served(shop) as here, browser() as made, tab(made) as one, tab(made) as other:
            token = here.hand("sign", fill=fill)
            await begin(here, one, token)
            await one.sees("C-1001, for Kai Diver")
            assert one.shown.where("33 m / 108 ft")
            await one.tap("use psi, ft")
            await one.sees("108 ft / 33 m")
            await one.tap("I go on and analyse it")
            await one.sees("⌫")
            for key in "31.9":
                await one.tap(key)
            await one.sees("31.9 %")
            await one.tap("⌫")
            await one.sees("31. %")
            await one.tap("8")
            await one.tap("Go on")
            await one.sees("oxygen 31.8 %")
            await one.tap("I have read it: sign")
            await one.sees("Draw your signature")
            await one.tap("Your name", right=15)
            await one.page.keyboard.type("Kai Diver")
            await draw_a_name(one)
            await one.tap("  Sign")
            await one.sees("You signed for C-1001")
            assert one.errors == []  # neither of a script nor of the page's policy
            await one.tap("Close")
            await one.page.wait_for_selector("#closed", state="visible")
            await begin(here, other, token)
            await says(other, "used before")
            answer = await one.page.goto(f"{here.url}/")
            assert answer is not None
            assert answer.status in (401, 410)

    run(main)
    assert shop.row(fill).state == "accepted"
    with shop.station.record.read() as conn:
        entry = read.entry(conn, "QUAY-1", shop.row(fill).accepted_seq)
        assert entry is not None
        kept = private.get(conn, entry.data["private"])
    assert kept is not None
    assert kept["name"] == "Kai Diver"
    wave, line = kept["strokes"]
    assert len(wave) > 30  # finer than cells: it crossed 12 of them
    assert {y for _, y in line} == {line[0][1]}
    assert label_view(shop.station.record, fill).sealed_by == f"{NAMES['blender']} (tablet)"
    assert verify(shop.path).problems == []


def test_a_customer_registers_upright_and_signs_the_undertaking(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, browser() as made, tab(made, *UPRIGHT) as one:
            await begin(here, one, here.hand("register"))
            await one.sees("Who are you?")
            await one.tap("Go on")
            await one.sees("Type your name first")
            await one.tap("Your name", right=15)
            await one.page.keyboard.type("Zoë [/] Quist")
            await one.tap("Telephone", right=15)
            await one.page.keyboard.type("+49 30 23125 017")
            await one.tap("Go on")
            await one.sees("The cylinder's own marking and local rules come first.")
            await one.tap("I have read it: sign")
            await draw_a_name(one)
            await one.tap("Clear")
            await one.until(lambda: one.shown.where("⠉") is None, "an empty field")
            await draw_a_name(one)
            await one.tap("  Sign")
            await one.sees("You are registered as Zoë [/] Quist")
            assert one.errors == []

    run(main)
    with shop.station.record.read() as conn:
        (person,) = [row for row in read.people(conn) if row.name == "Zoë [/] Quist"]
        rows = {what: content for _, what, content in private.rows_of(conn, person.person)}
    assert (person.role, person.certified) == ("customer", "")
    assert rows["contact"]["phone"] == "+49 30 23125 017"
    assert len(rows["undertaking"]["strokes"]) == 2
    assert verify(shop.path).problems == []


def test_staff_sign_in_at_the_tablet_and_no_other_page_drives_it(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, browser() as made, tab(made) as one:
            await begin(here, one, here.hand("staff"))
            await one.sees("Who is there?")
            await one.page.keyboard.type(NAMES["blender"])
            await one.page.keyboard.press("Enter")
            await one.sees("Secret of Jo Blend")
            await one.page.keyboard.type(SECRET)
            await one.page.keyboard.press("Enter")
            await one.sees("No fill is open.")
            assert SECRET not in one.shown.text()
            assert one.errors == []
            await one.page.goto("data:text/html,<p>another page in the same browser")
            tried = "url => new Promise(told => { const it = new WebSocket(url); it.onopen = () =>"
            tried += " told('open'); it.onerror = () => told('refused'); })"
            at = here.url.replace("http", "ws")
            assert await one.page.evaluate(tried, f"{at}/ws") == "refused"
            await one.page.set_content(f"<iframe src='{here.url}/'></iframe>")
            await one.until(lambda: len(one.page.frames) == 2, "a frame")
            assert await one.page.frames[1].query_selector("#terminal") is None

    run(main)


def test_a_new_code_opened_in_the_tab_of_an_old_one_is_taken(shop: Shop) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with served(shop) as here, browser() as made, tab(made) as one, tab(made) as other:
            old = here.hand("sign", fill=fill)
            await begin(here, one, old)
            await one.sees("C-1001, for Kai Diver")
            await begin(here, other, old)
            await says(other, "used before")
            await other.page.goto(f"{here.url}/begin#{here.hand('sign', fill=fill)}")
            await other.page.wait_for_url(lambda url: "#" not in url)
            await other.page.tap("#begin")
            await other.sees("C-1001, for Kai Diver")

    run(main)
