"""Searching the book as one types, over as many fills as a station ever makes.

Every word must fit.  A word may mean several things - part of a serial or a name, a mix, a
date, an analyser, a state, a fill's number - and then any of them will do.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.gas import Mix, parse_gas
from blender.planning.supplies import plain_name
from blender.record import finding
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.record.read import of_fills
from blender.record.search import names
from blender.station.book import fill_facts
from blender.station.doubts import gas_lost
from blender.station.numbers import ppm
from blender.station.states import STATES

_HALF_A_MIX = re.compile(r"ean([1-9])", re.IGNORECASE)
WITHIN_PPM = 500  # a mix is meant to the tenth of a percent it is written with
_DATE = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?")
_NUMBER = re.compile(r"#?(\d{1,9})")
_IN_TWO_WORDS = ("heliox", "trimix", "tmx", "nitrox", "ean", "eanx")
_YEARS = range(1970, 2256)


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True)
class _Meaning:
    text: str
    hits: list[finding.Hits]


def find(record: Record, text: str, *, cancelled: Callable[[], bool] = _never) -> array[int]:
    """Return the numbers of the fills that fit every word, newest first.

    Parameters
    ----------
    record : Record
        The open record.
    text : str
        What was typed; nothing means every fill.
    cancelled : callable
        Asked now and then; once it is true the search is given up and finds nothing.
    """
    with record.read() as conn:
        words = []
        for word in _words(text):
            hits = [one for meaning in _meanings(conn, word) for one in meaning.hits]
            if not hits or cancelled():
                return array("q")
            words.append(hits)
        return finding.numbers(conn, words, cancelled)


def understood(record: Record, text: str) -> str:
    """Return how a search is understood, in words; empty if nothing was typed."""
    with record.read() as conn:
        said = []
        for word in _words(text):
            meanings = [meaning.text for meaning in _meanings(conn, word)]
            said.append(" or ".join(meanings) or f"{word!r} means nothing here")
    return "; ".join(said)


def lines(record: Record, wanted: Sequence[int]) -> list[dict[str, Any]]:
    """Return fills as lines of the list, in the order of their numbers given."""
    with record.read() as conn:
        light = of_fills(conn, FillRow, wanted)  # the models themselves are ten times as slow
        rows = {number: found[0] for number, found in light.items() if found}
        people = {who for row in rows.values() for who in (row.customer, row.blender) if who}
        called = names(conn, people)
        lost = {number: gas_lost(conn, row) for number, row in rows.items()}
    return [fill_facts(rows[number], called, lost[number]) for number in wanted if number in rows]


def at_date(record: Record, shown: Sequence[int], text: str) -> int:
    """Return the place of the first of some fills, newest first, asked for by a date's end.

    Raises
    ------
    InputError
        If it is no date.
    """
    span = _span(text.strip())
    if span is None:
        raise InputError("date", repr(text[:40]), "write 2026, 2026-11 or 2026-11-25")
    end = round((span[1] - datetime(1970, 1, 1)).total_seconds() * 1e6)  # noqa: DTZ001 - local
    low, high = 0, len(shown)
    with record.read() as conn:
        while low < high:
            middle = (low + high) // 2
            if finding.when_asked(conn, shown[middle]) >= end:
                low = middle + 1
            else:
                high = middle
    return min(low, max(len(shown) - 1, 0))


def _words(text: str) -> list[str]:
    """Return the words of a search; `heliox 20/80` and `nitrox 32` are one."""
    words, parts = [], text[:200].split()
    while parts:
        word = parts.pop(0)
        if word.lower() in _IN_TWO_WORDS and parts and _mix(f"{word} {parts[0]}"):
            word = f"{word} {parts.pop(0)}"
        words.append(word)
    return words


def _meanings(conn: Connection, word: str) -> Iterator[_Meaning]:
    if found := _NUMBER.fullmatch(word):
        yield _Meaning(f"fill {found[1]}", finding.is_fill(int(found[1])))
        if word.startswith("#"):
            return
    if span := _span(word):
        yield _Meaning(f"asked for in {word}", finding.between(*span))
    if mix := _mix(word):
        yield _Meaning(f"mix {plain_name(mix)}", finding.gas(_near(mix.o2), _near(mix.he)))
    if found := _HALF_A_MIX.fullmatch(word):  # the next digit is still being typed
        tens = int(found[1]) * 100_000
        hits = finding.gas((tens, tens + 99_999), _near(0.0))
        yield _Meaning(f"mixes EAN{found[1]}0 to EAN{found[1]}9", hits)
    if states := [s for s in STATES if len(word) > 2 and s.startswith(word.lower())]:
        others = [state for state in STATES if state not in states]
        yield _Meaning(" or ".join(states), finding.stands(states, others))
    yield from _called(conn, word)


def _called(conn: Connection, word: str) -> Iterator[_Meaning]:
    hits, count = finding.serial_has(conn, word)
    if count:
        yield _Meaning(f"serial with {word} ({count})", hits)
    hits, count = finding.person_has(conn, word)
    if count:
        yield _Meaning(f"name with {word} ({count})", hits)
    hits, meters = finding.analyser_has(conn, word)
    if meters:
        yield _Meaning(f"analyser {', '.join(meters[:3])}", hits)


def _near(fraction: float) -> tuple[int, int]:
    return ppm(fraction) - WITHIN_PPM, ppm(fraction) + WITHIN_PPM


def _mix(word: str) -> Mix | None:
    if word.isdigit():
        return None
    try:
        return parse_gas(word)
    except InputError:
        return None


def _span(word: str) -> tuple[datetime, datetime] | None:
    """Return the local time from the start to the end of a year, month or day."""
    if not (found := _DATE.fullmatch(word)):
        return None
    year, month, day = (int(part) if part else 0 for part in found.groups())
    if year not in _YEARS:
        return None
    try:
        first = datetime(year, month or 1, day or 1)  # noqa: DTZ001 - the station's local time
        if day:
            return first, first + timedelta(days=1)
        last = first.replace(month=month + 1) if 0 < month < 12 else first.replace(
            year=year + 1, month=1
        )  # fmt: skip
    except ValueError:
        return None
    return first, last
