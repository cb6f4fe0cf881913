"""Style sheets that are read once for all the terminals of a process.

The toolkit reads the style of each kind of widget again for each terminal, and again with each
theme, since it keeps fewer than there are. A rule is not changed by who uses it.
"""

from __future__ import annotations

from typing import Any

from textual.css.stylesheet import Stylesheet

_read = Stylesheet._parse_rules
_KEPT: dict[Any, Any] = {}


def parsed_once(sheet: Stylesheet, *given: Any, **named: Any) -> Any:
    """Parse rules, or take those of the same text under the same variables."""
    key = (given, frozenset(named.items()), frozenset(sheet._variables.items()))
    if key not in _KEPT:
        _KEPT[key] = _read(sheet, *given, **named)
    return _KEPT[key]
