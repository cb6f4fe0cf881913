"""At the Panel a set's other post is asked for as soon as the first was analysed."""

from __future__ import annotations

from tests.tui.house import Rig, run, shop_at


def test_the_other_post_is_asked_for_before_anybody_signs(rig: Rig) -> None:
    shop = shop_at(rig.location.parent)
    rig.clock.us = shop.clock.us + 60_000_000
    facts = {"cylinder": "T-1+T-2", "have": "0bar:air", "residual": "unknown"}
    fill = shop.request(customer="Lena Tief", want="200bar:EAN32", **facts)
    shop.plan(fill)
    assert shop.start(fill, "T-1+T-2", isolator="open").done
    for step in shop.steps(fill):
        if step.action == "add":
            shop.reading(fill, f"{step.to_mbar / 1000}bar")

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "T-1")
            await rig.enter(pilot, "A1 32.0")
            assert shop.row(fill).state == "analysed", rig.said()
            assert "other post, T-2" in rig.prompt()
            assert "analyse 2nd post" in rig.screen_text()
            assert "Now the other post, T-2" in rig.said()[1]
            await rig.enter(pilot, "T-2")
            await rig.enter(pilot, "A1 32.1")
            assert rig.prompt().startswith("Enter goes to the Counter"), rig.prompt()
            assert "to be signed" in rig.screen_text()

    run(main)
    shop.station.record.close()
