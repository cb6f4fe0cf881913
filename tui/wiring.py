"""The one place that reads the environment, the clock, the disk and the terminal."""

from __future__ import annotations

import getpass
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from platformdirs import user_config_path, user_data_path, user_log_path

from blender.errors import InputError, KeyFileError, RecordError, StorageError
from blender.record.moment import Moment
from blender.record.place import locate
from blender.record.server import Location, Server

if TYPE_CHECKING:  # the record's room takes most of a second: loaded where it is used
    from blender.record.journal import Record
    from blender.record.keys import StationKeys
    from blender.station.actor import Actor
    from blender.station.desk import Station
    from tui.house import House

STATION = "FILLWRIGHT_STATION"
SECRET = "FILLWRIGHT_SECRET"  # noqa: S105 - the variable's name, not a secret
NEW_SECRET = "FILLWRIGHT_NEW_SECRET"  # noqa: S105 - as above
ACTOR = "FILLWRIGHT_AS"
PRINT = "FILLWRIGHT_PRINT"  # a command that prints the file named after it, such as lp
# Without that variable; a label shrunk to a printer's idea of a margin fits its stock no more.
_USUAL_PRINTER = ("lp", "-o", "print-scaling=none")
SYNCED = "FILLWRIGHT_SYNCED"  # folders that are copied to other machines, as PATH lists them
KEYS = "FILLWRIGHT_KEYS"  # the key file of a station on a server, where it lies elsewhere
DISK = "FILLWRIGHT_DISK"  # "trusted" where the owner answers for a disk that looks foreign
PRIVATE = 0o600  # what is taken away holds personal data
MAX_SECRET_BYTES = 1024
MAX_FILE_BYTES = 100_000
MAX_TABLE_BYTES = 20_000_000


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


def beside(place: Location) -> Path:
    """Name the file a station's key file and checkpoint lie beside: its record's own.

    A station on a server has them in the user's data folder, or where FILLWRIGHT_KEYS says.
    """
    if isinstance(place, Path):
        return place
    if not (given := os.environ.get(KEYS)):
        return _folder_of(place) / "station"
    if Path(given).suffix != ".keys":
        raise InputError(KEYS, given, "give a key file, named NAME.keys")
    return Path(given)


def _folder_of(place: Location) -> Path:
    """Return the folder of a station's papers: its record's, or one of its own for a server's."""
    if isinstance(place, Server):
        return user_data_path("fillwright", appauthor=False) / "stations" / place.label
    return place.absolute().parent


def _opened(place: Location, *, readonly: bool = False) -> Record:
    from blender.record.journal import Record

    record = Record.open(place, readonly=readonly)
    record.beside = beside(place)
    return record


def open_station(given: str | None) -> Station:
    """Open the station to be entered into: its record, and the key file beside it."""
    from blender.record.keys import StationKeys, key_path
    from blender.record.start import check_start
    from blender.station.desk import Station

    place = locate(location(given))
    check_disk(place)
    record = _opened(place)
    try:
        keys = StationKeys.load(key_path(beside(place)))
        check_start(record, keys)
        return Station(record, keys, clock)
    except (KeyFileError, RecordError):
        record.close()
        raise


@dataclass(frozen=True, slots=True)
class NewPlace:
    """Where a record shall go on, and its key file with it."""

    at: Location

    def settle(self, keys: StationKeys) -> str:
        """Put the key file there, unless it lies there already; return where."""
        from blender.record.keys import StationKeys, key_path

        there = key_path(beside(self.at))
        if not there.exists():
            keys.write(there)
        elif StationKeys.load(there).public != keys.public:
            told = f"{there} is another station's: move it away, and put this station's there"
            raise KeyFileError(told)
        return str(there)


def place_for_move(given: str) -> NewPlace:
    """Return where a record shall be moved to, with room for its key file."""
    place = locate(given)
    check_disk(place)
    if isinstance(place, Path) and place.exists():
        raise InputError("--to", given, "something is there already; choose another place")
    folder = beside(place).parent
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise InputError("--to", given, f"no record can be made: {error.strerror}") from None
    return NewPlace(place)


def open_to_move(given: str | None) -> Station:
    """Open the station to be moved, also where a move before this one was broken off."""
    from blender.record.keys import StationKeys, key_path
    from blender.station.desk import Station

    place = locate(location(given))
    keys = StationKeys.load(key_path(beside(place)))
    return Station(_opened(place), keys, clock)


def check_disk(place: Location) -> None:
    """Refuse a place for a record whose disk is not this machine's own; a server has its own."""
    from blender.record.disk import check_own

    if isinstance(place, Server):
        return

    synced = [Path(one) for one in os.environ.get(SYNCED, "").split(os.pathsep) if one]
    if os.environ.get(DISK) != "trusted":
        check_own(place, synced)


def found_station(
    place: str, ident: str, name: str, manager: str, secret_file: str | None
) -> dict[str, str]:
    """Start a record with its key file beside it."""
    return found_with(place, ident, name, manager, new_secret(secret_file, manager, secret_file))


def found_with(
    place: str, ident: str, name: str, manager: str, first_secret: str
) -> dict[str, str]:
    """Start a record with its key file beside it; the first secret is the manager's."""
    from blender.record.keys import StationKeys, key_path
    from blender.station import people

    where = locate(place)
    if isinstance(where, Path) and where.exists():
        raise InputError("--station", place, "something is there already; choose another place")
    keys_at = key_path(beside(where))
    check_disk(where)
    people.station_id(ident)
    try:
        keys_at.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("--station", place, f"no record can be made: {error.strerror}") from None
    keys = StationKeys.create(keys_at)
    try:
        people.found(
            where, keys, clock(), ident=ident, name=name, manager=manager, secret=first_secret
        ).close()
    except BaseException:
        keys_at.unlink(missing_ok=True)
        raise
    return {"station": ident, "record": str(where), "keys": str(keys_at)}


def open_record(given: str | None) -> Record:
    """Open the record to be read only."""
    return _opened(locate(location(given)), readonly=True)


def open_to_print(given: str | None) -> tuple[Record, StationKeys | None]:
    """Open the record to enter that a label was printed; read only where its keys are not."""
    from blender.record.keys import StationKeys, key_path

    place = locate(location(given))
    try:
        keys = StationKeys.load(key_path(beside(place)))
        return _opened(place), keys
    except (KeyFileError, StorageError):
        return _opened(place, readonly=True), None


def open_to_copy(given: str | None) -> tuple[Record, StationKeys | None]:
    """Open the record to copy it and enter that; without its keys nothing can be entered."""
    from blender.record.keys import StationKeys, key_path

    place = locate(location(given))
    try:
        keys = StationKeys.load(key_path(beside(place)))
    except KeyFileError:
        return _opened(place, readonly=True), None
    return _opened(place), keys


def keys_at(place: Path) -> StationKeys | None:
    """Return the keys beside a record's place, None where there is no such file."""
    from blender.record.keys import StationKeys, key_path

    return StationKeys.load(key_path(place)) if key_path(place).exists() else None


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


def has_one_secret(secret_file: str | None) -> bool:
    """Tell whether a script has no secret of its own for a new person, and nobody to ask."""
    return secret_file is None and not os.environ.get(NEW_SECRET) and not sys.stdin.isatty()


def new_secret(secret_file: str | None, who: str, given: str | None) -> str:
    """Return the first secret of a new person.

    A script that has one secret and no terminal gives it to the new person too.
    """
    if has_one_secret(secret_file):
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


def read_file(path: str, field: str) -> str:
    """Return the text of a small file somebody wrote, such as a table of readings."""
    try:
        with Path(path).open("rb") as file:
            content = file.read(MAX_FILE_BYTES + 1)
        text = content.decode("utf-8-sig")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is no text in UTF-8"
        raise InputError(field, path, f"it cannot be read: {reason}") from None
    if len(content) > MAX_FILE_BYTES:
        raise InputError(field, path, f"it may have at most {MAX_FILE_BYTES} bytes")
    return text


def read_bytes(path: str, field: str, most: int = MAX_TABLE_BYTES) -> bytes:
    """Return the content of a file somebody gave, such as a table to be taken over."""
    try:
        with Path(path).open("rb") as file:
            content = file.read(most + 1)
    except (OSError, ValueError) as error:
        raise InputError(field, ascii(path), f"it cannot be read: {_why(error)}") from None
    if len(content) > most:
        raise InputError(field, path, f"it may have at most {most} bytes")
    return content


def read_start(path: str, field: str) -> bytes:
    """Return how a file begins, by which it is told what it is."""
    try:
        with Path(path).open("rb") as file:
            return file.read(100)
    except (OSError, ValueError) as error:
        raise InputError(field, ascii(path), f"it cannot be read: {_why(error)}") from None


def free_name(name: str, instead: str) -> str:
    """Return a file's name, or the other where a file of that name is there already."""
    return instead if Path(name).exists() else name


def write_file(path: str, content: bytes, field: str = "--out") -> str:
    """Write a paper whole or not at all, and return its path."""
    return write_parts(path, [content], field)


def write_parts(path: str, parts: Iterable[bytes], field: str, mode: int = 0o644) -> str:
    """Write a file of any length whole or not at all, and return its path."""
    target, part = Path(path), None
    try:
        with tempfile.NamedTemporaryFile(dir=target.parent, delete=False) as file:
            part = Path(file.name)
            file.writelines(parts)
        part.chmod(mode)
        part.replace(target)
    except BaseException as error:
        if part is not None:
            part.unlink(missing_ok=True)
        if not isinstance(error, (OSError, ValueError)):
            raise
        raise InputError(field, ascii(path), f"it cannot be written: {_why(error)}") from None
    return str(target)


def _why(error: OSError | ValueError) -> str:
    """Say why a file could not be had: the system's word, or that the name is none."""
    return getattr(error, "strerror", None) or "that is no name of a file"


def make_folder(path: str, field: str) -> Path:
    """Make a folder for others than the public, if it is not there, and return it."""
    folder = Path(path)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise InputError(field, ascii(path), f"it cannot be made: {_why(error)}") from None
    return folder


def at_a_terminal() -> bool:
    """Return whether a person sits at both ends."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def house(given: str | None) -> House:
    """Return what the terminal lives in: its record's place, clock, settings and printer."""
    from tui.house import House

    place = location(given)
    settings = user_config_path("fillwright", appauthor=False)
    return House(
        location=place,
        clock=clock,
        open_station=lambda: open_station(place),
        found=lambda **facts: found_with(place, **facts),
        load_settings=lambda name: _read_settings(settings / name),
        save_settings=lambda name, text: _save_settings(settings / name, text),
        put_paper=lambda name, content: put_paper(place, name, content),
        is_founded=lambda: is_founded(place),
        demo=_demonstration,
        take_away=lambda name, files: take_away(place, name, files),
        read_table=lambda path: read_bytes(path, "file"),
        report_bug=report_bug,
    )


def is_founded(given: str) -> bool:
    """Tell whether there is a station to go to: a file, or on a server the keys of one."""
    from blender.record.keys import key_path

    place = locate(given)
    return place.exists() if isinstance(place, Path) else key_path(beside(place)).exists()


def _demonstration() -> tuple[House, dict[str, str]]:
    """Walk the invented station through its day, in a folder of its own, and go there."""
    from demo.walk import walk

    folder = user_data_path("fillwright", appauthor=False) / "demonstration"
    done = walk(folder)
    return house(done.database), done.secrets


def _read_settings(path: Path) -> str:
    """Return a settings file's text, empty if there is none."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("settings", str(path), f"it cannot be read: {error}") from None


def _save_settings(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("settings", str(path), f"not kept: {error.strerror}") from None
    write_file(str(path), text.encode(), "settings")


def put_paper(place: str, name: str, content: bytes) -> str:
    """Keep a paper in the folder beside the record, and send it to the printer if there is one."""
    folder = _folder_of(locate(place)) / "papers"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("paper", str(folder), f"it cannot be kept: {error.strerror}") from None
    path = write_file(str(folder / name), content, "paper")
    if os.environ.get(PRINT):
        send_to_printer(path)
    return path


def send_to_printer(path: str) -> None:
    """Send a kept paper to the system's printer, in its own size.

    Raises
    ------
    InputError
        If there is no printer, or it does not take it; the paper stays kept.
    """
    command = shlex.split(os.environ.get(PRINT, "")) or [*_USUAL_PRINTER]
    _to_printer([*command, path])


def take_away(place: str, name: str, files: Iterable[tuple[str, Iterable[bytes]]]) -> str:
    """Write files into a folder of that name beside the record, for others than the public."""
    folder = make_folder(str(_folder_of(locate(place)) / name), "folder")
    for file, parts in files:
        write_parts(str(folder / file), parts, "folder", PRIVATE)
    return str(folder)


def _to_printer(words: list[str]) -> None:
    try:
        subprocess.run(words, check=True, capture_output=True, timeout=20)  # noqa: S603 - theirs
    except (OSError, subprocess.SubprocessError) as error:
        told = f"the paper is kept in {words[-1]}, but was not printed: {error}"
        raise InputError(PRINT, words[0], told) from None


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
