"""Which readings a new one sets aside while they are in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile

from blender.decision import Reading, agree
from blender.record.models import AnalysisRow
from blender.station.numbers import fraction


def reading_of(row: AnalysisRow) -> Reading:
    """Return a stored analysis as a reading."""
    return Reading(fraction(row.o2_ppm), None if row.he_ppm < 0 else fraction(row.he_ppm))


def outdone(new: Reading, earlier: Sequence[AnalysisRow], doubted: set[int]) -> list[int]:
    """Return the readings of a single cylinder that a new one sets aside.

    They are those it does not agree with.  Where it lies between two that differ, it agrees with
    both, and so would any other: then it takes a second such reading, and the two stand for all.

    Parameters
    ----------
    new : Reading
        By another analyser than those in doubt, or by one that was set afresh.
    earlier : sequence of AnalysisRow
        The readings that stand, oldest first.
    doubted : set of int
        The entries of readings after which the fill was in doubt.

    Returns
    -------
    list of int
        Their entries; empty if the doubt stays.
    """
    off = [row.seq for row in earlier if not agree(new, reading_of(row))]
    if off:
        return off
    in_doubt = list(takewhile(lambda row: row.seq in doubted, reversed(earlier)))
    between = {row.seq for row in in_doubt[:-1] if row.party == "staff"}  # the last began it
    return [row.seq for row in earlier if row.seq not in between] if between else []


def outdone_at_post(new: Reading, earlier: Sequence[AnalysisRow], serial: str) -> list[int]:
    """Return the readings of a set that a new one at one of its posts sets aside.

    It takes the place of what was read at that post before, and says nothing of the other; the
    diver's is set aside where it does not agree with it.
    """
    return [
        row.seq
        for row in earlier
        if (row.serial == serial if row.party == "staff" else not agree(new, reading_of(row)))
    ]
