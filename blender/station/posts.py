"""The posts of a set: one gas space with two valves, each analysed by itself."""

from __future__ import annotations

from collections.abc import Sequence

from blender.record.models import AnalysisRow
from blender.station.views import PostFacts


def of_posts(serial: str, standing: Sequence[AnalysisRow]) -> tuple[AnalysisRow, ...]:
    """Return the station's reading of each post of a set, the posts in their order.

    Parameters
    ----------
    serial : str
        The set's, such as ``T-1+T-2``.
    standing : sequence of AnalysisRow
        The readings that stand, oldest first; of a post read twice the later counts.
    """
    last = {row.serial: row for row in standing if row.party == "staff"}
    return tuple(last[post] for post in serial.split("+") if post in last)


def missing(serial: str, standing: Sequence[AnalysisRow]) -> tuple[str, ...]:
    """Return the posts of a set nobody has analysed yet; none of a single cylinder.

    A reading entered with the set's joined serial is of one post, whichever it was.
    """
    posts = serial.split("+")
    if len(posts) == 1:
        return ()
    read = [row.serial for row in standing if row.party == "staff"]
    left = [post for post in posts if post not in read]
    unnamed = sum(one not in posts for one in read)
    return tuple(left[: max(len(left) - unnamed, 0)])


def large(serial: str, standing: Sequence[AnalysisRow]) -> AnalysisRow:
    """Return the reading a label states: the last one, of a set the richest of its posts."""
    staff = [row for row in standing if row.party == "staff"]
    if len(serial.split("+")) == 1:
        return staff[-1]
    return max(of_posts(serial, standing) or staff[-1:], key=lambda row: row.o2_ppm)


def post_facts(serial: str, standing: Sequence[AnalysisRow]) -> tuple[PostFacts, ...]:
    """Return each post's reading of a set; nothing of a single cylinder."""
    if "+" not in serial:
        return ()
    return tuple(
        PostFacts(row.serial, row.o2_ppm / 1e4, None if row.he_ppm < 0 else row.he_ppm / 1e4)
        for row in of_posts(serial, standing)
    )
