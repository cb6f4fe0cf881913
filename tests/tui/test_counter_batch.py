"""A batch by its keys: one line a cylinder, the banks told beforehand, and its board."""

from __future__ import annotations

from textual.widgets import DataTable

from blender.station import batch, equipment
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.dialogs.batchboard import BatchBoard


def test_a_batch_from_its_first_line_to_its_board(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")
            await pilot.press("alt+a")
            await rig.settle(pilot)
            await rig.enter(pilot, "200 EAN32 for Kai")
            await rig.enter(pilot, "C-1001 60 28.1")
            await rig.enter(pilot, "C-1003")
            assert "what is left" in rig.prompt()
            await rig.enter(pilot, "0")
            await rig.enter(pilot, "C-1003 0")
            assert rig.said()[0] == "refused"
            rig.terminal.screen.query_one("#field").value = ""
            await rig.enter(pilot, "")
            assert "banks are enough" in rig.said()[1], rig.said()
            await rig.enter(pilot, "")
            board = rig.terminal.screen
            assert isinstance(board, BatchBoard)
            await rig.settle(pilot)
            assert board.query_one(DataTable).row_count == 2
            assert "NOT YET" in rig.screen_text()
            await pilot.press("alt+g")
            await rig.settle(pilot)
            assert len(rig.papers) == 2
            await pilot.press("alt+s")
            await rig.settle(pilot)
            assert rig.papers["batch-QUAY-1-1.pdf"].startswith(b"%PDF")
            await pilot.press("down", "enter")
            await rig.settle(pilot)
            assert rig.terminal.current_mode == "panel"
            assert getattr(rig.terminal.screen, "focused_fill", 0) == 2

    run(main)
    assert [shop.row(fill).state for fill in (1, 2)] == ["planned", "planned"]
    assert [line["serial"] for line in batch.board(shop.station.record, 1)["lines"]] == [
        "C-1001", "C-1003",
    ]  # fmt: skip
    residual = next(entry for entry in shop.entries() if entry.kind == "fill.residual")
    assert residual.data["analyser"] == "A1"


def test_a_bank_that_runs_short_is_said_before_anything_is_planned(rig: Rig, shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="10L", at="60bar")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+a")
            await rig.settle(pilot)
            for text in ("200 EAN32 for Kai", "C-1001 0", "C-1003 0", ""):
                await rig.enter(pilot, text)
            kind, said = rig.said()
            assert kind == "mind"
            assert "C-1001" in said or "C-1003" in said
            assert "SHORT" in rig.screen_text()

    run(main)
    assert [shop.row(fill).state for fill in (1, 2)] == ["requested", "requested"]


def test_what_was_not_analysed_is_minded_and_can_be_taken_off(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+a")
            await rig.settle(pilot)
            await rig.enter(pilot, "200 EAN32 for Kai")
            await rig.enter(pilot, "C-1001 60 EAN28 stated")
            assert rig.said()[0] == "mind"
            await rig.enter(pilot, "-")
            assert "C-1001" in rig.said()[1]
            await rig.enter(pilot, "")
            assert rig.said()[0] == "refused"
            await pilot.press("alt+r")
            await rig.settle(pilot)
            assert rig.prompt().startswith("Scan")

    run(main)
    assert not [entry for entry in shop.entries() if entry.kind == "fill.requested"]


def test_the_board_fits_eighty_columns(rig: Rig, shop: Shop) -> None:
    lines = [batch.BatchCylinder(serial, "0bar:air", "unknown") for serial in ("C-1001", "D-7")]
    batch.request_batch(
        shop.station, shop.jo, cylinders=lines, customer="Kai Diver", want="200bar:air"
    )

    async def main() -> None:
        async with rig.run() as pilot:
            rig.terminal.push_screen(BatchBoard(1))
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(DataTable).max_scroll_x == 0
            assert "D-7" in rig.screen_text()
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.terminal.current_mode == "panel"

    run(main)
