"""Labels on sheets, in pictures and on the printer; and what each stock is."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from tests.reports import paper
from tests.tui.terminal import Terminal, run


@pytest.fixture
def printer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a file to which a printer of our own writes what it was given."""
    said = tmp_path / "printed"
    command = tmp_path / "print.sh"
    command.write_text(f'#!/bin/sh\necho "$@" >> "{said}"\n')
    command.chmod(0o755)
    monkeypatch.setenv("FILLWRIGHT_PRINT", f"'{command}' -o own")
    return said


def test_two_labels_share_a_part_used_sheet_and_each_print_is_entered(
    at: Terminal, nowhere: Path
) -> None:
    sound = ("--wp", "232bar", "--tp", "348bar", "--tested", "2025-03", "--inspected", "2026-02")
    at.ok("cylinder", "add", "C-77", "--size", "12L", *sound, "--clean", "yes")
    (first, anchor), (second, other) = at.accepted(), at.accepted(cylinder="C-77")
    made = at.ok("labels", first, second, "--first", "8", "--out", "both.pdf")
    pages = [paper.qr_texts(image) for image in paper.rasters((nowhere / "both.pdf").read_bytes())]
    assert pages == [[anchor], [other]]  # the last position of one sheet, the first of the next
    assert [one["copy"] for one in made["labels"]] == [1, 1]
    assert at.ok("label", first)["copy"] == 2
    assert run("labels", first, first).code == 2
    assert run("labels", first, "--first", "9").code == 2


def test_a_copy_does_not_take_the_place_of_the_first(at: Terminal, nowhere: Path) -> None:
    fill, _ = at.accepted()
    made = [at.ok("label", fill)["file"] for _ in range(2)]
    assert made == [f"label-QUAY-1-{fill}.pdf", f"label-QUAY-1-{fill}-copy-2.pdf"]


def test_a_label_as_a_picture_goes_to_the_printer(
    at: Terminal, nowhere: Path, printer: Path
) -> None:
    fill, anchor = at.accepted()
    at.ok("label", fill, "--out", "label.png", "--print")
    image = Image.open(BytesIO((nowhere / "label.png").read_bytes()))
    assert paper.qr_texts(image) == [anchor]
    assert printer.read_text() == "-o own label.png\n"


def test_a_printer_that_fails_leaves_the_paper(
    at: Terminal, nowhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill, _ = at.accepted()
    monkeypatch.setenv("FILLWRIGHT_PRINT", "/no/such/printer")
    said = run("certificate", fill, "--out", "c.pdf", "--paper", "letter", "--print")
    assert said.code == 2
    assert "kept in c.pdf" in said.err
    assert paper.sizes_mm((nowhere / "c.pdf").read_bytes()) == {(215.9, 279.4)}


def test_every_stock_is_listed_and_has_a_check_page(at: Terminal, nowhere: Path) -> None:
    for stock in at.ok("paper", "list")["stocks"]:
        at.ok("paper", "check", stock["name"], "--out", "check.pdf")
        (text,) = paper.texts((nowhere / "check.pdf").read_bytes())
        assert text.count("50 mm") == stock["labels"]
    assert run("paper", "check", "papyrus").code == 2
