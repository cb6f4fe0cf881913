"""Labels on sheets, in pictures and on the printer; and what each stock is."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from tests.reports import paper
from tests.station.shop import NAMES
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


LETTER = (215.9, 279.4)  # 8.5 x 11 inch, ANSI/ASME Y14.1 size A
UPRIGHT = (
    ("certificate", "1"),
    ("cylinder", "history", "C-1001"),
    ("analyser", "certificate", "A1"),
    ("person", "page", NAMES["blender"]),
    ("recall", "--analyser", "A1"),
    ("book", "audit", "--from", "2026-01-01", "--to", "2026-12-31"),
    ("book", "log", "--cylinder", "C-1001"),
    ("wall", "--want", "200bar", "--mix", "EAN32"),
)


def test_a_station_on_letter_prints_everything_on_letter(at: Terminal, nowhere: Path) -> None:
    fill, _ = at.accepted()
    by = ("--reason", "what the shop buys", "--as", NAMES["manager"])
    at.ok("rule", "set", "paper", "letter", *by)
    at.ok("rule", "set", "label-stock", "roll-4x3in", *by)
    for number, command in enumerate(UPRIGHT):
        at.ok(*command, "--out", f"{number}.pdf")
        made = paper.sizes_mm((nowhere / f"{number}.pdf").read_bytes())
        assert {tuple(sorted(size)) for size in made} == {LETTER}, command
    at.ok("label", fill, "--out", "label.pdf")
    at.ok("certificate", fill, "--paper", "a4", "--out", "other.pdf")
    sizes = [paper.sizes_mm((nowhere / name).read_bytes()) for name in ("label.pdf", "other.pdf")]
    assert sizes == [{(101.6, 76.2)}, {(210.0, 297.0)}]
    assert run("rule", "set", "paper", "vellum", *by).code == 2


# Each with what only its page in psi says.
IN_UNITS = (
    ("cu ft", "book", "audit", "--from", "2026-01-01", "--to", "2026-12-31"),
    ("3365 psi", "cylinder", "history", "C-1001"),
    ("cu ft", "receipt", "1"),
    (" psi", "analyser", "certificate", "A1"),
    ("725 psi", "paper", "argon", "SUIT-4", "--at", "50bar"),
    (" psi", "book", "log", "--cylinder", "C-1001"),
    ("2901", "wall", "--want", "200bar", "--mix", "EAN32"),
    *(("3365 psi (232 bar)", paper_of_one, "1") for paper_of_one in ("label", "certificate")),
    (" psi (", "labels", "1"),
    (" psi (", "card", "1"),
)


def _words(of: Path) -> str:
    return " ".join(" ".join(paper.texts(of.read_bytes())).split())


@pytest.mark.parametrize(("mark", "command"), [(one[0], one[1:]) for one in IN_UNITS])
def test_papers_are_in_the_stations_units_or_those_asked_for(
    at: Terminal, nowhere: Path, mark: str, command: tuple[str, ...]
) -> None:
    at.accepted()
    by = ("--reason", "what the shop's gauges show", "--as", NAMES["manager"])
    at.ok(*command, "--out", "usual.pdf")
    at.ok("rule", "set", "units", "psi", *by)
    at.ok(*command, "--out", "station.pdf")
    at.ok(*command, "--units", "bar", "--out", "asked.pdf")
    said = [mark in _words(nowhere / f"{name}.pdf") for name in ("usual", "station", "asked")]
    assert said == [False, True, False]
    assert run(*command, "--units", "atm", "--out", "never.pdf").code == 2


def test_a_certificate_and_a_receipt_again_are_copies_beside_the_first(
    at: Terminal, nowhere: Path
) -> None:
    fill, _ = at.accepted()
    assert at.ok("certificate", fill)["copy"] == 1
    again = at.ok("certificate", fill)
    assert (again["copy"], Path(again["file"]).name) == (2, f"certificate-QUAY-1-{fill}-copy-2.pdf")
    assert "copy" not in at.ok("receipt", fill)  # shown only
    for number in (1, 2):
        assert at.ok("receipt", fill, "--out", f"r{number}.pdf")["copy"] == number
    assert "COPY" not in _words(nowhere / "r1.pdf")
    assert "COPY 2" in _words(nowhere / "r2.pdf")
