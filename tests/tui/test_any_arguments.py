"""Whatever is typed: an exit code that means something, one document, never a traceback."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.tui.terminal import Said, Terminal, leaves, run
from tui.cli import root

# The demonstration takes long, and a server ends when it is told to: both are tried elsewhere.
LASTING = ("demo", "serve")
COMMANDS = {words: cmd for words, cmd in leaves(root).items() if words[0] not in LASTING}
NASTY = [
    "", " ", "-", "--", "-3", "-1bar", "[/]", "[red]x[/red]", "[@click=app.quit]x[/]", "=1+1",
    "\x1b[2J\x1b[31m", "\u202edlo", "\u200b", "é", "e\u0301", "\ud83d\ude00", "\ud800", "x" * 300,
    "9" * 300, "12,5", "1.234,5", "1,234", "1e5", "1e999", "nan", "inf", "-inf", "0", "-0",
    "0.0", "+3", "0x10", "１２", "1_000", "%s%n", "{}", "${HOME}", "`id`", "$(id)", "; rm -rf x",
    "' or 1=1 --", "NULL", "None", "true", "../../etc/passwd", "/dev/null", "a\nb", "a\tb", "\r",
    "--json", "--help", "@", ":", "@:", "=", "+", "A+A", "A+B+C", "%", "bar", "C", "L",
]  # fmt: skip
PLAUSIBLE = {
    "size": ["12L", "2x12L", "80cuft@3000psi", "0L", "50L", "1e3L", "-1L", "1000x1000L"],
    "pressure": ["0bar", "60bar", "232bar", "348bar", "499bar", "500bar", "3000psi", "23MPa",
                 "1.01325bar", "795mbar", "84,4bar", "0.0001bar"],
    "temperature": ["20C", "68F", "-20C", "60C", "61C", "293.15K", "30C,41C", "20C,", ",20C"],
    "gas": ["air", "oxygen", "oxygen99.5", "helium", "EAN32", "18/45", "heliox 20/80", "0.32/0",
            "argon", "EAN0", "EAN100", "0/100", "60/60", "1/0", "0.0/1.0", "oxygen0", "oxygen101"],
    "gas_at": ["60bar@20C:EAN28", "230bar:EAN32", "0bar:air", "180bar@20C:EAN40", "10bar:argon",
               "220bar:18/45", "150bar:oxygen", "1bar:helium", "499bar@60C:EAN99",
               "0bar@-20C:0/99"],
    "supply": ["o1=oxygen", "he=helium", "o1=oxygen99.5@180barx50L", "b=EAN32@0barx1L", "x=",
               "=air", "top=air", "o=oxygen@1barx0.2L", "n=nitrogen"],
    "percent": ["32.1", "31.8", "0", "100", "101", "20.9", "45.0", "99.6", "0.4", "32,1%"],
    "word": ["gas", "wall", "room", "yes", "no", "open", "closed", "analysed", "stated",
             "blender", "manager", "customer", "auditor", "nitrox", "trimix", "salt", "fresh",
             "partial-pressure", "continuous-flow", "banked", "mass", "helium,oxygen,top"],
    "place": ["C-1001", "C-1002", "T-1+T-2", "D-7", "A1", "A2", "Kai Diver", "Jo Blend",
              "Mara Linde"],
    "day": ["2026-11-25", "2025-03", "2026-13", "0000-00", "9999-12-31", "1969-12-31", "20261125"],
    "other": ["40%", "25C/60%", "200L/min", "air@20.9", "roll-100x62", "30m", "100ft", "1.4",
              "out.pdf", "out.csv", "out", "none/out.pdf", "1", "2", "3", "4", "5", "77",
              "99999999999"],
}  # fmt: skip
LIKELY = {
    "have": "gas_at", "want": "gas_at", "at": "pressure", "temperature": "temperature",
    "settle_at": "temperature", "ambient": "pressure", "limit": "pressure", "cylinder": "size",
    "size": "size", "wp": "pressure", "tp": "pressure", "supply": "supply", "top": "gas",
    "gas": "gas", "wanted": "gas", "reading": "percent", "helium": "percent", "number": "other",
    "serial": "place", "analyser": "place", "customer": "place", "name": "place", "who": "place",
    "from": "day", "to": "day", "tested": "day", "inspected": "day", "order": "word",
    "method": "word", "kind": "word", "role": "word", "clean": "word", "residual": "word",
    "water": "word", "purge_to": "pressure", "calibration_ambient": "pressure",
}  # fmt: skip
ANY = sorted({value for values in PLAUSIBLE.values() for value in values})


def value_for(parameter: click.Parameter) -> st.SearchStrategy[str]:
    """Mostly what belongs there, else what belongs elsewhere, else something nasty."""
    fit = PLAUSIBLE[LIKELY.get(parameter.name or "", "other")]
    kinds = [*[st.sampled_from(fit)] * 6, st.sampled_from(ANY), st.sampled_from(NASTY)]
    return st.one_of(*kinds, mutated(st.sampled_from(fit)))


@st.composite
def mutated(draw: st.DrawFn, texts: st.SearchStrategy[str]) -> str:
    text = draw(texts)
    where = draw(st.integers(0, len(text)))
    cut = draw(st.integers(0, 2))
    extra = draw(st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=3))
    return text[:where] + extra + text[where + cut :]


@st.composite
def command_lines(draw: st.DrawFn) -> list[str]:
    words = draw(st.sampled_from(sorted(COMMANDS)))
    arguments: list[str] = []
    for parameter in COMMANDS[words].params:
        if parameter.name in ("json", "station", "help", "secret_file", "new_secret_file"):
            continue
        wanted = parameter.required or isinstance(parameter, click.Argument)
        if draw(st.integers(0, 19)) >= (19 if wanted else 5):
            continue
        value = draw(value_for(parameter))
        if isinstance(parameter, click.Argument):
            arguments.append(value)
        elif parameter.is_flag:
            arguments.append(parameter.opts[0])
        elif draw(st.booleans()) or value.startswith("-"):
            arguments.append(f"{parameter.opts[0]}={value}")
        else:
            arguments += [parameter.opts[0], value]
    if words[0] == "init":
        arguments += ["--station", draw(st.sampled_from(("new.db", "a/b.db", "[/]", "=1+1.db")))]
    return [*words, *arguments, *draw(st.sampled_from(([], ["--json"], ["--json"])))]


def check(arguments: list[str], said: Said) -> None:
    assert said.code in (0, 2, 3, 4, 5), (arguments, said)
    assert "Traceback" not in said.out + said.err
    if said.code:
        assert said.err.startswith("fillwright: "), (arguments, said)
        assert "Error:" not in said.err
    if "--json" in arguments[2:] and arguments[-1] == "--json" and "--help" not in arguments:
        assert isinstance(said.json, dict), (arguments, said)
        json.dumps(said.json, allow_nan=False)
    if said.code in (2, 5):
        assert len(said.err.strip().splitlines()) == 1, (arguments, said)


@pytest.fixture(name="used")
def _used(at: Terminal) -> Iterator[Terminal]:
    """A station with a fill in most states."""
    at.request()
    at.started("C-1003")
    at.request(cylinder="D-7")
    at.accepted()
    at.analysed("C-1003")
    yield at


def _explore(used: Terminal, examples: int) -> None:
    backup = used.path.with_name("backup.db")
    shutil.copy2(used.path, backup)

    @settings(
        max_examples=examples, deadline=None, derandomize=True, database=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(arguments=command_lines())
    def explore(arguments: list[str]) -> None:
        check(arguments, run(*arguments))

    explore()
    assert used.ok("verify")["ok"]


def test_any_arguments(used: Terminal) -> None:
    _explore(used, 80)


@pytest.mark.soak
def test_any_arguments_for_long(used: Terminal) -> None:
    _explore(used, 5_000)


PANEL = (
    "fill reading 2 --at=? --temperature=20C",
    "fill reading 2 --at=70bar --temperature=?",
    "fill reading 2 --at=70bar --temperature=20C --gauge=?",
    "fill start 1 --serial=?",
)


def _nasty_at_the_panel(arguments: str, texts: list[str]) -> None:
    for nasty in texts:
        words = [word.replace("?", nasty) for word in arguments.split()]
        check([*words, "--json"], run(*words, "--json"))


def test_nasty_text_at_the_panel(used: Terminal) -> None:
    """Each text at one of the places; at every place it is the soak's."""
    for at, arguments in enumerate(PANEL):
        _nasty_at_the_panel(arguments, NASTY[at :: len(PANEL)])


@pytest.mark.soak
@pytest.mark.parametrize("arguments", PANEL)
def test_every_nasty_text_at_the_panel(used: Terminal, arguments: str) -> None:
    _nasty_at_the_panel(arguments, NASTY)


def test_what_was_entered_is_shown_harmlessly(used: Terminal) -> None:
    """Whatever got into the record, no view of it sends a command to a terminal."""
    shown = [text for text in NASTY if not (text.isascii() and text.isprintable())]
    for nasty in (*shown, "[/]", "=1+1", "x" * 300):
        run("fill", "start", "1", f"--serial={nasty}")
        run("fill", "quarantine", "1", f"--reason={nasty}")
        run("fill", "release", "1", f"--reason={nasty}", "--as", "Mara Linde")
        run("fill", "request", "--cylinder=C-1001", "--customer=Kai Diver", f"--have={nasty}",
            "--residual=analysed", "--want=230bar:EAN32")  # fmt: skip
        run("person", "add", f"{nasty}", "--role=customer")
    views = [run("book", "list"), run("book", "show", "1"), run("person", "list")]
    for said in views:
        assert said.code == 0
        assert all(line.isprintable() for line in said.out.splitlines())
    assert used.ok("verify")["ok"]


def test_paths_are_only_paths(at: Terminal, nowhere: Path) -> None:
    fill, _ = at.accepted()
    for name in ("[red]", "=1+1.pdf", "é ü.pdf", "-x.pdf"):
        said = run("label", fill, f"--out={name}")
        assert said.code == 0, said
        assert (nowhere / name).exists()
