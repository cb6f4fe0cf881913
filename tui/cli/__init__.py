"""The command line: one lazy group, so that a command loads only what it needs."""

from __future__ import annotations

import gc
import importlib
from typing import Any

import click

from tui.cli.shared import kept, shared

VERSION = "0.1.0"
_COMMANDS = {
    "plan": "gas",
    "ways": "gas",
    "choose": "gas",
    "row": "row",
    "trip": "trip",
    "whatif": "topping",
    "transfer": "topping",
    "heat": "heat",
    "depth": "gas",
    "best": "gas",
    "analyse": "gas",
    "wall": "wall",
    "init": "people",
    "rule": "rule",
    "person": "people",
    "cylinder": "equipment",
    "supply": "equipment",
    "analyser": "equipment",
    "compressor": "plant",
    "price": "plant",
    "air": "equipment",
    "equipment": "gear",
    "due": "gear",
    "drift": "drift",
    "fill": "fill",
    "batch": "batch",
    "book": "book",
    "day": "day",
    "label": "papers",
    "labels": "papers",
    "tag": "papers",
    "certificate": "papers",
    "card": "papers",
    "paper": "papers",
    "receipt": "papers",
    "recall": "recall",
    "site": "site",
    "import": "imports",
    "export": "export",
    "verify": "upkeep",
    "rebuild": "upkeep",
    "backup": "backup",
    "restore": "backup",
    "move": "move",
    "grant": "move",
    "serve": "tablet",
    "tablet": "tablet",
    "demo": "demo",
}


_SPELLED = {"import": "import_"}  # Python keeps the word for itself


class _Lazy(click.Group):
    """A group whose commands are imported when they are asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - click's signature
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"tui.cli.{_COMMANDS[cmd_name]}")
        found: Any = getattr(module, _SPELLED.get(cmd_name, cmd_name))
        return found if isinstance(found, click.Command) else None


def _say_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    """Say which version this is, and which build, as each entry of the record names it."""
    if not wanted or ctx.resilient_parsing:
        return
    from blender.record.build import program_build

    click.echo(f"fillwright, build {program_build().partition('+')[2]}, version {VERSION}")
    ctx.exit()


@click.group(cls=_Lazy, invoke_without_command=True)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_say_version,
    help="Show the version and the build, and exit.",
)
@shared
@click.pass_context
def root(ctx: click.Context) -> None:
    """Blend breathing gas for divers, and keep the record of every fill.

    For qualified blenders. Oxygen burns; a wrong mix kills. Local codes and the cylinder's
    own markings come first, and every cylinder is analysed before use.

    Without a command `fillwright` opens the terminal, where a station is worked.
    """
    if ctx.invoked_subcommand is not None:
        return
    from tui.wiring import at_a_terminal, house

    if kept("json") or not at_a_terminal():
        click.echo(ctx.get_help())
        return
    gc.disable()  # until the first picture: what is loaded by then stays
    from tui.launch import launch

    ctx.exit(launch(house(kept("station"))))
