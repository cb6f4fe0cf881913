"""What the demonstration leaves in its folder, read back as a stranger would."""

from __future__ import annotations

import csv
import io
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from blender.errors import InputError
from blender.record.anchor import parse_anchor
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.verify import Problem, verify
from blender.station import book
from demo.walk import walk
from tests.reports import paper
from tui import entry


@pytest.fixture(scope="module")
def digests(day) -> dict[int, str]:
    with Record.open(day.database, readonly=True) as record:
        return {line["seq"]: line["digest"] for line in book.journal(record)}


def labels(day) -> list[Path]:
    return sorted(day.folder.glob("label-fill-*.pdf"))


def codes(path: Path) -> list[str]:
    return [text for image in paper.rasters(path.read_bytes()) for text in paper.qr_texts(image)]


def text_of(path: Path) -> str:
    return " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def test_at_least_six_labels_lead_to_their_entry(day, digests):
    assert len(labels(day)) >= 6
    for path in labels(day):
        (code,) = codes(path)
        anchor = parse_anchor(code)
        assert digests[anchor.seq] == anchor.head.hex()
    assert verify(day.database, code).ok


def test_each_collected_fill_has_its_label(day):
    numbers = {int(path.stem.rpartition("-")[2]) for path in labels(day)}
    assert numbers == {row["fill"] for row in day.fills if row["state"] == "collected"}


def test_the_sheet_holds_every_label(day):
    each = {code for path in labels(day) for code in codes(path)}
    assert set(codes(day.folder / "labels-a4.pdf")) == each


def test_the_held_fill_has_a_tag(day):
    with Record.open(day.database, readonly=True) as record:
        stories = [book.story(record, row["fill"]) for row in day.fills]
    held = [s["fill"] for s in stories if any(e["kind"] == "fill.held" for e in s["entries"])]
    assert held
    for fill in held:
        assert "DO NOT BREATHE" in text_of(day.folder / f"tag-fill-{fill}.pdf")


def test_the_log_lists_every_fill(day):
    text = text_of(day.folder / "fill-log.pdf")
    rows = list(csv.reader(io.StringIO((day.folder / "fill-log.csv").read_text(encoding="utf-8"))))
    for row in day.fills:
        posts = row["cylinder"].split("+")
        assert all(post in text for post in posts)
        assert any(any(posts[0] in cell for cell in line) for line in rows)


def test_record_and_keys_go_on_working(day):
    assert day.report.ok and day.report.entries > 100
    keys = StationKeys.load(day.folder / "station.keys")
    with Record.open(day.database) as record:
        assert record.public_key == keys.public
        assert record.head().head_text == day.report.head
        assert record.head().text == day.anchor
    assert all(Path(name).exists() for name in day.files)


def test_the_secrets_printed_sign_in(day, tmp_path, monkeypatch, capsys):
    shutil.copytree(day.folder, tmp_path / "mine")
    name, secret = next(iter(day.secrets.items()))
    monkeypatch.setenv("FILLWRIGHT_SECRET", secret)
    database = str(tmp_path / "mine" / "station.db")
    cage = next(row["fill"] for row in day.fills if row["state"] == "quarantined")
    command = [
        "--station",
        database,
        "fill",
        "release",
        str(cage),
        "--as",
        name,
        "--reason",
        "seen",
    ]
    assert entry.run(command) == 0
    capsys.readouterr()


def test_its_own_folder_is_used_again_and_tells_the_same_day(day, tmp_path):
    folder = tmp_path / "out"
    shutil.copytree(day.folder, folder)
    (folder / "mine.txt").write_text("kept")
    again = walk(folder)
    assert again.account == day.account
    assert again.report.ok and again.report.head != day.report.head
    assert {Path(name).name for name in again.files} | {"mine.txt"} == {
        path.name for path in folder.iterdir()
    }


def test_a_strangers_folder_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("dear all")
    with pytest.raises(InputError, match=r"--out.*empty folder"):
        walk(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_another_stations_record_is_left_alone(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("FILLWRIGHT_SECRET", "long enough")
    found = ["init", "--name", "Elsewhere", "--id", "ELSE-1", "--manager", "Ada Pell"]
    assert entry.run(["--station", str(tmp_path / "station.db"), *found]) == 0
    before = (tmp_path / "station.db").read_bytes()
    assert entry.run(["demo", "--walk", "--out", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "--out" in said
    assert (tmp_path / "station.db").read_bytes() == before
    assert (tmp_path / "station.keys").exists()


def test_keys_without_their_record_are_never_taken_away(tmp_path):
    StationKeys.create(tmp_path / "station.keys")
    with pytest.raises(InputError):
        walk(tmp_path)
    assert (tmp_path / "station.keys").exists()


def test_a_file_is_no_folder(tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert entry.run(["demo", "--out", str(tmp_path / "file")]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_the_command_as_json(day, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert entry.run(["demo", "--walk", "--out", "out", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["account"] == day.account
    assert said["verify"]["ok"] is True and said["verify"]["problems"] == []
    assert said["anchor"].endswith(said["head"])
    assert [row["state"] for row in said["fills"]] == [row["state"] for row in day.fills]
    assert all((tmp_path / name).exists() for name in said["files"])


def test_the_command_for_people(day, monkeypatch, capsys):
    here = replace(day, folder=Path("out"))
    monkeypatch.setattr("demo.walk.walk", lambda folder: here)
    assert entry.run(["demo", "--out", "out"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[: len(day.account)] == day.account
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    assert "book show 3" in text and "verify --anchor" in text
    assert all(secret in text for secret in day.secrets.values())
    quoted = text.partition("--anchor \\\n")[2].split("'")[1]
    assert quoted.split() == day.anchor.split()
    assert verify(day.database, quoted).ok


def test_a_record_that_does_not_verify_is_exit_4(day, monkeypatch, capsys):
    bad = replace(day, report=replace(day.report, problems=[Problem(7, "digest", "altered")]))
    monkeypatch.setattr("demo.walk.walk", lambda folder: bad)
    assert entry.run(["demo", "--out", "out"]) == 4
    assert "NOT whole" in capsys.readouterr().out
