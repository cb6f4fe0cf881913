"""A line that a paper bears, held against this record: an entry's, another station's, a root's.

A paper of another station says nothing of this record.  The office has a copy of that station's,
and the paper is held against the copy.  Elsewhere it cannot be checked: that is no damage, but the
paper was not proved either, so the verification fails.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from blender.errors import FillwrightError, InputError
from blender.record import read, shop
from blender.record.anchor import STATION, Anchor, head_text, parse_anchor
from blender.record.journal import Record
from blender.record.models_of_shop import ShopRootRow, SiteRow
from blender.record.place import locate
from blender.record.replica import place_of
from blender.record.server import Location
from blender.record.shop_root import WORD as ROOT
from blender.record.verify import Report, verify
from blender.record.walk import Problem

_NUMBER = re.compile(r"[1-9][0-9]{0,15}")
_FORM = f"the line is '{ROOT} OFFICE INCARNATION NUMBER STATIONS ROOT', as on the day's sheet"
PAPER = "paper"  # the kind of a problem that is not this record's own
ANCHOR = "anchor"  # the same of a label's or report's line
Progress = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Paper:
    """What a verification found, and what the paper that was held against it says.

    Parameters
    ----------
    report : Report
        Of this record; a paper it contradicts or cannot judge is among its problems.
    text : str
        What the paper proved, or why it could not be checked.
    is_checked : bool
        False where this record cannot tell whether the paper is true.
    """

    report: Report
    text: str
    is_checked: bool = True

    @property
    def whole_but(self) -> str:
        """What is wrong where it is the paper alone, or entries an admitted restore lost."""
        found = self.report.problems
        if found and all("was lost with the restore" in one.text for one in found):
            return "lacks what the label says"
        if len(found) == 1 and not self.is_checked:
            return "the paper could not be checked with it"
        if found and all(one.kind == PAPER for one in found):
            return "is not what the paper says"
        return ""


def check_paper(
    location: str | Location, line: str | None, progress: Progress | None = None
) -> Paper:
    """Verify a record whole, and hold a paper's line against it.

    Parameters
    ----------
    location : str, Path or Server
        The record.
    line : str or None
        The text of a QR code or of a footer, or the root's line of a day's sheet; None for none.
    progress : callable
        Told now and then how many entries were read; what it raises stops the work.

    Raises
    ------
    InputError
        If there is no such record, or the line is none.
    """
    if line is None:
        told = "Entries cut off at the end show only beside a label or report"
        return Paper(verify(location, progress=progress), told)
    if line.split()[:1] == [ROOT]:
        named = root_named(line)
        report = verify(location, progress=progress)
        return _witnessed(location, report, named) if report.ok else Paper(report, _UNSURE)
    anchor = parse_anchor(line)
    report = verify(location, anchor, progress=progress)
    if report.station and anchor.station != report.station:
        left = [one for one in report.problems if one.kind != ANCHOR]
        return _elsewhere(location, replace(report, problems=left), anchor, progress)
    if any(one.kind == ANCHOR for one in report.problems):
        return Paper(report, "If the anchor was typed, type it again: one wrong letter looks the "
                             "same.")  # fmt: skip
    return Paper(report, f"It agrees with the label or report of entry {anchor.seq}.")


_UNSURE = "The record is not whole: what a paper of the shop says of it was not looked at."


def _unjudged(report: Report, found: Problem) -> Paper:
    """Answer for a paper that nothing here proves or contradicts."""
    report = replace(report, problems=[*report.problems, found])
    return Paper(report, "Nothing here proves the paper or contradicts it.", is_checked=False)


# -- the root of a day's sheet -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RootNamed:
    """A root as papers have it."""

    office: str
    life: int
    number: int
    size: int
    root: str


def root_named(line: str) -> RootNamed:
    """Read the line papers have of a root; what the day's sheet says after it does not matter.

    Raises
    ------
    InputError
        If it is none.
    """
    words = line.partition(";")[0].split() if line.isascii() and len(line) <= 400 else []
    if len(words) != 6 or words[0] != ROOT or not STATION.fullmatch(words[1]):
        raise InputError("anchor", ascii(line[:120]), _FORM)
    if not all(_NUMBER.fullmatch(word) for word in words[2:5]):
        raise InputError("anchor", ascii(line[:120]), _FORM)
    life, number, size = (int(word) for word in words[2:5])
    return RootNamed(words[1], life, number, size, words[5])


def _witnessed(location: str | Location, report: Report, named: RootNamed) -> Paper:
    """Hold a root against those this record witnessed; their proofs were verified with it."""
    given = {"office": named.office, "life": named.life, "number": named.number}
    with Record.open(location, readonly=True) as record, record.read() as conn:
        found = read.equal(conn, ShopRootRow, given, ("seq",))
    name = f"root {named.number} of {named.office}"
    if not found:
        told = f"this record did not witness {name}, so it cannot be checked here; if the paper is"
        told = f"{told} of this very station, the record was cut short"
        return _unjudged(report, Problem(0, PAPER, told))
    row = found[-1]
    if (head_text(bytes.fromhex(row.root)), row.size) != (named.root, named.size):
        told = f"{name} is another in this record, which witnessed it with entry {row.seq}"
        report = replace(report, problems=[Problem(row.seq, PAPER, told)])
        return Paper(report, "If it was typed, type it again: one wrong letter looks the same.")
    told = f"It is {name}, witnessed with entry {row.seq}: it holds, and in it this record"
    return Paper(report, f"{told} up to entry {row.own_seq}.")


# -- another station's paper ---------------------------------------------------------------------


def _elsewhere(
    location: str | Location, report: Report, anchor: Anchor, progress: Progress | None
) -> Paper:
    paper = f"the paper is of station {anchor.station}, this is the record of {report.station}"
    if not report.ok:
        return _unjudged(report, Problem(anchor.seq, ANCHOR, paper))
    with Record.open(location, readonly=True) as record, record.read() as conn:
        row = shop.site(conn, anchor.station)
    if row is None or not row.entries:
        there = "there, or at the shop's office, which has copies"
        told = f"{paper}: it cannot be checked here; verify it {there}"
        return _unjudged(report, Problem(anchor.seq, ANCHOR, told))
    if anchor.incarnation > row.incarnation or anchor.seq > row.entries:
        told = f"the copy of it here ends with entry {row.entries}; take in what came since"
        return _unjudged(report, Problem(anchor.seq, ANCHOR, f"{paper}: {told}, then verify again"))
    return _by_copy(location, report, anchor, row, progress, paper)


def _by_copy(
    location: str | Location,
    report: Report,
    anchor: Anchor,
    row: SiteRow,
    progress: Progress | None,
    paper: str,
) -> Paper:
    """Hold it against the office's copy of that station, verified whole."""
    place = place_of(locate(location), row.site, row.life)
    try:
        found = verify(place, anchor, progress=progress).problems
    except FillwrightError as error:
        told = f"{paper}: its copy here cannot be read: {error.text}"
        return _unjudged(report, Problem(anchor.seq, ANCHOR, told))
    found = [one for one in found if one.kind != "private"]  # those never come
    if not found:
        told = f"it agrees with entry {anchor.seq} of the copy of {anchor.station} here"
        return Paper(report, f"The{paper[3:]}: {told}, which is whole.")
    flaws = [
        Problem(one.seq, PAPER, f"in the copy of {anchor.station}: {one.text}") for one in found
    ]
    report = replace(report, problems=flaws)
    return Paper(report, f"The{paper[3:]}, and does not agree with its copy here.")
