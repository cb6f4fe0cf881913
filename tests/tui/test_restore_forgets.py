"""A copy older than an erasure: what is put back does not bring anybody back."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

from blender.record.erased import path_in
from tests.tui.terminal import Terminal, one_message, run

BOSS = ("--as", "Mara Linde")
WHY = ("--reason", "the disk died")
ASKED = ("--reason", "asked in writing")


def forgotten(at: Terminal, folder: Path) -> tuple[dict[str, Any], str]:
    """Copy the record, then forget its customer; return the copy, and their id."""
    fill, _ = at.accepted()
    made = at.ok("backup", "--to", str(folder))
    at.ok("fill", "reject", fill, "--reason", "not wanted any more", *BOSS)
    erased = at.ok("person", "erase", "Kai Diver", *ASKED, *BOSS)
    return made, str(erased["person"])


def test_who_was_erased_is_erased_again(at: Terminal, tmp_path: Path) -> None:
    made, ident = forgotten(at, tmp_path / "copies")
    assert b"Kai Diver" in Path(made["copy"]).read_bytes()
    said = run("restore", made["copy"], *WHY, *BOSS, "--move-aside")
    assert said.code == 0, said
    assert f"Erased again, as they were before: {ident}." in said.out
    assert "Kai Diver" not in said.out
    assert b"Kai Diver" not in Path(at.path).read_bytes()
    assert at.ok("verify")["problems"] == []


def test_a_record_that_is_lost_is_not_needed_for_it(at: Terminal, tmp_path: Path) -> None:
    """Where the rules name a folder for copies, who was erased is told there."""
    folder = tmp_path / "copies"
    folder.mkdir()
    at.ok("rule", "set", "copy-to", str(folder), "--reason", "another disk", *BOSS)
    made, ident = forgotten(at, folder)
    listed = path_in(folder, "QUAY-1").read_text("utf-8")
    assert ident in listed
    assert "Kai" not in listed
    Path(at.path).unlink()
    done = at.ok("restore", made["copy"], *WHY, *BOSS)
    assert done["erased_again"] == [ident]
    assert b"Kai Diver" not in Path(at.path).read_bytes()
    assert at.ok("restore", made["copy"], *WHY, *BOSS, "--move-aside")["erased_again"] == [ident]


def test_nobody_is_erased_by_a_list_the_station_did_not_sign(at: Terminal, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    made, ident = forgotten(at, folder)
    other = at.ok("person", "add", "Zoe Zander", "--role", "customer")
    shutil.copy(made["copy"], tmp_path / "kept.db")
    body = json.dumps({"v": 1, "station": "QUAY-1", "erased": [ident, other["person"]]})
    Path(at.path).unlink()
    for forged in ("", "[]", "null", "{", json.dumps({"body": body, "by": "00" * 64}),
                   json.dumps({"body": body, "by": 7}), json.dumps({"body": [], "by": ""}),
                   "[" * 100_000):  # fmt: skip
        path_in(folder, "QUAY-1").write_text(forged, encoding="utf-8")
        done = at.ok("restore", made["copy"], *WHY, *BOSS, "--move-aside")
        assert done["erased_again"] == []
        Path(at.path).unlink()


def test_the_page_names_the_copies_that_hold_them_still(at: Terminal, tmp_path: Path) -> None:
    """Known from the entries of copies: those of before the person, or of after, do not count."""
    made, ident = forgotten(at, tmp_path / "copies")
    page = " ".join(run("person", "page", ident).out.split())
    assert "1 copy of the record that may hold the name are known" not in page
    assert "1 copy of the record that may hold the name is known: of " in page
    at.ok("backup", "--to", str(tmp_path / "later"))
    assert " ".join(run("person", "page", ident).out.split()) == page
    Path(made["copy"]).unlink()
    again = run("person", "erase", "Kai Diver", *ASKED, *BOSS)
    assert again.code == 2
    assert one_message(again.err)
