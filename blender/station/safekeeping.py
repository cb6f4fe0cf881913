"""Copies of the record: made, entered, made again when due; and the room left on the disk."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from blender.record import search
from blender.record.backup import Copy, copy_record, drop_oldest
from blender.record.disk import free_bytes, is_away
from blender.record.erased import erased_in, keep_beside
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.models import CopyRow
from blender.record.moment import Moment
from blender.record.server import Location
from blender.station.copies_left import COPIED
from blender.station.rules import Rules, in_force

_MINUTE_US = 60_000_000
Clock = Callable[[], Moment]


def make_copy(
    record: Record,
    keys: StationKeys | None,
    clock: Clock,
    folder: Path,
    *,
    away: bool | None = None,
    keep: int = 0,
    progress: Callable[[int], None] | None = None,
) -> dict[str, Any]:
    """Copy the record, verify the copy, and enter that it was made.

    Nobody has to sign for that: the station seals the entry.  Without its keys the copy is
    made all the same, and not entered.

    Parameters
    ----------
    record : Record
        The open record.
    keys : StationKeys or None
        The station's.
    clock : callable
        Gives the moment.
    folder : Path
        Where the copy goes.
    away : bool or None
        Whether it is outside this machine; None asks the system.
    keep : int
        How many copies stay in the folder, older ones are deleted and that is entered too; 0
        leaves all.
    progress : callable
        Told how many entries of the copy were verified.

    Raises
    ------
    InputError
        If the folder cannot be used.
    RecordError
        If the copy does not verify.
    """
    copy = copy_record(
        record.location, folder, clock(), project=record.projector, progress=progress
    )
    left = is_away(folder, record.location) if away is None else away
    gone = drop_oldest(folder, record.station, keep) if keep else []
    seq = 0
    if keys is not None:
        facts = _facts(copy, left) | ({"dropped": [one.sha256 for one in gone]} if gone else {})
        with record.write() as unit:
            seq = unit.append(COPIED, facts, at=clock(), seal=keys).seq
            erased = erased_in(unit.conn, record.station)
        keep_beside(folder, record.station, erased, keys)
    return {
        "copy": str(copy.path),
        "sha256": copy.sha256,
        "bytes": copy.size,
        "anchor": copy.anchor.text,
        "away": left,
        "seq": seq,
        "dropped": [str(one.path) for one in gone],
    }


def _facts(copy: Copy, away: bool) -> dict[str, Any]:
    return {
        "copied_seq": copy.anchor.seq,
        "copied_head": copy.anchor.head.hex(),
        "sha256": copy.sha256,
        "bytes": copy.size,
        "away": away,
    }


def copy_if_due(
    record: Record,
    keys: StationKeys | None,
    clock: Clock,
    *,
    progress: Callable[[int], None] | None = None,
) -> dict[str, Any] | None:
    """Make the copy the station's rules ask for; None where none is due.

    It is due where the time has passed and anything but a copy was entered since.

    Raises
    ------
    FillwrightError
        As `make_copy`.
    """
    with record.read() as conn:
        rules = in_force(conn)
        last = search.last_copy(conn)
    folder = Path(rules.copy_folder)
    if not is_due(rules, last, clock()) or (last and record.head().seq == last.seq):
        return None
    return make_copy(record, keys, clock, folder, keep=rules.copies_kept, progress=progress)


def is_due(rules: Rules, last: CopyRow | None, now: Moment) -> bool:
    """Tell whether the rules ask for a copy now."""
    if not rules.copy_folder or not rules.copy_minutes:
        return False
    age_us = now.us - last.at_us if last else -1
    return not 0 <= age_us < rules.copy_minutes * _MINUTE_US


def standing(record: Record, now: Moment) -> dict[str, Any]:
    """Return when the last copies were made, JSON-ready: any, and one outside this machine."""
    with record.read() as conn:
        restored = search.last_exception(conn, "restored")
        return {
            "last": _told(conn, now, away=False),
            "away": _told(conn, now, away=True),
            "restored_seq": restored.seq if restored else None,
        }


def _told(conn: Connection, now: Moment, *, away: bool) -> dict[str, Any] | None:
    row = search.last_copy(conn, away=away)
    if row is None:
        return None
    return {
        "at": Moment(row.at_us, row.offset_min).iso,
        "minutes_ago": (now.us - row.at_us) / _MINUTE_US,
        "copied_seq": row.copied_seq,
        "sha256": row.sha256,
    }


def line(told: dict[str, Any]) -> str:
    """Return what a person has to know of it, in one line."""
    if told["last"] is None and told["restored_seq"]:
        since = f"this record was restored from one (entry {told['restored_seq']})"
        return f"No copy was made since {since}; make one: backup --to FOLDER"
    if told["last"] is None:
        return "No copy of this record was ever made; make one: backup --to FOLDER"
    if told["away"] is None:
        return f"Last copy {_ago(told['last'])}; never one outside this machine"
    return f"Last copy outside this machine: {_ago(told['away'])}"


def _ago(one: dict[str, Any]) -> str:
    minutes = one["minutes_ago"]
    if minutes < 0:
        return f"at {one['at']}, by a clock that was set back"
    if minutes < 120:
        return f"{minutes:.0f} min ago"
    return f"{minutes / 60:.0f} h ago" if minutes < 2880 else f"{minutes / 1440:.0f} days ago"


def low_disk(rules: Rules, location: Location) -> str:
    """Say that the disk fills up, before an entry fails; empty where it does not, or a server's."""
    if not isinstance(location, Path):
        return ""
    left = free_bytes(location)
    if left >= rules.disk_least_mb * 1e6:
        return ""
    return (
        f"The disk the record lies on has only {left / 1e6:.0f} MB left, less than the"
        f" {rules.disk_least_mb} MB the rules ask for (disk-least): make room now. What cannot be"
        " saved will be refused, never shown as saved"
    )


def folder_of(record: Record) -> str:
    """Return the folder the rules name for copies, empty if none."""
    with record.read() as conn:
        return in_force(conn).copy_folder
