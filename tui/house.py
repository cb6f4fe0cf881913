"""What the terminal lives in: everything outside it that it may ask for or hand something to."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from blender.record.moment import Moment
    from blender.station.desk import Station


@dataclass(frozen=True, slots=True)
class House:
    """The outside, wired once; tests build their own.

    Parameters
    ----------
    location : str
        The station's file.
    clock : callable
        Gives the moment.
    open_station : callable
        Opens the station to be entered into; slow, so never on the screen's thread.
    found : callable
        Founds a station there: ``ident``, ``name``, ``manager``, ``first_secret``.
    load_settings, save_settings : callable
        A settings file's text by its name; empty if there is none.
    put_paper : callable
        Keeps (and prints) a paper by name and content; returns where it is.
    is_founded : callable
        Whether there is a station to go to.
    demo : callable
        Makes the demonstration's station; returns the house it stands in, and who may sign.
    take_away : callable
        Writes files into a new folder beside the record, by its name and theirs; returns where.
    read_table : callable
        A file's content by the path somebody typed.
    report_bug : callable
        Keeps the traceback of a bug of ours; returns where it is.
    """

    location: str
    clock: Callable[[], Moment]
    open_station: Callable[[], Station]
    found: Callable[..., dict[str, Any]]
    load_settings: Callable[[str], str]
    save_settings: Callable[[str, str], None]
    put_paper: Callable[[str, bytes], str]
    is_founded: Callable[[], bool]
    demo: Callable[[], tuple[House, dict[str, str]]]
    take_away: Callable[[str, Iterable[tuple[str, Iterable[bytes]]]], str]
    read_table: Callable[[str], bytes]
    report_bug: Callable[[BaseException], str]
