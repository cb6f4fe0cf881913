"""A record against a line of it that somebody else holds."""

from __future__ import annotations

from typing import Any

from blender.record.anchor import Anchor
from blender.record.walk import Problem, Stored, Walk


class Held:
    """The one check that finds what a chain alone cannot: an end cut off, a past rewritten.

    Parameters
    ----------
    anchor : Anchor or None
        What a label or report says; None where nobody showed one.
    """

    def __init__(self, anchor: Anchor | None) -> None:
        self._anchor = anchor
        self._found: Any = None

    def take(self, row: Stored) -> None:
        """Note the entry the anchor speaks of."""
        if self._anchor is not None and row.seq == self._anchor.seq:
            self._found = row.digest

    def problems(self, walk: Walk) -> list[Problem]:
        """Say whether the record at its end still has what the anchor says."""
        if self._anchor is None or not (text := self._flaw(self._anchor, walk)):
            return []
        return [Problem(self._anchor.seq, "anchor", text)]

    def _flaw(self, anchor: Anchor, walk: Walk) -> str:
        if anchor.station != walk.station:
            return f"the anchor is of station {anchor.station}, the record of {walk.station!a}"
        if anchor.incarnation > walk.incarnation:
            return (
                f"the anchor is of incarnation {anchor.incarnation}, the record is still in"
                f" {walk.incarnation}: an older copy was put in its place"
            )
        later = [seq for incarnation, seq in walk.restores if incarnation > anchor.incarnation]
        if later and (restored := later[0]) <= anchor.seq:
            return (
                f"the entry of incarnation {anchor.incarnation} was lost with the restore that is"
                f" entry {restored}; it was not forged, but the record knows nothing of it"
            )
        if self._found is None:
            return (
                f"the record ends with entry {walk.seq} or lacks entry {anchor.seq}: it was cut"
                " short, or an older copy was put in its place"
            )
        if self._found == anchor.head:
            return ""
        return "the entry is not the one the anchor was printed for: the record was rewritten"
