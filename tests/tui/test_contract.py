"""What scripts rely on: options anywhere, one document, exit codes, one message."""

from __future__ import annotations

import errno
import json
import os
import re
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from tests.tui.terminal import Terminal, leaves, one_message, run
from tui import entry
from tui.cli import root

BOOK_KEYS = {
    "fill", "state", "cylinder", "customer", "wanted", "analysed", "pressure_bar", "blender",
    "requested_at", "accepted_at",
}  # fmt: skip


@pytest.mark.parametrize(
    "arguments",
    [
        ("--json", "--station", "@", "book", "list"),
        ("book", "--json", "--station", "@", "list"),
        ("book", "list", "--json", "--station", "@"),
        ("--station", "@", "book", "list", "--json"),
        ("--json", "book", "--station", "@", "list"),
        ("--json", "book", "list", "--station=@"),
    ],
)
def test_json_and_station_anywhere(
    at: Terminal, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.delenv("FILLWRIGHT_STATION")
    said = run(*(word.replace("@", str(at.path)) for word in arguments))
    assert (said.code, said.err) == (0, "")
    assert said.json == {"fills": []}


def test_the_nearer_station_counts(at: Terminal) -> None:
    said = run("--station", "elsewhere.db", "book", "list", "--station", str(at.path), "--json")
    assert said.code == 0


def test_every_subcommand_takes_json_and_station() -> None:
    for words, command in leaves(root).items():
        names = {name for param in command.params for name in param.opts}
        assert {"--json", "--station"} <= names, words


def test_no_secret_is_an_argument(at: Terminal) -> None:
    for words, command in leaves(root).items():
        for param in command.params:
            taken = {name for name in param.opts if re.search("secret|pin|pass", name)}
            assert taken <= {"--secret-file", "--new-secret-file"}, words
    said = run("fill", "hold", "1", "--reason", "x", "--secret", "low tide at noon")
    assert said.code == 2


def test_a_record_is_made_only_where_it_can_be(
    nowhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FILLWRIGHT_SECRET", "abcd")
    who = ("--name", "Q", "--id", "QUAY-9", "--manager", "M")
    for place in (
        "postgresql+other://u:pw@host/db",
        "postgresql://u:pw@host",
        "https://x/y",
        ":memory:",
        ".",
    ):
        said = run("init", *who, "--station", place)
        assert said.code == 2, said
        assert "pw" not in said.err
        assert list(nowhere.iterdir()) == []
    gone = run("init", *who, "--station", "postgresql://u:pw@127.0.0.1:1/db")
    assert gone.code == 4
    assert "pw" not in gone.err
    assert not list(nowhere.parent.rglob("*.keys"))  # nor is a key left of a station not founded
    for bad in (("--id", "quay"), ("--name", ""), ("--manager", "\x1b")):
        said = run("init", *who, *bad, "--station", "new.db")
        assert said.code == 2
        assert list(nowhere.iterdir()) == []
    assert run("init", *who, "--station", "sqlite:///new.db").code == 0
    assert {p.name for p in nowhere.iterdir()} == {"new.db", "new.keys"}
    assert run("person", "list", "--station", "new.db").code == 0
    again = run("init", *who, "--station", "new.db")
    assert (again.code, len(list(nowhere.iterdir()))) == (2, 2)


# -- exit codes ------------------------------------------------------------------------


def test_0_done_and_on_the_disk(at: Terminal) -> None:
    fill = at.request()
    assert at.ok("book", "list")["fills"][0]["fill"] == int(fill)


def test_1_our_own_bug_is_one_line_and_a_report(
    at: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a secret detail")

    monkeypatch.setattr("blender.station.book.fills", broken)
    for extra in ((), ("--json",)):
        said = run("book", "list", *extra)
        assert said.code == 1
        assert one_message(said.err)
        assert "a secret detail" not in said.err
        report = Path(re.search(r"(\S+\.txt)", said.err)[1])
        assert "ZeroDivisionError: a secret detail" in report.read_text()
        assert said.out == "" if not extra else said.json["error"]["code"] == "bug"


def test_2_bad_input_names_field_given_and_allowed(at: Terminal) -> None:
    fill = at.started()
    for arguments, words in (
        (("fill", "reading", fill, "--at", "74", "--temperature", "20C"), ("--at", "'74'", "bar")),
        (
            ("fill", "reading", fill, "--at", "7bar", "--temperature", "1,234C"),
            ("--temperature", "ambiguous"),
        ),
        (("fill", "reading", fill, "--at", "7bar"), ("--temperature", "31C")),
        (("fill", "plan"), ("FILL",)),
        (("fill", "reading", "x", "--at", "7bar", "--temperature", "20C"), ("x", "integer")),
        (("fill", "reading", "99", "--at", "7bar", "--temperature", "20C"), ("99", "book list")),
        (("fill", "hold", fill, "--reason", " "), ("--reason", "empty")),
        (("fill", "request"), ("--cylinder",)),
        (("book", "show", "77"), ("77", "book list")),
        (("nonsense",), ("nonsense", "depth", "verify")),
        (("fill", "nonsense"), ("nonsense", "request")),
        (("fill",), ("fill",)),
        (("book", "list", "--colour"), ("--colour",)),
    ):
        for extra in ((), ("--json",)):
            said = run(*arguments, *extra)
            assert said.code == 2, arguments
            assert one_message(said.err), said.err
            for word in words:
                assert word in said.err
            assert said.out == "" if not extra else said.json["error"]["text"] in said.err


def test_2_without_a_record(nowhere: Path) -> None:
    said = run("book", "list", "--station", "no/such.db")
    assert said.code == 2
    assert one_message(said.err)
    assert not Path("no").exists()


def test_3_no_such_fill(at: Terminal) -> None:
    fill = at.request()
    arguments = ("fill", "plan", fill, "--supply", "n=EAN22")
    said = run(*arguments, "--json")
    assert said.code == 3
    assert set(said.json) >= {"error", "alternatives"}
    assert set(said.json["error"]) >= {"code", "text"}
    assert said.err.startswith("fillwright: ")
    assert run(*arguments).out == ""
    assert at.ok("book", "list")["fills"][0]["state"] == "requested"


def test_4_a_damaged_record(at: Terminal) -> None:
    with closing(sqlite3.connect(at.path)) as raw, raw:
        raw.execute("UPDATE cylinder SET tested = '2026-11'")
    said = run("verify", "--json")
    assert said.code == 4
    assert not said.json["ok"]
    assert said.json["problems"][0]["kind"] == "read-model"
    at.path.write_bytes(b"not a database at all")
    for arguments in (("verify",), ("book", "list"), ("fill", "hold", "1", "--reason", "x")):
        said = run(*arguments)
        assert said.code == 4, arguments
        assert "Traceback" not in said.err + said.out


def test_5_refused_by_a_gate_authority_or_identity(
    at: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill = at.request()
    at.ok("fill", "plan", fill)
    refused = [
        ("fill", "reading", fill, "--at", "84bar", "--temperature", "20C"),  # out of order
        ("fill", "start", fill, "--serial", "C-1003"),  # identity
        ("fill", "release", fill, "--reason", "x"),  # authority
        ("fill", "hold", fill, "--reason", "x", "--as", "Nobody"),  # signing in
        ("label", fill),  # nothing to print
    ]
    for arguments in refused:
        said = run(*arguments, "--json")
        assert said.code == 5, arguments
        assert one_message(said.err), said.err
        document = said.json
        assert "gates" in document
        if "error" not in document:
            assert any(gate["answer"] != "pass" for gate in document["gates"])
            assert set(document) >= {"fill", "state", "gates"}
        plain = run(*arguments)
        assert (plain.code, plain.out) == (5, "")
        assert plain.err.startswith("fillwright: ")
    monkeypatch.setenv("FILLWRIGHT_SECRET", "wrong")
    said = run("fill", "hold", fill, "--reason", "x")
    assert said.code == 5
    assert "wrong" not in said.err


# -- secrets ---------------------------------------------------------------------------


def test_the_secret_from_a_file_or_a_variable(
    at: Terminal, nowhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill = at.started()
    monkeypatch.delenv("FILLWRIGHT_SECRET")
    said = run("fill", "hold", fill, "--reason", "x")
    assert said.code == 2
    assert "--secret-file" in said.err
    (nowhere / "s").write_text("low tide at noon\n")
    assert run("fill", "hold", fill, "--reason", "x", "--secret-file", "s").code == 0
    (nowhere / "t").write_bytes(b"\xff\xfe")
    for file in ("t", "none", ".", "/dev/zero"):
        said = run("fill", "resume", fill, "--serial", "C-1001", "--at", "60bar",
                   "--temperature", "20C", "--secret-file", file)  # fmt: skip
        assert said.code in (2, 5), file
        assert one_message(said.err)


def test_the_signer_from_an_option_or_a_variable(
    at: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill = at.started()
    monkeypatch.delenv("FILLWRIGHT_AS")
    assert run("fill", "hold", fill, "--reason", "x").code == 2
    assert run("fill", "hold", fill, "--reason", "x", "--as", "Mara Linde").code == 0
    assert at.ok("book", "show", fill)["entries"][-1]["signed_by"] == "Mara Linde"


def test_reading_commands_need_no_signer(at: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    fill, anchor = at.accepted()
    monkeypatch.delenv("FILLWRIGHT_AS")
    monkeypatch.delenv("FILLWRIGHT_SECRET")
    at.path.with_suffix(".keys").unlink()
    for arguments in (
        ("book", "list"),
        ("book", "show", fill),
        ("book", "export"),
        ("book", "log", "--from", "2026-11-01", "--to", "2026-11-30", "--out", "log.pdf"),
        ("verify",),
        ("verify", "--anchor", anchor),
        ("label", fill, "--out", "label.pdf"),
        ("depth", "EAN32"),
        ("plan", "--cylinder", "12L", "--have", "60bar:EAN28", "--want", "230bar:EAN32"),
        ("analyse", "--reading", "32.4"),
        ("person", "list"),
        ("cylinder", "list"),
        ("supply", "list"),
        ("analyser", "list"),
    ):
        at.ok(*arguments)
        assert run(*arguments).code == 0


# -- documents -------------------------------------------------------------------------


def test_book_list(at: Terminal) -> None:
    at.accepted()
    at.request(cylinder="C-1003")
    document = at.ok("book", "list")
    assert set(document) == {"fills"}
    first, second = document["fills"]
    for line in (first, second):
        assert set(line) >= BOOK_KEYS
        assert set(line["wanted"]) >= {"o2", "he", "pressure_bar"}
    assert set(first["analysed"]) >= {"o2", "he"}
    assert (first["state"], first["cylinder"], first["customer"]) == (
        "accepted", "C-1001", "Kai Diver",
    )  # fmt: skip
    assert (first["blender"], first["analysed"]["o2"]) == ("Jo Blend", 0.321)
    assert (second["analysed"], second["accepted_at"], second["blender"]) == (None, None, None)


def test_verify_and_anchor(at: Terminal) -> None:
    _, anchor = at.accepted()
    document = at.ok("verify")
    assert set(document) >= {"ok", "station", "incarnation", "entries", "head", "problems"}
    assert (document["ok"], document["station"], document["incarnation"]) == (True, "QUAY-1", 1)
    assert document["problems"] == []
    assert re.fullmatch("[A-Z2-7]{52}", document["head"])
    assert re.fullmatch(r"FILLWRIGHT1 [A-Z0-9-]+ \d+ \d+ [A-Z2-7]{52}", anchor)
    assert at.ok("verify", "--anchor", anchor)["ok"]
    words = anchor.split()
    forged = " ".join([*words[:4], words[4][:-2] + ("AA" if words[4][-2:] != "AA" else "BA")])
    later = " ".join([*words[:3], "900", words[4]])
    for false in (forged, later):
        said = run("verify", "--anchor", false, "--json")
        assert said.code == 4
        assert "anchor" in {problem["kind"] for problem in said.json["problems"]}
    for unreadable in ("hello", "", "FILLWRIGHT1 A 1 1 A"):
        assert run("verify", "--anchor", unreadable).code == 2


def test_verify_needs_only_the_file_and_touches_nothing(at: Terminal, tmp_path: Path) -> None:
    at.accepted()
    alone = tmp_path / "alone" / "copy.db"
    alone.parent.mkdir()
    alone.write_bytes(at.path.read_bytes())
    alone.chmod(0o400)
    before = (alone.read_bytes(), alone.stat().st_mtime_ns)
    assert run("verify", "--station", str(alone), "--json").code == 0
    assert (alone.read_bytes(), alone.stat().st_mtime_ns) == before
    assert [p.name for p in alone.parent.iterdir()] == ["copy.db"]


def test_the_cylinder_table_has_a_serial(at: Terminal) -> None:
    with closing(sqlite3.connect(at.path)) as raw:
        found = {row[0] for row in raw.execute("SELECT serial FROM cylinder")}
    assert found == {"C-1001", "C-1002", "C-1003", "T-1+T-2", "D-7"}


def test_label_and_collect_by_its_code(at: Terminal, nowhere: Path) -> None:
    fill, anchor = at.accepted()
    document = at.ok("label", fill, "--out", "my label.pdf")
    assert document["anchor"] == anchor
    assert (nowhere / "my label.pdf").read_bytes().startswith(b"%PDF")
    assert document["mod_m"] == pytest.approx(33.614, abs=0.001)
    at.ok("label", fill)
    assert {p.name for p in nowhere.iterdir()} == {
        "my label.pdf",
        f"label-QUAY-1-{fill}.pdf",
    }
    wrong = run("fill", "collect", fill, "--serial", "C-1003", "--label", anchor)
    assert wrong.code == 5
    wrong = run("fill", "collect", fill, "--serial", "C-1001", "--label", "something else")
    assert wrong.code == 5
    assert at.ok("fill", "collect", fill, "--serial", "C-1001", "--label", anchor)["state"] == (
        "collected"
    )


def test_the_labels_code_is_the_anchor(at: Terminal) -> None:
    fill, anchor = at.accepted()
    at.ok("label", fill, "--out", "l.pdf")
    with pypdfium2.PdfDocument("l.pdf") as document:
        picture = document[0].render(scale=6).to_pil()
    assert anchor in {code.text for code in zxingcpp.read_barcodes(picture)}


def test_a_paper_that_cannot_be_written(at: Terminal, nowhere: Path) -> None:
    fill, _ = at.accepted()
    (nowhere / "folder").mkdir()
    for out in ("none/label.pdf", "folder", "x" * 300, ""):
        said = run("label", fill, "--out", out)
        if out:
            assert said.code == 2, out
            assert one_message(said.err)
            assert "--out" in said.err
    assert [p.name for p in nowhere.iterdir() if not p.name.startswith("label-")] == ["folder"]


def test_export_is_every_entry(at: Terminal, nowhere: Path) -> None:
    at.accepted()
    entries = at.ok("book", "export")["entries"]
    assert [e["seq"] for e in entries] == list(range(1, len(entries) + 1))
    lines = [json.loads(line) for line in run("book", "export").out.splitlines()]
    assert lines == entries
    at.ok("book", "export", "--out", "all.jsonl")
    assert [json.loads(x) for x in (nowhere / "all.jsonl").read_text().splitlines()] == entries


def test_the_log(at: Terminal, nowhere: Path) -> None:
    at.accepted()
    days = ("--from", "2026-11-25", "--to", "2026-11-25")
    for name in ("log.csv", "log.PDF"):
        assert at.ok("book", "log", *days, "--out", name)["fills"] == 1
        assert (nowhere / name).stat().st_size > 200
    for first, last, out in (
        ("2026-11-26", "2026-11-25", "l.pdf"),
        ("yesterday", "2026-11-25", "l.pdf"),
        ("2026-11-25", "2026-13-01", "l.pdf"),
        ("2026-11-25", "2026-11-25", "l.txt"),
    ):
        said = run("book", "log", "--from", first, "--to", last, "--out", out)
        assert said.code == 2
        assert one_message(said.err)
    assert run("book", "log", "--from", "0001-01-01", "--to", "9999-12-31", "--out", "l.csv",
               "--json").code == 2  # fmt: skip


def test_the_same_key_enters_once(at: Terminal) -> None:
    fill = at.started()
    arguments = ("fill", "reading", fill, "--at", "70bar", "--temperature", "20C", "--key", "k1")
    first, second = at.ok(*arguments), at.ok(*arguments)
    assert "repeated" not in first
    assert second["repeated"]
    readings = at.ok("book", "show", fill)["readings"]
    assert len(readings) == 1


def test_the_same_key_comes_to_the_same(at: Terminal) -> None:
    """A script that lost the answer and asks again is not told yes where it was told no."""
    fill = at.analysed()
    accept = ("fill", "accept", fill, "--name", "Kai Diver", "--json", "--reading")
    for _ in range(2):
        said = run(*accept, "31.0", "--key", "k1")
        assert (said.code, said.json["state"]) == (5, "recheck")
        assert run("fill", "collect", fill, "--serial", "C-1001", "--label", "x", "--key", "k2",
                   "--json").code == 5  # fmt: skip
    at.ok("fill", "analyse", fill, "--serial", "C-1001", "--analyser", "A2", "--reading", "32.0")
    first, second = (run(*accept, "32.0", "--key", "k3").json for _ in range(2))
    assert first["anchor"] == second["anchor"]
    rich = at.ok("fill", "request", "--cylinder", "C-1002", "--customer", "Kai Diver", "--have",
                 "60bar:air", "--residual", "stated", "--want", "200bar:air")["fill"]  # fmt: skip
    for _ in range(2):
        said = run("fill", "analyse", str(rich), "--serial", "C-1002", "--analyser", "A2",
                   "--reading", "36.0", "--key", "k4", "--json")  # fmt: skip
        assert (said.code, said.json["state"]) == (5, "quarantined")


def test_numbers_are_unrounded(at: Terminal) -> None:
    fill = at.started()
    answer = at.ok("fill", "reading", fill, "--at", "84.425bar", "--temperature", "20C")
    assert answer["leads_to"]["o2"] != round(answer["leads_to"]["o2"], 5)
    assert answer["reading"] == {"pressure_bar": 84.425, "temperature_c": 20.0, "kind": "gas"}


def test_help_everywhere(nowhere: Path) -> None:
    assert run("--help").code == 0
    for words in leaves(root):
        said = run(*words, "--help")
        assert said.code == 0
        assert said.out.startswith("Usage: fillwright " + " ".join(words))
    assert run("--version").out.strip().endswith("0.1.0")


def test_a_reader_that_goes_away_is_no_bug(at: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    class Gone:
        encoding = "utf-8"

        def write(self, _: str) -> int:
            raise BrokenPipeError(errno.EPIPE, "Broken pipe")

        def flush(self) -> None:
            raise BrokenPipeError(errno.EPIPE, "Broken pipe")

        def fileno(self) -> int:
            return spare

    spare = os.open(os.devnull, os.O_WRONLY)
    monkeypatch.setattr(sys, "stdout", Gone())
    code = entry.run(["book", "export"])
    os.close(spare)
    assert code == 0


def test_where_only_one_person_signs_nobody_has_to_be_named(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("FILLWRIGHT_STATION", str(tmp_path / "one.db"))
    monkeypatch.setenv("FILLWRIGHT_SECRET", "one for all")
    monkeypatch.delenv("FILLWRIGHT_AS", raising=False)
    add = ["person", "add", "Ida Voss", "--role", "blender"]
    assert entry.run(["init", "--name", "One", "--id", "ONE", "--manager", "Ada Lund"]) == 0
    assert entry.run(add) == 0
    assert "Ida Voss has the secret you signed with" in capsys.readouterr().out
    assert entry.run(["person", "add", "Eva Holm", "--role", "blender"]) == 2
    assert "say who: --as NAME" in capsys.readouterr().err


def test_a_key_belongs_to_one_act_of_one_fill_by_one_person(at: Terminal) -> None:
    fill, other = at.request(), at.request(cylinder="C-1003")
    hold = ("--reason", "seen rust", "--key", "z1")
    assert run("fill", "quarantine", fill, *hold).code == 0
    assert run("fill", "quarantine", fill, *hold).code == 0
    for misused in (("quarantine", other), ("reject", fill)):
        said = run("fill", *misused, *hold)
        assert said.code == 2
        assert "a new act needs a new key" in said.err
    assert run("fill", "quarantine", other, "--reason", "seen rust", "--key", "z2").code == 0
