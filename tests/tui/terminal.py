"""The command line as a script sees it: arguments in, exit code and two streams out."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from tests.station.shop import NAMES, SECRET
from tui import entry


@dataclass(frozen=True)
class Said:
    """What one command came to."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The one document on standard output; anything else there is an error."""
        return json.loads(self.out, parse_constant=_no_constant)


def _no_constant(name: str) -> None:
    raise ValueError(name)


def run(*arguments: str) -> Said:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = entry.run(arguments)
    return Said(code, out.getvalue(), err.getvalue())


@dataclass
class Terminal:
    """A command line at a founded station, signed by Jo unless another is named."""

    path: Path

    def __call__(self, *arguments: str) -> Said:
        return run(*arguments)

    def ok(self, *arguments: str) -> Any:
        """Run with `--json`, insist on success and return the document."""
        said = run(*arguments, "--json")
        assert said.code == 0, said
        assert said.err == ""
        return said.json

    def request(self, *more: str, cylinder: str = "C-1001") -> str:
        answer = self.ok(
            "fill", "request", "--cylinder", cylinder, "--customer", "Kai Diver",
            "--have", "60bar@20C:EAN28", "--residual", "analysed", "--want", "230bar:EAN32",
            *more,
        )  # fmt: skip
        return str(answer["fill"])

    def started(self, cylinder: str = "C-1001") -> str:
        fill = self.request(cylinder=cylinder)
        self.ok("fill", "plan", fill)
        self.ok("fill", "start", fill, "--serial", cylinder)
        return fill

    def analysed(self, cylinder: str = "C-1001") -> str:
        fill = self.started(cylinder)
        for at in ("84.425bar", "230bar"):
            self.ok("fill", "reading", fill, "--at", at, "--temperature", "20C")
        self.ok(
            "fill", "analyse", fill, "--serial", cylinder, "--analyser", "A1", "--reading", "32.1"
        )
        return fill

    def accepted(self, cylinder: str = "C-1001") -> tuple[str, str]:
        fill = self.analysed(cylinder)
        answer = self.ok("fill", "accept", fill, "--name", "Kai Diver", "--reading", "31.8")
        return fill, answer["anchor"]


def environment(path: Path) -> dict[str, str]:
    """Variables of a script that works at a station."""
    return {
        "FILLWRIGHT_STATION": str(path),
        "FILLWRIGHT_SECRET": SECRET,
        "FILLWRIGHT_AS": NAMES["blender"],
    }


def one_message(err: str) -> bool:
    """Whether standard error holds one message and no traceback."""
    lines = err.strip().splitlines()
    return len(lines) == 1 and lines[0].startswith("fillwright: ") and "Traceback" not in err


def leaves(group: Any, path: Sequence[str] = ()) -> dict[tuple[str, ...], Any]:
    """Every sub-command that does something, by its words."""
    found: dict[tuple[str, ...], Any] = {}
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            found |= leaves(command, (*path, name))
        elif command is not None:
            found[(*path, name)] = command
    return found
