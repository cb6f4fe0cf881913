"""What the station prints on: the sheet of its papers and the stock of its labels, as rules.

The stocks themselves are data of the room that prints; a test holds the names against it.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection

from blender.errors import InputError
from blender.record import search
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.station import wording
from blender.station.rules import in_force

PAPERS = ("a4", "letter")
UNITS = ("bar", "psi")  # with them go °C, m and kg, or °F, ft and lb
_ALSO = {"metric": "bar", "imperial": "psi"}
LABEL_STOCKS = (
    "roll-100x62",
    "roll-4x3in",
    "roll-4x6in",
    "a4-8-100x62",
    "a4-8-99x68",
    "letter-8-100x62",
    "letter-6-4x3in",
)
# The plain sheet that several labels are cut out of, where the labels' own stock is a roll.
_CUT_FROM = {"a4": "a4-8-100x62", "letter": "letter-8-100x62"}


@dataclass(frozen=True, slots=True)
class Sheets:
    """What is printed on, and in which units, unless something else is asked for."""

    paper: str
    label: str
    units: str = "bar"

    @property
    def labels(self) -> str:
        """The stock of several labels.

        Examples
        --------
        >>> Sheets("letter", "roll-4x3in").labels, Sheets("a4", "a4-8-99x68").labels
        ('letter-8-100x62', 'a4-8-99x68')
        """
        return _CUT_FROM[self.paper] if self.label.startswith("roll-") else self.label


def is_imperial(units: str) -> bool:
    """Return whether units that were asked for are psi, °F and ft.

    Raises
    ------
    InputError
        If there are no such units.

    Examples
    --------
    >>> is_imperial("bar"), is_imperial("psi"), is_imperial("imperial")
    (False, True, True)
    """
    meant = units_named(units)
    if meant not in UNITS:
        raise InputError("--units", ascii(units[:20]), f"allowed is {' or '.join(UNITS)}")
    return meant == "psi"


def units_named(typed: str) -> str:
    """Return what units are called here: ``imperial`` is psi, ``metric`` is bar.

    Examples
    --------
    >>> units_named("Imperial"), units_named("bar"), units_named("MPa")
    ('psi', 'bar', 'mpa')
    """
    wanted = typed.strip().lower()
    return _ALSO.get(wanted, wanted)


def leads_imperial(conn: Connection, fill: FillRow) -> bool:
    """Return whether the papers of one fill lead with psi, °F and ft.

    The station's rule decides once it was ever set, for every diver of the shop reads the same
    label; where nobody said anything, the units the fill was asked for in.
    """
    said = [row.new for row in search.rule_changes(conn) if row.rule == "units"]
    return said[-1] == "psi" if said else wording.is_imperial(fill)


def sheets(record: Record) -> Sheets:
    """Return what the rules in force say is printed on."""
    with record.read() as conn:
        rules = in_force(conn)
    return Sheets(rules.paper, rules.label_stock, rules.units)
