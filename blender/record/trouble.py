"""What went wrong with a fill that still stands, in the figures it was said in; no database room.

A note of a reading is a sentence in the record for ever.  A list of many fills has room for its
figures alone, so they are taken out of the sentence here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

BEYOND, LOST = "beyond-stop", "lost-gas"
_BAR = r"([\d.]+) bar(?: \([^)]*\))?"
# As `blender.station.judging` says them; a test holds the two together.
_SAID = {
    BEYOND: re.compile(rf"(?P<shows>{_BAR}) is beyond the stop of (?P<should>{_BAR})"),
    LOST: re.compile(rf"should show (?P<should>{_BAR}) .*?, shows (?P<shows>{_BAR})"),
}


@dataclass(frozen=True, slots=True)
class Trouble:
    """A stop that was passed, or gas that was lost.

    Parameters
    ----------
    kind : str
        `BEYOND` or `LOST`.
    should_bar, shows_bar : float
        The stop, or what the gauge should have shown; and what it showed [bar].
    gas : str
        Of a passed stop, the gas let in.
    """

    kind: str
    should_bar: float
    shows_bar: float
    gas: str = ""


def trouble(kind: str, text: str, gas: str = "") -> Trouble | None:
    """Take the figures out of a note; None where it has none.

    Examples
    --------
    >>> trouble(BEYOND, "92.0 bar (1334 psi) is beyond the stop of 84.4 bar (1224 psi): ...")
    Trouble(kind='beyond-stop', should_bar=84.4, shows_bar=92.0, gas='')
    >>> trouble(LOST, "the gauge should show 220.0 bar at 20.0 degC, shows 150.0 bar: a leak?")
    Trouble(kind='lost-gas', should_bar=220.0, shows_bar=150.0, gas='')
    """
    found = _SAID[kind].search(text)
    if found is None:
        return None
    should, shows = (float(found[part].split()[0]) for part in ("should", "shows"))
    return Trouble(kind, should, shows, gas)
