"""The command `fillwright`: runs it, and turns every outcome into the exit code it stands for."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from blender.errors import FillwrightError, NoFillError, RefusedError
from tui.cli import root

INTERRUPTED = 130
_OF_AN_OPTION = (click.NoSuchOption, click.BadOptionUsage, click.BadParameter)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command and leave with its exit code."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    code = run(given)
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _let_go_of_stdout()
    sys.exit(code)


def run(arguments: Sequence[str]) -> int:
    """Run the command line and return the exit code; nothing escapes."""
    as_json = "--json" in arguments
    try:
        code = root.main(list(arguments), prog_name="fillwright", standalone_mode=False)
        sys.stdout.flush()
    except FillwrightError as error:
        code = _said(error, as_json)
    except click.ClickException as error:
        code = _usage(error, as_json)
    except (click.Abort, KeyboardInterrupt):
        print("fillwright: stopped; nothing more was entered", file=sys.stderr)
        code = INTERRUPTED
    except BrokenPipeError:
        _let_go_of_stdout()
        code = 0
    except SystemExit:  # click's own answer to a reader that went away
        code = 0
    except Exception as error:  # the last door: a bug of ours, said in one line
        code = _bug(error, as_json)
    return int(code or 0)


def _let_go_of_stdout() -> None:
    """Whoever read the answer has gone; what was entered stays entered."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _said(error: FillwrightError, as_json: bool) -> int:
    print(f"fillwright: {error.text}", file=sys.stderr)
    document: dict[str, Any] = {"error": {"code": error.code, "text": error.text}}
    if isinstance(error, NoFillError):
        document["alternatives"] = error.alternatives
        if not as_json:
            for other in error.alternatives:
                print(f"  nearest: {other.get('text', '')}", file=sys.stderr)
    if isinstance(error, RefusedError):
        document["gates"] = error.gates
    if as_json:
        print(json.dumps(document, allow_nan=False))
    return error.exit_code


def _usage(error: click.ClickException, as_json: bool) -> int:
    text = _what_is_missing(error) or " ".join(error.format_message().split())
    print(f"fillwright: {text}", file=sys.stderr)
    if as_json:
        print(json.dumps({"error": {"code": "bad-input", "text": text}}))
    return 2


def _what_is_missing(error: click.ClickException) -> str:
    """Say what could be given where something was left out; empty for other mistakes."""
    context = getattr(error, "ctx", None)
    if context is None:
        return ""
    if isinstance(error, click.MissingParameter) and error.param is not None:
        example = error.param.make_metavar(context)
        name = error.param.opts[0] if isinstance(error.param, click.Option) else example
        such = f", such as {name} {example}" if name != example else ""
        return f"{name}: nothing was given; it is needed{such}"
    if isinstance(context.command, click.Group) and not isinstance(error, _OF_AN_OPTION):
        words = ", ".join(context.command.list_commands(context))
        is_bare = isinstance(error, click.exceptions.NoArgsIsHelpError)
        what = "a command is missing" if is_bare else error.format_message().rstrip(".")
        return f"{context.info_name if context.parent else 'command'}: {what}; there are {words}"
    return ""


def _bug(error: Exception, as_json: bool) -> int:
    from tui.wiring import report_bug

    path = report_bug(error)
    text = f"a fault of the program, not of yours; what happened is kept in {path}"
    print(f"fillwright: {text}", file=sys.stderr)
    if as_json:
        print(json.dumps({"error": {"code": "bug", "text": text}}))
    return 1
