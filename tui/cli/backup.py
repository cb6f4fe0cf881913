"""`backup` and `restore`: a proved copy of the record, and a copy put in its place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tui.cli.shared import kept, option, shared, show, signer

if TYPE_CHECKING:
    from blender.record.anchor import Anchor
    from blender.record.restore import Candidate

KEYS_APART = (
    "The key file ({}) is not in it: keep a copy of that apart, never beside a copy of the record,"
    " or add it locked by a passphrase: --keys-under FILE."
)


KEYS_LOCKED = "The key file is beside it, locked: keep the passphrase apart from both."


def counting(what: str) -> Callable[[int], None]:
    """Say on standard error, now and then, how far something has come."""
    said = [0]

    def tell(count: int) -> None:
        if count - said[0] >= 50_000:
            said[0] = count
            click.echo(f"{what}: {count} entries ...", err=True)

    return tell


@click.command()
@option("--to", "DIR", "Where the copy goes; else the folder the rules name (copy-to).")
@option("--away", "yes|no", "Whether that is outside this machine; else the system is asked.",
        type=click.Choice(["yes", "no"]))  # fmt: skip
@option("--keys-under", "FILE", "Add the key file, locked by the passphrase in this file.")
@click.option("--due", is_flag=True, help="Only if the rules ask for a copy now; for a timetable.")
@shared
def backup(to: str | None, away: str | None, keys_under: str | None, due: bool) -> int:
    """Copy the record while it is in use, verify the copy, and enter that it was made."""
    from blender.errors import InputError
    from blender.record.keys import key_path
    from blender.station import safekeeping
    from tui.wiring import clock, open_to_copy

    record, keys = open_to_copy(kept("station"))
    with record:
        tell = counting("verified")
        if due:
            made = safekeeping.copy_if_due(record, keys, clock, progress=tell)
        else:
            folder = to or safekeeping.folder_of(record)
            if not folder:
                raise InputError("--to", "nothing", "give a folder, or set the rule copy-to")
            made = safekeeping.make_copy(
                record, keys, clock, Path(folder), away=_yes(away), progress=tell
            )
        if made is None:
            show({"copy": None}, ["No copy is due."])
            return 0
        beside = key_path(record.beside or "")
        made["keys"] = _locked(beside, Path(made["copy"]), keys_under)
        show(made, _made_lines(made, beside))
    return 0


def _locked(key_file: Path, copy: Path, keys_under: str | None) -> str | None:
    """Put the key file beside a copy, under a passphrase; None where nobody asked for that."""
    if keys_under is None:
        return None
    from blender.record.lockbox import LOCKED_TAIL, lock_keys
    from tui.wiring import secret

    locked = copy.with_name(copy.name + LOCKED_TAIL)
    lock_keys(key_file, locked, secret(keys_under, "Passphrase of the locked key file"))
    return str(locked)


def _yes(text: str | None) -> bool | None:
    return None if text is None else text == "yes"


def _made_lines(made: dict[str, Any], keys: Path) -> list[str]:
    entered = f"entered as entry {made['seq']}" if made["seq"] else "not entered, no key file"
    told = [
        f"Copied to {made['copy']} ({made['bytes'] / 1e6:.1f} MB), verified, {entered}.",
        f"SHA-256 {made['sha256']}",
        made["anchor"],
        KEYS_LOCKED if made["keys"] else KEYS_APART.format(keys.name),
    ]
    if not made["away"]:
        told.append("It lies on this machine: carry a copy off it, or the two are lost together.")
    return told


@click.command()
@click.argument("file")
@option("--reason", "TEXT", "Why; it is entered.", required=True)
@option("--digest", "HEX", "The copy's SHA-256, where none lies beside it.")
@click.option("--no-digest", is_flag=True, help="Restore a copy nobody knows the digest of.")
@click.option("--move-aside", is_flag=True, help="Keep what is there beside the new record.")
@option("--keys-under", "PASSFILE", "Put back the locked key file beside the copy.")
@signer
@shared
def restore(
    file: str,
    reason: str,
    keys_under: str | None,
    digest: str | None,
    no_digest: bool,
    move_aside: bool,
    who: str | None,
    secret_file: str | None,
) -> int:
    """Put a copy (or the newest of a folder) in the record's place (manager).

    The copy is verified first, and a record that is there is never overwritten.
    """
    from blender.record.place import sqlite_path
    from blender.record.restore import admitted, newest_in
    from blender.station import restoring
    from tui.wiring import check_disk, clock, location

    place = sqlite_path(location(kept("station"))).absolute()
    check_disk(place)
    _make_room(place)
    source = newest_in(Path(file))
    replaced = restoring.check_place(place, aside=move_aside)
    known = _digest(source, digest, no_digest)
    with admitted(source, place, known, progress=counting("verified")) as candidate:
        _unlock(source, place, keys_under)
        seq, again = _entered(candidate, place, source, reason, replaced, who, secret_file)
        aside = _aside(place, clock().us) if move_aside else None
        restoring.settle(candidate, place, aside, for_reading=seq == 0)
    answer = _answer(place, source, candidate, replaced, aside, seq, again)
    show(answer, answer["told"])
    return 0


def _unlock(copy: Path, place: Path, keys_under: str | None) -> None:
    """Put the key file back from beside the copy, if asked."""
    if keys_under is None:
        return
    from blender.record.keys import key_path
    from blender.record.lockbox import LOCKED_TAIL, unlock_keys
    from tui.wiring import secret

    if key_path(place).exists():  # of an attempt before this one, or never lost
        return
    locked = copy.with_name(copy.name + LOCKED_TAIL)
    unlock_keys(locked, key_path(place), secret(keys_under, "Passphrase of the locked key file"))


def _make_room(place: Path) -> None:
    from blender.errors import InputError

    try:
        place.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("--station", str(place), f"not possible: {error.strerror}") from None


def _digest(source: Path, given: str | None, none_known: bool) -> str | None:
    """Return what the copy's digest must be; refuse to guess."""
    from blender.errors import InputError
    from blender.record.restore import digest_beside

    known = given.strip().lower() if given else digest_beside(source)
    if known is None and not none_known:
        told = "no digest lies beside it: give --digest, or --no-digest if nobody has it"
        raise InputError("FILE", str(source), told)
    return known


def _entered(
    candidate: Candidate,
    place: Path,
    source: Path,
    reason: str,
    replaced: Anchor | None,
    who: str | None,
    secret_file: str | None,
) -> tuple[int, list[str]]:
    """Enter the restore in the copy; 0 where the key file is missing and nothing can be.

    Who had been erased since it was made is erased in it, too: their ids are returned.
    """
    from blender.record.journal import Record
    from blender.station import restoring
    from blender.station.desk import Station
    from tui.wiring import clock, keys_at, sign_in

    keys = keys_at(place)
    if keys is None:
        return 0, []
    with Record.open(candidate.path) as record:
        station = Station(record, keys, clock)
        actor = sign_in(station, who, secret_file)
        gone = restoring.known_erased(place, source, station)
        return restoring.enter(
            station, actor, candidate, reason=reason, replaced=replaced, erased=gone
        )


def _aside(place: Path, now_us: int) -> Path:
    return place.with_name(f"{place.stem}.replaced-{now_us // 1_000_000}")


def _answer(
    place: Path,
    source: Path,
    candidate: Candidate,
    replaced: Anchor | None,
    aside: Path | None,
    seq: int,
    again: list[str],
) -> dict[str, Any]:
    from blender.station import restoring

    moved = aside if aside is not None and aside.exists() else None
    lost = max(replaced.seq - candidate.anchor.seq, 0) if replaced else None
    told = [f"Restored {source.name} to {place}, as it was at entry {candidate.anchor.seq}."]
    if moved is not None:
        told.append(f"What was there lies in {moved}.")
    if lost:
        told.append(f"Given up: {lost} entries after it, up to entry {replaced and replaced.seq}.")
    if again:
        told.append(f"Erased again, as they were before: {', '.join(again)}.")
    told += [f"Entered as entry {seq}.", restoring.AFTER] if seq else [restoring.WITHOUT_KEYS]
    return {
        "record": str(place),
        "restored": candidate.anchor.text,
        "sha256": candidate.sha256,
        "seq": seq,
        "given_up": lost,
        "aside": str(moved) if moved else None,
        "erased_again": again,
        "told": told,
    }
