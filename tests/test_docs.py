"""README, docstrings and examples are true: they are run."""

from __future__ import annotations

import doctest
import importlib
import inspect
import json
import pkgutil
import re
import shlex
from pathlib import Path

import click
import pytest

import blender
import reports
from tests.station.shop import cheap_secrets
from tui import entry
from tui.cli import _COMMANDS, root

ROOT = Path(__file__).parent.parent
MODULES = [
    found.name
    for package in (blender, reports)
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
]
# Conversions are one line each and name both units there.
ELSEWHERE = ("blender.record", "blender.station", "blender.units")
PHYSICS = [n for n in MODULES if n.startswith("blender.") and not n.startswith(ELSEWHERE)]


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_run(name):
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert failed == 0


def public_functions(name):
    module = importlib.import_module(name)
    for label, thing in vars(module).items():
        if label.startswith("_") or getattr(thing, "__module__", None) != name:
            continue
        if inspect.isfunction(thing):
            yield label, thing


@pytest.mark.parametrize("name", PHYSICS)
def test_every_physical_parameter_is_documented_with_its_unit(name):
    for label, function in public_functions(name):
        text = inspect.getdoc(function) or ""
        described = text.partition("Parameters")[2].partition("Returns\n---")[0] or text
        for parameter in inspect.signature(function).parameters.values():
            if str(parameter.annotation) == "float":
                assert re.search(rf"\b{parameter.name}\b", described), (label, parameter.name)
                assert "[" in text, (label, parameter.name)


def readme_commands():
    """Every command of README's shell blocks, continued lines joined."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for block in re.findall(r"```\n(.*?)```", text, re.DOTALL):
        for line in block.replace("\\\n", " ").splitlines():
            words = shlex.split(line, comments=True)
            if words and words[0] in ("fillwright", "export"):
                yield words


def test_the_commands_of_the_readme_work(tmp_path, monkeypatch, capsys):
    cheap_secrets(monkeypatch)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILLWRIGHT_SECRET", "a readme's secret")
    anchor = ""
    for words in readme_commands():
        if words[0] == "export":
            for pair in words[1:]:
                monkeypatch.setenv(*pair.split("=", 1))
            continue
        given = [anchor if word.startswith("TEXT OF THE") else word for word in words[1:]]
        given = [key_of(word, capsys) if word.startswith("KEY OF ") else word for word in given]
        assert entry.run([*given, "--json"]) == 0, (given, capsys.readouterr())
        answer = json.loads(capsys.readouterr().out)
        anchor = answer["anchor"] if words[1] == "label" else anchor
    assert anchor


def key_of(word, capsys):
    """The public key of the station in a file, as its own screen shows it."""
    assert entry.run(["site", "show", "--station", word.removeprefix("KEY OF "), "--json"]) == 0
    return json.loads(capsys.readouterr().out)["key"]


def test_every_command_is_in_the_readme_or_says_what_it_does():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in _COMMANDS:
        command = root.get_command(click.Context(root), name)
        assert command is not None, name
        assert command.help, name
        if name not in ("rebuild", "demo"):
            assert f"fillwright {name}" in text, name
