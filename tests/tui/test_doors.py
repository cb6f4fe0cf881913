"""Whatever comes in by any door: an exit code that means something, one sentence, nothing stored.

The doors are a table to take over, the text of a QR code, a file said to be a copy or a station,
the station's path, the name of a rule set, a person's own key file and a folder to write to;
command lines have a file of their own (`test_any_arguments`).
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.tui.house import Rig
from tests.tui.terminal import Said, Terminal, one_message, run
from tests.tui.test_any_arguments import NASTY
from tui import settings as own_settings

BOSS = ("--as", "Mara Linde")
FEW, MANY = 40, 3000
EXAMPLES = [FEW, pytest.param(MANY, marks=pytest.mark.soak)]
TEXT = st.text(st.characters(codec="utf-8"), max_size=40)
NO_NUL = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=60)
NASTY_TEXT = st.one_of(st.sampled_from(NASTY), NO_NUL)


def explored(number: int, act: Callable[..., None], **strategies: Any) -> None:
    """Try so many, the same ones each time."""
    tried = settings(
        max_examples=number, deadline=None, derandomize=True, database=None,
        suppress_health_check=list(HealthCheck),
    )(given(**strategies)(act))  # fmt: skip
    tried()


def refused(said: Said, *codes: int) -> None:
    assert said.code in codes, said
    assert "Traceback" not in said.out + said.err
    if said.code and not (said.code == 4 and said.out):  # what `verify` found is its answer
        assert one_message(said.err), said
        assert not any(ord(char) < 32 and char != "\n" for char in said.err), said


@pytest.fixture(name="kept")
def _kept(at: Terminal) -> Callable[[], None]:
    """Return a check that nothing was stored: the very bytes of the record, and nothing beside."""
    folder, before = at.path.parent, at.path.read_bytes()
    names = {one.name for one in folder.iterdir()}

    def check() -> None:
        assert at.path.read_bytes() == before
        assert {one.name for one in folder.iterdir()} == names

    return check


# -- tables to take over ---------------------------------------------------------------------

_CELL = st.one_of(
    st.sampled_from(["N-1", "12L", "232bar", "348bar", "2025-03", "2026-02", "yes", "air", "32"]),
    st.sampled_from(NASTY), TEXT,
)  # fmt: skip
_HEAD = st.sampled_from(
    ["serial,size,wp,tp,tested,inspected,clean", "name,certified,phone", "serial;size;wp", "a,b",
     "serial,serial", "fill,date,serial,o2,he,pressure,customer", ""]
)  # fmt: skip


@st.composite
def tables(draw: st.DrawFn) -> bytes:
    """Mostly rows of cells under a heading, else bytes of any kind."""
    if draw(st.integers(0, 4)) == 0:
        return draw(st.binary(max_size=300))
    rows = draw(st.lists(st.lists(_CELL, max_size=9), max_size=4))
    text = "\n".join([draw(_HEAD), *(",".join(row) for row in rows)])
    return text.encode("utf-8", "surrogatepass")


@pytest.mark.parametrize("examples", EXAMPLES)
def test_any_table(at: Terminal, nowhere: Path, kept: Callable[[], None], examples: int) -> None:
    """A rehearsal stores nothing whatever it says; only a whole table would be taken over."""

    def take(content: bytes, what: str) -> None:
        (nowhere / "t.csv").write_bytes(content)
        rehearsed = run("import", what, "t.csv", "--dry-run")
        refused(rehearsed, 0, 2)
        kept()
        if rehearsed.code == 2:
            refused(run("import", what, "t.csv", *BOSS), 2)
            kept()

    explored(examples, take, content=tables(),
             what=st.sampled_from(["cylinders", "customers", "fills"]))  # fmt: skip


# -- QR codes ------------------------------------------------------------------------------------


@pytest.mark.parametrize("examples", EXAMPLES)
def test_any_text_of_a_qr_code(at: Terminal, examples: int) -> None:
    """As an anchor, and as a label to hand a cylinder over: only the true one opens anything."""
    fill, label = at.accepted()
    words = label.split()
    mutated = st.builds(_mutated, st.just(label), st.integers(0, 2**32))
    shuffled = st.permutations(words).map(" ".join)
    entries = at.ok("verify")["entries"]

    def ask(text: str) -> None:
        if text.split() != words:
            refused(run("verify", "--anchor", text), 2, 4)

    def scan(text: str) -> None:
        if text.split() != words:
            said = run("fill", "collect", fill, "--serial", "C-1001", "--label", text)
            refused(said, 2, 5)

    for door in (ask, scan):  # what is refused at the counter is entered: it comes last
        explored(examples, door, text=st.one_of(NASTY_TEXT, mutated, shuffled))
    said = at.ok("book", "show", fill)
    assert said["state"] == "accepted"
    assert at.ok("verify")["ok"]
    assert at.ok("verify")["entries"] >= entries  # refusals are entered, too


def _mutated(text: str, seed: int) -> str:
    """Change one to three characters of a text, or leave some out, or say some twice."""
    draw = random.Random(seed)
    for _ in range(draw.randint(1, 3)):
        where = draw.randrange(len(text))
        put = draw.choice(["", chr(draw.randrange(32, 0x2FF)), text[where] * 2])
        text = text[:where] + put + text[where + 1 :]
    return text


# -- files -----------------------------------------------------------------------------------------


def _damaged(whole: bytes, seed: int) -> bytes:
    """Cut, overwrite, exchange or add some of a file, or have none of it."""
    draw = random.Random(seed)
    how = draw.randrange(6)
    content = bytearray(whole)
    if how == 0:
        return bytes(content[: draw.randrange(len(content))])
    if how == 1:
        return draw.randbytes(draw.randrange(2000))
    if how == 2:
        return b"SQLite format 3\x00" + draw.randbytes(4080)
    for _ in range(draw.choice((1, 8, 300))):
        where, size = draw.randrange(len(content)), draw.randint(1, 40)
        if how == 3:  # only in the header and the definitions
            where %= 8192
        content[where : where + size] = draw.randbytes(size)
    return bytes(content) + (draw.randbytes(700) if how == 5 else b"")


@pytest.mark.parametrize("examples", [15, pytest.param(1500, marks=pytest.mark.soak)])
def test_any_file_as_a_copy_or_a_station(
    at: Terminal, nowhere: Path, tmp_path: Path, kept: Callable[[], None], examples: int
) -> None:
    """It is restored only if it verifies; as a station it is refused or read, and no more."""
    whole = at.path.read_bytes()
    other = nowhere / "other"
    other.mkdir()
    shutil.copy(at.path.with_suffix(".keys"), other / "station.keys")

    def give(seed: int) -> None:
        file = nowhere / "given.db"
        file.write_bytes(_damaged(whole, seed))
        verified = run("verify", "--station", str(file))
        refused(verified, 0, 2, 4)
        said = run("restore", str(file), "--reason", "x", "--no-digest", *BOSS,
                   "--station", str(other / "station.db"))  # fmt: skip
        refused(said, 0, 2, 4, 5)
        assert said.code or verified.code == 0
        left = sorted(one.name for one in other.iterdir())
        assert left == (["station.keys"] if said.code else ["station.db", "station.keys"]), said
        for words in (("book", "list"), ("fill", "hold", "1", "--reason", "x"), ("rebuild",)):
            refused(run(*words, "--station", str(file)), 0, 2, 4, 5)
        for one in (*other.glob("station.db*"), *nowhere.glob("given.db*")):
            one.unlink()
        kept()

    explored(examples, give, seed=st.integers(0, 2**32))


@pytest.mark.parametrize("examples", EXAMPLES)
def test_any_path_of_a_station(
    at: Terminal, nowhere: Path, kept: Callable[[], None], examples: int
) -> None:
    """A reader makes no file of it, and neither does a writer where there is no station."""
    (nowhere / "folder").mkdir()
    (nowhere / "empty.db").touch()
    known = ["", ".", "..", "folder", "empty.db", "none.db", "folder/none.db", "none/none.db",
             "/dev/null", "/dev/full", "/proc/self/mem", "~", "sqlite:///none.db", "file:none.db",
             "sqlite://", "http://x/y.db", "none.db?mode=rwc", ":memory:", "sqlite:///:memory:",
             "x" * 300, "a\x00b", "\udcff"]  # fmt: skip
    before = sorted(str(one) for one in nowhere.rglob("*"))

    def ask(path: str) -> None:
        for words in (("book", "list"), ("verify",), ("fill", "hold", "1", "--reason", "x"),
                      ("backup", "--to", "copies")):  # fmt: skip
            said = run(*words, f"--station={path}")
            refused(said, 2, 4, 5) if path else refused(said, 0, 2, 4, 5)
            if path:
                assert sorted(str(one) for one in nowhere.rglob("*")) == before, (path, words)

    explored(
        examples // 2, ask, path=st.one_of(st.sampled_from(known[1:]), NASTY_TEXT.filter(bool))
    )
    kept()


# -- rule sets and keys --------------------------------------------------------------------------


@pytest.mark.parametrize("examples", EXAMPLES)
def test_any_name_of_a_rule_set_and_any_value_of_a_rule(
    at: Terminal, kept: Callable[[], None], examples: int
) -> None:
    names = st.one_of(
        st.sampled_from(["../eu", "eu-work.toml", "/etc/passwd", "eu\x00", "EU-WORK "]), NASTY_TEXT
    )

    def use(name: str, rule: str) -> None:
        refused(run("rule", "use", "--reason", "x", *BOSS, "--", name), 2)
        refused(run("rule", "set", "--reason", "x", *BOSS, "--", rule, name), 2)
        kept()

    explored(examples, use, name=names, rule=NASTY_TEXT)


@pytest.mark.parametrize("examples", EXAMPLES)
def test_any_file_of_keys_or_settings(rig: Rig, examples: int) -> None:
    """The usual keys are in force, and what is wrong is said in a line each."""
    lines = st.lists(st.one_of(
        st.sampled_from(['"panel.hold" = "alt+z"', '"panel.hold" = 3', "[a]", "x = [", '"" = ""',
                         '"panel.hold" = "ctrl+q"', "a = 1979-05-27", '"panel.hold" = ""']), TEXT,
    ), max_size=4)  # fmt: skip

    def read(said: list[str]) -> None:
        rig.files[own_settings.KEYMAP] = rig.files[own_settings.SETTINGS] = "\n".join(said)
        kept, told = own_settings.keymap(rig.house())
        assert all(isinstance(one, str) for one in (*kept, *kept.values(), *told))
        own_settings.load(rig.house())

    explored(examples, read, said=lines)


# -- folders to write to -------------------------------------------------------------------------


@pytest.mark.parametrize("examples", [20, pytest.param(1000, marks=pytest.mark.soak)])
def test_any_folder_to_export_to(at: Terminal, nowhere: Path, examples: int) -> None:
    """What was there stays as it was, and nothing is left half written."""
    inside = nowhere / "in"
    inside.mkdir()
    (nowhere / "file").write_text("mine")
    (nowhere / "full").mkdir()
    (nowhere / "full" / "mine.csv").write_text("mine")
    (nowhere / "link").symlink_to(nowhere / "full")
    (nowhere / "dangling").symlink_to(nowhere / "nothing")
    known = ["file", "full", "link", "dangling", "/dev/null", "/dev/full", "/proc", "file/x",
             "x" * 300, "in/\x00"]  # fmt: skip

    def write(to: str) -> None:
        for words in (("export", "all"), ("export", "journal"), ("backup",)):
            if words[-1] == "journal" and to == "file":
                continue  # a file that is named is written anew
            said = run(*words, f"--to={to}")
            refused(said, 0, 2, 5)
            assert (nowhere / "file").read_text() == "mine"
            assert (nowhere / "full" / "mine.csv").read_text() == "mine"
            assert [one for one in nowhere.rglob("*") if one.name.endswith((".part", ".tmp"))] == []

    names = NASTY_TEXT.map(lambda text: "in/" + text.replace("/", "|").replace("..", "_"))
    explored(examples, write, to=st.one_of(st.sampled_from(known), names))
    assert at.ok("verify")["ok"]
