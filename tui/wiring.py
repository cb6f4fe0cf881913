"""The one place that reads the environment, the clock, the disk and the terminal."""

from __future__ import annotations

import getpass
import os
import shlex
import shutil
import sys
import tempfile
import time
import traceback
from datetime import UTC, datetime
from pathlib import Path

from platformdirs import user_data_path, user_log_path

from blender.errors import InputError, KeyFileError
from blender.record.engine import sqlite_path
from blender.record.journal import Record
from blender.record.keys import StationKeys, key_path
from blender.record.moment import Moment
from blender.station.actor import Actor
from blender.station.desk import Station

STATION = "FILLWRIGHT_STATION"
SECRET = "FILLWRIGHT_SECRET"  # noqa: S105 - the variable's name, not a secret
NEW_SECRET = "FILLWRIGHT_NEW_SECRET"  # noqa: S105 - as above
ACTOR = "FILLWRIGHT_AS"
MAX_SECRET_BYTES = 1024


def clock() -> Moment:
    """Return the moment by this machine's clock and zone."""
    local = datetime.now(UTC).astimezone()
    offset = local.utcoffset()
    minutes = round(offset.total_seconds() / 60) if offset else 0
    return Moment(time.time_ns() // 1000, minutes)


def location(given: str | None) -> str:
    """Return where the record is: the option, the variable, or the user's data folder."""
    if found := given or os.environ.get(STATION):
        return found
    return str(user_data_path("fillwright", appauthor=False) / "station.db")


def open_station(given: str | None) -> Station:
    """Open the station to be entered into: its record, and the key file beside it."""
    place = sqlite_path(location(given))
    record = Record.open(place)
    try:
        return Station(record, StationKeys.load(key_path(place)), clock)
    except KeyFileError:
        record.close()
        raise


def found_station(
    place: str, ident: str, name: str, manager: str, secret_file: str | None
) -> dict[str, str]:
    """Start a record with its key file beside it."""
    from blender.station import people  # noqa: PLC0415 - only here is a station founded

    file = sqlite_path(place)
    if file.exists() or not file.name:
        raise InputError("--station", place, "something is there already; choose another place")
    keys_at = key_path(file)
    first = new_secret(secret_file, manager, secret_file)
    people.station_id(ident)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("--station", place, f"no record can be made: {error.strerror}") from None
    keys = StationKeys.create(keys_at)
    try:
        people.found(
            place, keys, clock(), ident=ident, name=name, manager=manager, secret=first
        ).close()
    except BaseException:
        keys_at.unlink(missing_ok=True)
        raise
    return {"station": ident, "record": place, "keys": str(keys_at)}


def open_record(given: str | None) -> Record:
    """Open the record to be read only."""
    return Record.open(location(given), readonly=True)


def sign_in(station: Station, name: str | None, secret_file: str | None) -> Actor:
    """Sign a member of staff in, with the secret from a file, the variable or a prompt.

    Where only one person can sign at all, nobody has to be named.
    """
    who = name or os.environ.get(ACTOR) or station.only_signer()
    if not who:
        raise InputError("--as", "nothing", "several people sign here; say who: --as NAME")
    return station.sign_in(who, secret(secret_file, f"Secret of {who}"))


def secret(secret_file: str | None, prompt: str, variable: str = SECRET) -> str:
    """Return a secret from a file, a variable or a prompt; never from an argument."""
    if secret_file is not None:
        return _secret_from(Path(secret_file))
    if found := os.environ.get(variable):
        return found
    if not sys.stdin.isatty():
        raise InputError("secret", "nothing", f"give --secret-file FILE or set {variable}")
    return getpass.getpass(f"{prompt}: ")


def new_secret(secret_file: str | None, who: str, given: str | None) -> str:
    """Return the first secret of a new person.

    A script that has one secret and no terminal gives it to the new person too.
    """
    if secret_file is None and not os.environ.get(NEW_SECRET) and not sys.stdin.isatty():
        return secret(given, "Secret")
    first = secret(secret_file, f"New secret of {who}", NEW_SECRET)
    if secret_file is None and not os.environ.get(NEW_SECRET):
        again = getpass.getpass("The same again: ")
        if again != first:
            raise InputError("secret", "(not shown)", "the two differ; nothing was entered")
    return first


def _secret_from(path: Path) -> str:
    try:
        with path.open("rb") as file:
            text = file.read(MAX_SECRET_BYTES).decode()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("--secret-file", str(path), f"it cannot be read: {error}") from None
    return text.rstrip("\r\n")


def write_file(path: str, content: bytes, field: str = "--out") -> str:
    """Write a paper whole or not at all, and return its path."""
    target, part = Path(path), None
    try:
        with tempfile.NamedTemporaryFile(dir=target.parent, delete=False) as file:
            part = Path(file.name)
            file.write(content)
        part.chmod(0o644)
        part.replace(target)
    except OSError as error:
        if part is not None:
            part.unlink(missing_ok=True)
        raise InputError(field, path, f"it cannot be written: {error.strerror}") from None
    return str(target)


def program() -> str:
    """Return how a person calls this program here: by name if the shell finds it."""
    called = Path(sys.argv[0])
    known = shutil.which("fillwright") is not None or called.name != "fillwright"
    return "fillwright" if known else shlex.quote(str(called))


def report_bug(error: BaseException) -> str:
    """Keep the traceback of a bug of ours in a file and return its path."""
    text = "".join(traceback.format_exception(error))
    folder = user_log_path("fillwright", appauthor=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        folder = Path(tempfile.gettempdir())
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S-%f")
    path = folder / f"bug-{stamp}.txt"
    path.write_text(text, encoding="utf-8")
    return str(path)
