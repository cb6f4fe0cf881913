"""Tables taken over from the command line: exit codes, one message, every bad row."""

from __future__ import annotations

from pathlib import Path

from tests.tui.terminal import Terminal, one_message, run

MARA = ("--as", "Mara Linde")
HEADING = "serial,size,wp,tp,tested,inspected,clean\n"


def test_a_table_is_rehearsed_taken_over_and_recognised(at: Terminal, nowhere: Path) -> None:
    (nowhere / "c.csv").write_text(HEADING + "N-1,12L,232bar,348bar,2025-03,2026-02,yes\n")
    before = at.ok("verify")["entries"]
    assert at.ok("import", "cylinders", "c.csv", "--dry-run")["rows"] == 1
    assert at.ok("verify")["entries"] == before
    assert run("import", "cylinders", "c.csv").code == 5  # a blender may not
    said = at.ok("import", "cylinders", "c.csv", *MARA)
    assert (said["rows"], said["repeated"]) == (1, False)
    assert at.ok("import", "cylinders", "c.csv", *MARA)["repeated"]
    assert at.ok("verify")["ok"]


def test_bad_rows_are_listed_with_what_is_allowed(at: Terminal, nowhere: Path) -> None:
    (nowhere / "c.csv").write_text(HEADING + "N-1,12L,232bar,348bar,soon,2026-02,yes\n")
    for more in (("--dry-run",), MARA):
        said = run("import", "cylinders", "c.csv", *more)
        assert (said.code, one_message(said.err)) == (2, True)
        assert "line 2, tested: 'soon' was given; write year and month" in said.out
        told = run("import", "cylinders", "c.csv", *more, "--json")
        (bad,) = told.json["bad"]
        assert (bad["line"], bad["column"], bad["given"]) == (2, "tested", "soon")


def test_the_columns_are_told(at: Terminal) -> None:
    said = at.ok("import", "--columns")
    assert said["fills"]["o2"]["needed"] is False
    assert "serial" in run("import", "--columns").out


def test_what_cannot_be_taken_over_is_said_in_a_sentence(at: Terminal, nowhere: Path) -> None:
    (nowhere / "x.csv").write_bytes(b"\xff\x00\x80" * 50)
    (nowhere / "c.csv").write_text(HEADING)
    for words in (
        ("import",),
        ("import", "shoes", "c.csv"),
        ("import", "cylinders"),
        ("import", "cylinders", "none.csv"),
        ("import", "cylinders", "."),
        ("import", "cylinders", "x.csv"),
        ("import", "cylinders", "c.csv"),
        ("import", "cylinders", "c.csv", "--encoding", "klingon"),
        ("import", "cylinders", "c.csv", "--delimiter", "|"),
        ("import", "cylinders", "a\0b"),
    ):
        said = run(*words, *MARA)
        assert (said.code, one_message(said.err)) == (2, True), (words, said)


def test_persons_from_the_command_line(at: Terminal, nowhere: Path) -> None:
    at.ok("person", "contact", "Kai Diver", "--phone", "555 0100")
    page = at.ok("person", "page", "Kai Diver")
    assert (page["name"], page["phones"]) == ("Kai Diver", ["555 0100"])
    assert run("person", "erase", "Kai Diver", "--reason", "asked").code == 5
    fill = at.request()
    said = run("person", "erase", "Kai Diver", "--reason", "asked", *MARA)
    assert (said.code, "requested" in said.err) == (5, True)
    at.ok("fill", "void", fill, "--reason", "entered twice", *MARA)
    erased = run("person", "erase", "Kai Diver", "--reason", "asked",
                 "--copies-until", "2027-06-30", *MARA)  # fmt: skip
    assert (erased.code, "until 2027-06-30" in erased.out) == (0, True), erased
    assert run("person", "page", page["person"]).out.count("Kai") == 0
    at.ok("person", "page", page["person"], "--out", "left.pdf")
    assert (nowhere / "left.pdf").read_bytes().startswith(b"%PDF")
    assert at.ok("verify")["ok"]
