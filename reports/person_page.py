"""The page for a person who asks: what is held on them, why and how long; what was erased."""

from __future__ import annotations

from collections.abc import Iterator

from blender.station.person_page import COPIES, KEPT, PersonView
from blender.station.views import Stamp
from reports.column import Fact
from reports.letter import Letter, letter_pdf
from reports.wording import given, time_text


def person_page_pdf(view: PersonView, paper: str = "a4") -> bytes:
    """Return the page as a PDF on a paper, A4 or Letter."""
    title = "Your data at this station" if view.erased_at is None else "What was erased"
    letter = Letter(title, view.station_name, view.printed_at, view.proof)
    return letter_pdf(letter, lines(view), paper)


def lines(view: PersonView) -> Iterator[Fact]:
    """Give captions and texts of the page, which the command line prints too."""
    yield "Number", f"{view.person}, in the record since {time_text(view.added_at)}", False
    if view.erased_at is None:
        yield from _held(view)
    else:
        yield from _erased(view)
    yield "Fills", f"{len(view.fills)}", False
    for one in view.fills:
        yield (
            "",
            f"{one.fill}: {one.day}, {one.cylinder}, {one.gas}, {one.state}, {one.signed}",
            False,
        )
    if view.named_in:
        listed = ", ".join(map(str, view.named_in))
        yield "Typed text", f"somebody typed the name into reasons or notes: entry {listed}.", True
        said = "Such text is part of a signed entry: it cannot be taken out. Only the whole name or"
        yield "", f"{said} number was looked for; a part of it may stand elsewhere.", False
    yield "Kept, and why", KEPT, False


def _held(view: PersonView) -> Iterator[Fact]:
    yield "Name", given(view.name or ""), False
    yield "Role", view.role, False
    if view.role != "customer":
        yield (
            "Signatures",
            f"{view.signs} entries of the record bear the name as a signature",
            False,
        )
    else:
        yield "Certified for", view.certified or "no card was shown", False
        yield "Telephone", ", ".join(view.phones) or "not known", False
        if view.agreed:
            told = ", ".join(time_text(at) for at in view.agreed)
            yield "Undertaking", f"read and signed at the tablet, {told}", False
        yield "Drawn", "signatures drawn by hand are kept with what they were given for", False
        yield "Your right", "ask for it to be corrected, or for name, telephone and signatures to "\
            "be erased once no fill of yours is open", False  # fmt: skip


def _erased(view: PersonView) -> Iterator[Fact]:
    when = f"{time_text(view.erased_at)} by {given(view.erased_by)}: {view.erased_why}"
    yield "Erased", when, True
    what = "name, telephone numbers, signatures and the key that bound them to the record"
    yield "", f"{view.erased_rows} private rows: {what}", False
    yield "Older copies", copies_text(view), False
    yield "", f"{COPIES}.", False


def copies_text(view: PersonView) -> str:
    """Say which copies of the record are known to hold the name still."""
    left = view.copies
    if left is None or left.oldest is None or left.newest is None:
        return "No copy of the record that would hold the name is known to be left."
    oldest, newest = (time_text(Stamp.of(at)) for at in (left.oldest, left.newest))
    span = f"of {oldest}" if left.count == 1 else f"the oldest of {oldest}, the newest of {newest}"
    until = (
        f"; the station means to destroy them by {view.copies_until}" if view.copies_until else ""
    )
    copies = "1 copy" if left.count == 1 else f"{left.count} copies"
    known = f"{'is' if left.count == 1 else 'are'} known: {span}{until}"
    return (
        f"{copies} of the record that may hold the name {known}. Whoever puts one back in use"
        " erases the name again."
    )
