"""What is taken away: a journal anybody can verify, and tables no spreadsheet runs."""

from __future__ import annotations

import base64
import csv
import json
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from blender.record.chain import digest
from blender.record.inspector import Inspector
from tests.tui.terminal import Terminal, one_message, run

# Runs a script as an inspector's machine would: nothing of ours can be imported.
ALONE = """
import sys
class Ours:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in ("blender", "tui", "reports", "demo", "sqlalchemy", "sqlmodel"):
            raise ImportError(name + " is not on the inspector's machine")
sys.meta_path.insert(0, Ours())
import runpy
sys.argv = sys.argv[1:]
runpy.run_path(sys.argv[0], run_name="__main__")
"""


def inspect(folder: Path, *more: str) -> tuple[int, str]:
    words = [sys.executable, "-I", "-c", ALONE, "verify_journal.py", "journal.jsonl", *more]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    return done.returncode, done.stdout


@pytest.fixture(name="taken")
def _taken(at: Terminal, nowhere: Path) -> tuple[Path, str]:
    """A journal taken away, and the text of a label printed before the last entries."""
    _, anchor = at.accepted()
    at.ok("person", "add", '=Éva, "the 2nd"', "--role", "customer")
    at.ok("export", "journal", "--to", "journal.jsonl")
    return nowhere, anchor


def test_d1_it_is_verified_without_us(taken: tuple[Path, str]) -> None:
    folder, anchor = taken
    code, said = inspect(folder, "--anchor", anchor)
    assert code == 0, said
    assert "The paper fits." in said
    assert "What this cannot show" in said
    source = (folder / "verify_journal.py").read_text(encoding="utf-8")
    assert len(source.splitlines()) < 150
    assert "import blender" not in source


def test_c4_another_reader_finds_the_same_heads(at: Terminal, taken: tuple[Path, str]) -> None:
    folder, _ = taken
    lines = (folder / "journal.jsonl").read_text(encoding="utf-8").splitlines()
    heads = [base64.b32encode(bytes.fromhex(json.loads(line)[2])).decode().rstrip("=")
             for line in lines[1:]]  # fmt: skip
    assert heads[-1] == at.ok("verify")["head"]
    inspector = Inspector()
    for line in lines[1:]:
        inspector.take(line)
    assert inspector.flaws == []
    assert {paper.split()[4] for paper in inspector.papers} == set(heads)


def edited(lines: list[str]) -> list[str]:
    seq = next(n for n, line in enumerate(lines) if '\\"kind\\":\\"fill.analysed' in line)
    return [*lines[:seq], lines[seq].replace("32.1", "36.1", 1), *lines[seq + 1 :]]


def transplanted(lines: list[str]) -> list[str]:
    """Put one entry's signature into another by the same person, and chain all anew."""
    bodies = [json.loads(json.loads(line)[3]) for line in lines[1:]]
    mine = [n for n, body in enumerate(bodies) if body["kind"] == "fill.reading"]
    bodies[mine[0]]["sig"]["value"] = bodies[mine[1]]["sig"]["value"]
    return rechained(lines, bodies)


def rechained(lines: list[str], bodies: list[dict[str, object]]) -> list[str]:
    prev, made = bytes.fromhex(json.loads(lines[1])[1]), []
    for seq, body in enumerate(bodies, start=1):
        text = json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        head = digest(prev, text.encode())
        made.append(dumped([seq, prev.hex(), head.hex(), text]))
        prev = head
    heading = json.loads(lines[0])
    heading[3:] = [len(made), prev.hex()]
    return [dumped(heading), *made]


def dumped(content: object) -> str:
    return json.dumps(content, separators=(",", ":"), ensure_ascii=False)


def cut(lines: list[str]) -> list[str]:
    """Take the last entries away and write the heading to fit: only a paper shows that."""
    bodies = [json.loads(json.loads(line)[3]) for line in lines[1:]]
    return rechained(lines, bodies[:-3])


TAMPERED: dict[str, tuple[Callable[[list[str]], list[str]], str]] = {
    "edited": (edited, "was altered"),
    "removed": (lambda lines: [*lines[:9], *lines[10:]], "missing or out of place"),
    "reordered": (lambda lines: [*lines[:9], lines[10], lines[9], *lines[11:]], "out of place"),
    "last removed": (lambda lines: lines[:-1], "the heading is not that of these entries"),
    "signature moved": (transplanted, "the signature of entry"),
}


@pytest.mark.parametrize("how", TAMPERED)
def test_what_was_tampered_with_is_found(taken: tuple[Path, str], how: str) -> None:
    folder, _ = taken
    change, said = TAMPERED[how]
    rewrite(folder, change)
    code, out = inspect(folder)
    assert (code, said in out) == (4, True), out
    assert "DOES NOT HOLD" in out


def rewrite(folder: Path, change: Callable[[list[str]], list[str]]) -> None:
    file = folder / "journal.jsonl"
    lines = change(file.read_text(encoding="utf-8").splitlines())
    file.write_text("\n".join([*lines, ""]), encoding="utf-8")


def test_what_was_cut_off_is_found_with_a_paper_alone(taken: tuple[Path, str]) -> None:
    folder, anchor = taken
    rewrite(folder, cut)
    assert inspect(folder)[0] == 0  # a chain alone cannot know, and says so
    code, out = inspect(folder, "--anchor", anchor)
    assert code == 4
    assert "the paper was printed of" in out
    assert inspect(folder, "--key", "00" * 32)[0] == 4


def test_a_paper_of_what_a_restore_lost_is_told_apart(at: Terminal, nowhere: Path) -> None:
    made = at.ok("backup", "--to", str(nowhere / "copies"))
    _, lost = at.accepted()
    why = ("--reason", "the disk died", "--as", "Mara Linde", "--move-aside")
    at.ok("restore", made["copy"], *why)
    _, kept = at.accepted()
    at.ok("export", "journal", "--to", "journal.jsonl")
    code, out = inspect(nowhere, "--anchor", lost)
    assert code == 4
    assert "or lost: a restore came after incarnation 1, and the paper may be of it" in out
    assert inspect(nowhere, "--anchor", kept)[0] == 0
    changed = f"{kept.rsplit(maxsplit=1)[0]} {lost.rsplit(maxsplit=1)[1]}"
    assert "a restore came after" not in inspect(nowhere, "--anchor", changed)[1]


def test_no_file_of_ours_is_said_in_a_sentence(taken: tuple[Path, str]) -> None:
    folder, _ = taken
    (folder / "journal.jsonl").write_bytes(b"\xff\xfe")
    assert inspect(folder)[0] == 2
    (folder / "journal.jsonl").unlink()
    assert inspect(folder)[0] == 2
    (folder / "journal.jsonl").write_text("[]\n{}\n1\n")
    code, out = inspect(folder)
    assert (code, "line 2 of the file is damaged" in out) == (4, True)


def flips(content: bytes, bits: list[int]) -> int:
    """How many single bit flips of a file nobody notices."""
    missed = 0
    for bit in bits:
        changed = bytearray(content)
        changed[bit // 8] ^= 1 << bit % 8
        try:
            first, *lines = bytes(changed).decode().split("\n")
            inspector = Inspector()
            for line in lines[:-1] if not lines[-1] else lines:
                inspector.take(line)
            inspector.held_against(first, None, None)
        except (ValueError, LookupError, TypeError, AttributeError):
            continue  # the script says the same: that line is damaged
        missed += not inspector.flaws
    return missed


def small(folder: Path, at: Terminal) -> bytes:
    at.ok("export", "journal", "--to", "small.jsonl")
    return (folder / "small.jsonl").read_bytes()


def test_bit_flips_are_found(at: Terminal, nowhere: Path) -> None:
    content = small(nowhere, at)
    bits = random.Random(7).sample(range(len(content) * 8), 250)
    assert flips(content, []) == 0
    assert flips(content, bits) == 0


@pytest.mark.soak
def test_many_bit_flips_are_found(at: Terminal, nowhere: Path) -> None:
    content = small(nowhere, at)
    bits = random.Random(8).sample(range(len(content) * 8), 20_000)
    assert flips(content, bits) == 0


def test_everything_as_tables(at: Terminal, nowhere: Path) -> None:
    at.accepted()
    strange = ("=1+1", "@SUM(A1)", "+49 1", "-3", "\uff1dx", "Éva\u00a0=2")
    for name in strange:
        assert run("person", "add", "--role", "customer", "--", name).code == 0
    at.ok("supply", "add", "o1", "--gas", "oxygen", "--size", "50L", "--at", "180bar",
          "--as", "Mara Linde")  # fmt: skip
    said = at.ok("export", "all", "--to", "out")
    names = {Path(file).name for file in said["files"]}
    wanted = {"cylinders", "people", "fills", "supplies", "analysers", "entries"}
    assert names == {f"{one}{end}" for one in wanted for end in (".csv", ".jsonl")} | {"README.txt"}
    for table in wanted:
        rows, objects = read_back(nowhere / "out" / table)
        assert len(rows) == len(objects) == said["rows"][table] > 0
        assert [*rows[0]] == [*objects[0]]
        for row, one in zip(rows, objects, strict=True):
            for name, cell in row.items():
                if isinstance(one[name], int | float) and not isinstance(one[name], bool):
                    assert float(cell) == one[name]  # a number is written as one
                else:
                    assert not cell.startswith(tuple("=+-@\t\r＝＋－＠")), (table, name, cell)
    people = {row["name"] for row in read_back(nowhere / "out" / "people")[0]}
    assert people >= {f"'{name}" for name in strange[:5]} | {strange[5]}
    about = (nowhere / "out" / "README.txt").read_text(encoding="utf-8")
    assert "PERSONAL DATA: names" in about
    assert (nowhere / "out" / "people.csv").stat().st_mode & 0o077 == 0


def read_back(path: Path) -> tuple[list[dict[str, str]], list[dict[str, Any]]]:
    """The rows of a table as a spreadsheet and as a program read them."""
    with path.with_suffix(".csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    lines = path.with_suffix(".jsonl").read_text(encoding="utf-8").split("\n")[:-1]
    return rows, [json.loads(line) for line in lines]


def test_where_nothing_can_be_written_one_sentence_says_so(at: Terminal, nowhere: Path) -> None:
    (nowhere / "a file").write_text("x")
    for words in (
        ("journal", "--to", "none/journal.jsonl"),
        ("all", "--to", "a file"),
        ("journal", "--to", "verify_journal.py"),
        ("all", "--to", "a file/b"),
    ):
        said = run("export", *words)
        assert (said.code, one_message(said.err)) == (2, True), words


def test_a_recall_is_listed_and_printed(at: Terminal, nowhere: Path) -> None:
    fill, _ = at.accepted()
    at.ok("person", "contact", "Kai Diver", "--phone", "555 0100")
    said = at.ok("recall", "--analyser", "A1", "--since", "2026-11-25", "--out", "recall.pdf")
    assert (said["cylinders"], [one["fill"] for one in said["fills"]]) == (["C-1001"], [int(fill)])
    assert said["calls"][0]["phone"] == "555 0100"
    assert (nowhere / "recall.pdf").read_bytes().startswith(b"%PDF")
    told = run("recall", "--analyser", "A1").out
    assert "[ ] Kai Diver, 555 0100: C-1001" in told
    assert run("recall").code == 2
    assert at.ok("book", "recompute")["differences"] == []
