"""The station's sentences as a screen says them: in its words and in the units shown.

The use cases speak to scripts, too: they name options and speak of bar and degC.  Here the
options become what the field is called, and every pressure, temperature and depth the unit
that is set, as `reports.in_units` turns them for papers.
"""

from __future__ import annotations

import re

from reports.in_units import Exact, exact, in_units
from tui.shown import Units

# What an option is called on the screens; one that is not here is its own words.
_FIELDS = {
    "ambient": "ambient pressure",
    "at": "pressure",
    "certified": "card shown",
    "clean": "oxygen clean",
    "delivery": "'delivery'",
    "draw": "'from'",
    "have": "what is left",
    "intake-air": "'intake'",
    "kind": "whose temperature",
    "limit": "'limit'",
    "order": "'order'",
    "qualified": "qualified for",
    "rated-intake": "'flow'",
    "residual": "how it is known",
    "settle-at": "'settle'",
    "supply": "'from'",
    "temperature": "temperature",
    "top": "'top'",
    "tp": "test pressure",
    "want": "what is wanted",
    "wp": "working pressure",
}
_OPTION = re.compile(r"--([a-z][a-z-]*[a-z])\b")


def said(text: str, units: Units, *known: object) -> str:
    """Return a sentence of the station in the screen's words and the units shown.

    Parameters
    ----------
    text : str
        The sentence.
    units : Units
        What quantities are shown in.
    known : object
        What it was made from, as dicts or dataclasses with unrounded figures.

    Examples
    --------
    >>> said("--tp: 200 bar is not usable; give more than 232 bar", Units())
    'test pressure: 200 bar is not usable; give more than 232 bar'
    >>> said("add oxygen to 84.4 bar at 20.0 degC", Units(imperial=True))
    'add oxygen to 1224 psi at 68 °F'
    >>> said("207 bar were left", Units(imperial=True), {"left_bar": 206.8427})
    '3000 psi were left'
    """
    figures = exact(*known) if units.imperial else Exact()
    return in_units(_OPTION.sub(_field, text), units.imperial, figures)


def _field(found: re.Match[str]) -> str:
    return _FIELDS.get(found[1], found[1].replace("-", " "))
