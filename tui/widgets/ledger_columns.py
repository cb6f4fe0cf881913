"""What a line of the ledger shows in which width; user text is cut, never wrapped or obeyed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from blender.gas import mix, name_of
from tui.shown import Units

Line = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Parameters
    ----------
    heading : str
        What stands over it.
    width : int
        How wide it is [terminal cells].
    says : callable
        Returns what a line shows in it.
    align : str
        ``left``; ``right`` for numbers; ``tail`` where the end of a text tells more.
    is_sign : bool
        Whether it is a warning.
    """

    heading: str
    width: int
    says: Callable[[Line, Units], str]
    align: str = "left"
    is_sign: bool = False


def columns(width: int, digits: int) -> list[Column]:
    """Return the columns for a width [terminal cells] and the digits of the highest number.

    The customer takes what is left over.
    """
    is_wide = width >= 105
    made = [
        Column("fill", max(digits, 4), lambda line, _: str(line["fill"]), "right"),
        Column("date", 16 if is_wide else 10, lambda line, _: _time(line, is_wide)),
        Column("", 1, lambda line, _: "!" if line["do_not_breathe"] else "", is_sign=True),
        Column("state", 11, lambda line, _: "GAS LOST" if line.get("gas_lost") else line["state"]),
        Column("cylinder", 14 if is_wide else 9, lambda line, _: line["cylinder"], "tail"),
        Column("wanted", 12 if is_wide else 9, lambda line, _: _wanted(line)),
        Column("O2/He %" if is_wide else "O2 %", 9 if is_wide else 5,
               lambda line, _: _analysed(line, is_wide), "right"),
        Column("pressure", 8, lambda line, units: units.pressure(line["pressure_bar"], 0), "right"),
    ]  # fmt: skip
    if is_wide:
        made.append(Column("blender", 12, lambda line, _: line.get("blender") or ""))
    used = 1 + sum(one.width + 1 for one in made)
    return [*made, Column("customer", max(width - used, 4), lambda line, _: line["customer"] or "")]


def _time(line: Line, is_wide: bool) -> str:
    return str(line["requested_at"])[: 16 if is_wide else 10].replace("T", " ")


def _wanted(line: Line) -> str:
    return name_of(mix(line["wanted"]["o2"], line["wanted"]["he"]))


def _analysed(line: Line, is_wide: bool) -> str:
    """Return what was analysed; that helium was not measured is never shown as none."""
    found = line["analysed"]
    if not found:
        return ""
    oxygen = f"{found['o2'] * 100:.1f}"
    has_helium = is_wide and found["he"] is not None and found["he"] > 0
    return f"{oxygen}/{found['he'] * 100:.1f}" if has_helium else oxygen
