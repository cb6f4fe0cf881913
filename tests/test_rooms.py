"""What a room loads, proved in a fresh process; and physics that neither reads nor asks."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PHYSICS = [
    *(ROOT / "blender").glob("*.py"),
    *(ROOT / "blender" / "planning").rglob("*.py"),
    *(ROOT / "blender" / "realgas").rglob("*.py"),
    *(ROOT / "blender" / "heat").rglob("*.py"),
    *(ROOT / "blender" / "drift").rglob("*.py"),
]
HEAVY = {
    "textual", "rich", "sqlmodel", "sqlalchemy", "pydantic", "click", "reportlab", "cryptography",
    "argon2", "platformdirs", "segno", "sqlite3",
}  # fmt: skip


def loaded(code: str) -> set[str]:
    """Top-level packages that are loaded after running code in a fresh process."""
    program = f"{code}\nimport sys\nprint('LOADED', *{{n.partition('.')[0] for n in sys.modules}})"
    kept = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env=kept | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split("LOADED")[1].split())


def test_physics_loads_no_database_terminal_or_paper() -> None:
    rooms = "blender.planning, blender.depth, blender.decision, blender.analysis, blender.realgas"
    found = loaded(f"import {rooms}, blender.vessel")
    assert not found & HEAVY
    foreign = {name for name in found - sys.stdlib_module_names if not name.startswith("_")}
    assert foreign - loaded("pass") <= {"numpy", "blender"}


@pytest.mark.parametrize(
    "arguments",
    [
        ["depth", "EAN32"],
        ["plan", "--cylinder", "12L", "--have", "60bar:EAN28", "--want", "230bar:EAN32"],
        ["analyse", "--reading", "32.4"],
    ],
)
def test_a_calculator_loads_no_record_paper_or_terminal(arguments: list[str]) -> None:
    found = loaded(f"import tui.entry; assert tui.entry.run({arguments!r}) == 0")
    assert not found & (HEAVY - {"click"})


def test_reading_the_record_loads_no_paper_or_terminal(tmp_path: Path) -> None:
    missing = str(tmp_path / "none.db")
    found = loaded(
        f"import tui.entry; assert tui.entry.run(['book', 'list', '--station', {missing!r}]) == 2"
    )
    assert not found & {"textual", "rich", "reportlab", "segno"}


def test_the_first_picture_waits_for_no_numbers_and_no_database() -> None:
    found = loaded("import tui.entry, tui.launch, tui.app, tui.places.door")
    assert "textual" in found
    assert not found & {"numpy", "sqlalchemy", "sqlmodel", "pydantic", "reportlab"}


FORBIDDEN_CALLS = {"open", "input", "print", "eval", "exec", "__import__"}
FORBIDDEN_MODULES = {
    "os", "time", "datetime", "random", "sys", "pathlib", "io", "socket", "subprocess", "logging",
    "warnings", "threading", "tempfile", "shutil", "secrets", "getpass",
}  # fmt: skip


@pytest.mark.parametrize("path", PHYSICS, ids=lambda p: str(p.relative_to(ROOT)))
def test_physics_opens_nothing_and_asks_no_clock(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in FORBIDDEN_CALLS, node.lineno
        if isinstance(node, ast.Import):
            names = {alias.name.partition(".")[0] for alias in node.names}
            assert not names & FORBIDDEN_MODULES, node.lineno
        if isinstance(node, ast.ImportFrom):
            assert (node.module or "").partition(".")[0] not in FORBIDDEN_MODULES, node.lineno


def test_only_wiring_reads_the_environment_and_the_clock() -> None:
    """One module of the terminal's room touches environment, clock and prompts."""
    asks = ("os.environ", "time.time", "datetime.now", "getpass", "perf_counter", "sys.stdin")
    rooms = [*(ROOT / "tui").rglob("*.py"), *(ROOT / "reports").rglob("*.py"),
             *(ROOT / "blender" / "station").rglob("*.py")]  # fmt: skip
    guilty = {
        str(path.relative_to(ROOT)): word
        for path in rooms
        for word in asks
        if path.name != "wiring.py" and word in path.read_text(encoding="utf-8")
    }
    assert guilty == {}
