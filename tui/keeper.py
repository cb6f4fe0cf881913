"""Looks after the record while the terminal is open: copies, room on the disk, verification."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from blender.errors import FillwrightError, RecordError
from tui.floor import Floor

if TYPE_CHECKING:
    from blender.station.desk import Station

EVERY_S = 60.0
_PAUSE_S = 0.02  # after each part of the record that is verified, for everybody else


class Keeper:
    """Does one round now and then, off the screen's thread.

    Parameters
    ----------
    floor : Floor
        The open station.
    """

    def __init__(self, floor: Floor) -> None:
        self._floor = floor
        self._stop = threading.Event()
        self._at_work = threading.Lock()
        self._is_verified = False
        self._said = ""

    def stop(self) -> None:
        """Break off what is going on; a verification begins anew at the next start."""
        self._stop.set()

    def round(self) -> tuple[str, str] | None:
        """Do what is due; return what has to be said of it, and how.  Slow: never on the screen."""
        if not self._floor.is_open or not self._at_work.acquire(blocking=False):
            return None
        try:
            return self._news(self._look_after(self._floor.station))
        finally:
            self._at_work.release()

    def _news(self, said: tuple[str, str] | None) -> tuple[str, str] | None:
        """Say a thing once, and again only after it was otherwise."""
        text = said[1] if said else ""
        is_new, self._said = text != self._said, text
        return said if is_new else None

    def _look_after(self, station: Station) -> tuple[str, str] | None:
        from blender.station import safekeeping

        try:
            if not self._is_verified and (flaw := self._verify(station)):
                return "refused", flaw
            safekeeping.copy_if_due(station.record, station.keys, station.clock)
        except FillwrightError as error:
            return "refused", f"Copy of the record: {error.text}"
        low = safekeeping.low_disk(station.rules, station.record.location)
        return ("mind", low) if low else None

    def _verify(self, station: Station) -> str:
        """Verify the whole record once; with damage nothing more is entered here."""
        from blender.record import checkpoint
        from blender.record.checkpoint import Checkpoint
        from blender.record.start import told
        from blender.record.verify import verify
        from blender.record.walk import Walk

        record = station.record

        def keep(walk: Walk) -> None:
            if record.beside and (new := Checkpoint.of(walk)):
                checkpoint.keep(record.beside, new, station.keys)

        try:
            report = verify(record.location, progress=self._pause, keep=keep)
        except _StoppedError:
            return ""
        self._is_verified = True
        if report.ok:
            return ""
        record.readonly = True
        self._floor.fault = RecordError(told(report.problems[0]), code="damaged")
        return self._floor.fault.text

    def _pause(self, _: int) -> None:
        if self._stop.wait(_PAUSE_S):
            raise _StoppedError


class _StoppedError(Exception):
    """The terminal is being left."""
