"""Copies and restores, as a script and an inspector see them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

import tui.wiring
from blender.record import checkpoint
from blender.record.checkpoint import Checkpoint
from blender.record.keys import StationKeys, key_path
from blender.record.verify import verify
from blender.record.walk import Walk
from tests.tui.terminal import Terminal, one_message, run

BOSS = ("--as", "Mara Linde")
WHY = ("--reason", "the disk died")


def message(err: str) -> str:
    assert one_message(err), err
    return err


def place(at: Terminal) -> Path:
    return Path(at.path)


def test_a_copy_is_made_entered_and_shown(at: Terminal, tmp_path: Path) -> None:
    made = at.ok("backup", "--to", str(tmp_path / "copies"), "--away", "yes")
    assert Path(made["copy"]).is_file()
    checked = at.ok("verify", "--station", made["copy"])
    assert checked["ok"]
    assert f" {checked['entries']} {checked['head']}" in made["anchor"]
    here = at.ok("verify", "--anchor", made["anchor"])
    assert here["entries"] == made["seq"] == checked["entries"] + 1
    assert here["copies"]["away"]["sha256"] == made["sha256"]
    assert here["copies"]["away"]["minutes_ago"] < 5
    assert "Last copy outside this machine: 0 min ago" in run("verify").out


def test_a_restore_is_a_new_incarnation_entered_by_a_manager(at: Terminal, tmp_path: Path) -> None:
    made = at.ok("backup", "--to", str(tmp_path / "copies"))
    fill, label = at.accepted()
    before = place(at).read_bytes()
    said = run("restore", made["copy"], *WHY, *BOSS)
    assert said.code == 2
    assert "--move-aside" in message(said.err)
    refused = run("restore", made["copy"], *WHY, "--move-aside", "--as", "Jo Blend")
    assert refused.code == 5
    assert place(at).read_bytes() == before
    done = at.ok("restore", str(tmp_path / "copies"), *WHY, *BOSS, "--move-aside")
    assert done["given_up"] > 0
    assert (Path(done["aside"]) / place(at).name).read_bytes() == before
    here = at.ok("verify", "--anchor", made["anchor"])
    assert (here["ok"], here["incarnation"], here["entries"]) == (True, 2, done["seq"])
    assert f"No copy was made since this record was restored from one (entry {done['seq']})" in (
        run("verify").out
    )
    lost = run("verify", "--anchor", label, "--json")
    problem = json.loads(lost.out)["problems"][0]
    assert (lost.code, problem["kind"]) == (4, "anchor")
    assert "lost with the restore" in problem["text"]
    assert run("book", "show", fill).code == 2
    at.accepted()  # work goes on


def test_without_the_key_file_a_copy_can_be_read(at: Terminal, tmp_path: Path) -> None:
    at.accepted()
    made = at.ok("backup", "--to", str(tmp_path / "copies"))
    other = ("--station", str(tmp_path / "elsewhere" / "tried.db"))
    done = at.ok("restore", made["copy"], *WHY, *other)
    assert (done["seq"], done["given_up"]) == (0, None)
    assert at.ok("verify", *other)["ok"]
    assert at.ok("book", "list", *other)["fills"]
    refused = run("person", "add", "New One", "--role", "blender", *BOSS, *other)
    assert refused.code == 4
    assert "key file" in message(refused.err)
    shutil.copy2(place(at).with_suffix(".keys"), tmp_path / "elsewhere" / "tried.keys")
    done = at.ok("restore", made["copy"], *WHY, *BOSS, "--move-aside", *other)
    assert done["seq"] > 0
    at.ok("person", "add", "New One", "--role", "customer", *BOSS, *other)


def test_a_copy_nobody_knows_the_digest_of_asks_for_it(at: Terminal, tmp_path: Path) -> None:
    made = at.ok("backup", "--to", str(tmp_path / "copies"))
    Path(made["copy"] + ".sha256").unlink()
    other = ("--station", str(tmp_path / "tried.db"))
    assert "--digest" in message(run("restore", made["copy"], *WHY, *other).err)
    wrong = run("restore", made["copy"], *WHY, *other, "--digest", "0" * 64)
    assert wrong.code == 2
    at.ok("restore", made["copy"], *WHY, *other, "--digest", made["sha256"].upper())


def test_the_key_file_travels_under_a_passphrase(at: Terminal, tmp_path: Path) -> None:
    word, other = tmp_path / "word", ("--station", str(tmp_path / "new" / "shop.db"))
    word.write_text("too short\n")
    made = ("backup", "--to", str(tmp_path / "copies"), "--keys-under", str(word))
    assert run(*made).code == 2
    word.write_text("four tides and a half moon\n")
    turn(1)
    copy = at.ok(*made)
    keys = place(at).with_suffix(".keys").read_text()
    assert keys[10:40] not in Path(copy["keys"]).read_text()
    back = ("restore", copy["copy"], *WHY, *BOSS, *other, "--keys-under", str(word))
    word.write_text("four tides and a half mood\n")
    assert run(*back).code == 5
    assert list((tmp_path / "new").iterdir()) == []
    word.write_text("four tides and a half moon\n")
    assert at.ok(*back)["seq"] > 0
    assert (tmp_path / "new" / "shop.keys").read_text() == keys
    assert (tmp_path / "new" / "shop.keys").stat().st_mode & 0o077 == 0


def test_copies_are_made_when_they_are_due(at: Terminal, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    assert at.ok("backup", "--due") == {"copy": None}
    for name, value in (
        ("copy-to", str(folder)),
        ("copy-every", "60min"),
        ("copies-kept", "2copies"),
    ):
        at.ok("rule", "set", name, value, "--reason", "so that nothing is lost", *BOSS)
    first = at.ok("backup", "--due")
    assert Path(first["copy"]).parent == folder
    assert at.ok("backup", "--due") == {"copy": None}
    for _ in range(3):
        turn(61)
        assert at.ok("backup", "--due") == {"copy": None}  # nothing was entered since
        at.ok("person", "add", "One More", "--role", "customer", *BOSS)
        made = at.ok("backup", "--due")
        assert made["copy"]
    assert made["dropped"]
    assert len(list(folder.glob("*.copy.db"))) == 2


def turn(minutes: float) -> None:
    tui.wiring.clock.turn(minutes)


def test_a_disk_that_fills_up_is_said_before_it_is_full(
    at: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    add = ("person", "add", "One More", "--role", "customer", *BOSS)
    assert run(*add).err == ""
    monkeypatch.setattr("blender.station.safekeeping.free_bytes", lambda _: 150_000_000)
    said = run(*add)
    assert said.code == 0
    assert "150 MB left" in message(said.err)
    assert run("rule", "set", "disk-least", "100MB", "--reason", "small", *BOSS).code == 0
    assert run(*add).err == ""


def test_a_record_is_not_founded_in_a_folder_that_is_copied_away(
    at: Terminal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FILLWRIGHT_SYNCED", str(tmp_path))
    founding = ("init", "--name", "X", "--id", "X-1", "--manager", "Mara Linde")
    said = run(*founding, "--station", str(tmp_path / "new.db"))
    assert said.code == 2
    assert "copied to other machines" in message(said.err)
    assert run("person", "add", "A", "--role", "customer", *BOSS).code == 2
    monkeypatch.setenv("FILLWRIGHT_DISK", "trusted")
    at.ok("person", "add", "A", "--role", "customer", *BOSS)


def test_damage_at_the_start_is_exit_4_and_nothing_is_entered(at: Terminal) -> None:
    at.accepted()
    raw = bytearray(place(at).read_bytes())
    where = raw.rindex(b'"fill.accepted"') + 2
    raw[where] ^= 1
    place(at).write_bytes(raw)
    said = run("person", "add", "A", "--role", "customer", *BOSS)
    assert said.code == 4
    assert "damaged at entry" in message(said.err)
    assert "restore" in said.err
    assert place(at).read_bytes() == bytes(raw)
    assert run("book", "list").code == 0  # it can still be read


def test_an_old_copy_put_back_is_found_beside_its_checkpoint(at: Terminal) -> None:
    old = place(at).read_bytes()
    at.ok("analyser", "add", "A9", *BOSS)
    keys = StationKeys.load(key_path(place(at)))

    def keep(walk: Walk) -> None:
        known = Checkpoint.of(walk)
        assert known is not None
        checkpoint.keep(place(at), known, keys)

    assert verify(place(at), keep=keep).ok
    assert at.ok("verify")["ok"]
    place(at).write_bytes(old)
    said = run("verify", "--json")
    assert said.code == 4
    (problem,) = said.json["problems"]
    assert problem["kind"] == "checkpoint"
    assert "an older copy put back" in problem["text"]


def test_a_paper_of_another_station_is_named(at: Terminal) -> None:
    _, anchor = at.accepted()
    word, _, *rest = anchor.split()
    said = run("verify", "--anchor", " ".join([word, "OTHER-4", *rest]))
    assert said.code == 4  # the paper was not proved, though nothing is damaged
    assert "the paper is of station OTHER-4, this is the record of QUAY-1" in said.out
    assert "record is whole, but the paper could not be checked with it" in said.out
    assert "DAMAGED" not in said.out
