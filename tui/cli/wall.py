"""`wall`: a table of stops for the wall, as lines, JSON, CSV or a printed page."""

from __future__ import annotations

from typing import Any

import click

from tui.cli.shared import in_units_of, on_paper, option, paper_of, record, shared, show


@click.command()
@option("--want", "200bar", "Settled pressure wanted.", required=True)
@option("--mix", "EAN32", "A mix wanted, a column each; repeat it.", multiple=True)
@option("--residual", "air", "What is left in the cylinders.", default="air", show_default=True)
@option("--from", "0bar", "The first residual pressure.", default="0bar", show_default=True)
@option("--to", "180bar", "The last; else the pressure wanted.")
@option("--step", "10bar", "From one to the next.", default="10bar", show_default=True)
@option("--oxygen", "oxygen99.5", "The oxygen.", default="oxygen", show_default=True)
@option("--helium", "helium", "The helium.", default="helium", show_default=True)
@option("--top", "air", "The top gas.", default="air", show_default=True)
@option("--temperature", "20C", "Of the gas at every gauge.", default="20C", show_default=True)
@option("--settle-at", "20C", "Where --want counts.", default="20C", show_default=True)
@option("--ambient", "1.01325bar", "Ambient pressure; gauges count from it.")
@option("--name", "TEXT", "Whose wall it is for.", default="")
@in_units_of
@option("--csv", "FILE", "CSV to write.")
@option("--out", "FILE", "PDF to write.")
@on_paper
@shared
def wall(
    name: str,
    units: str | None,
    csv: str | None,
    out: str | None,
    paper: str | None,
    mix: tuple[str, ...],
    **options: Any,
) -> None:
    """Make a wall table: oxygen stops over residual pressure and wanted mix."""
    from tui import wiring
    from tui.commands import wall as command

    units = _units(units)
    given = {word: value for word, value in options.items() if value is not None}
    given["from_"] = given.pop("from")
    table = command.wall_table(command.request(mixes=mix, **given))
    written = {}
    if csv:
        from reports.wall_csv import wall_csv

        written["csv"] = wiring.write_file(csv, wall_csv(table).encode(), "--csv")
    if out:
        from blender.station.views import Stamp
        from reports.wall_table import WallPaper, wall_table_pdf

        now = wiring.clock()
        drawn = WallPaper(table, name, Stamp.of(now), units == "psi")
        written["file"] = wiring.write_file(out, wall_table_pdf(drawn, _sheet(paper)))
    told = [f"Written: {path}" for path in written.values()]
    show(command.answer(table) | written, [*command.lines(table, units), *told])


def _sheet(asked: str | None) -> str:
    """Return the sheet that was asked for, else the station's; a wall table needs no station."""
    from blender.errors import FillwrightError

    try:
        with record() as opened:
            return paper_of(opened, asked)
    except FillwrightError:
        return asked or "a4"


def _units(asked: str | None) -> str:
    """Return the units that were asked for, else the station's; a wall table needs no station."""
    from blender.errors import FillwrightError
    from blender.station.sheets import is_imperial, sheets

    if asked:
        return "psi" if is_imperial(asked) else "bar"
    try:
        with record() as opened:
            return sheets(opened).units
    except FillwrightError:
        return "bar"
