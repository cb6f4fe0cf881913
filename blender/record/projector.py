"""What turns entries into read models; the record works with any, the station uses one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from sqlalchemy import Connection, Table

from blender.record.entry import Entry

Private = Callable[[str], dict[str, Any] | None]


class Projector(Protocol):
    """The read-model tables in order of dependency, and how one entry changes them."""

    @property
    def TABLES(self) -> tuple[Table, ...]:  # noqa: N802 - a module's constant stands for it
        """The read-model tables."""

    def apply(self, conn: Connection, entry: Entry, private: Private) -> None:
        """Apply one entry; kinds it does not know are left alone."""


def station_projector() -> Projector:
    """Return the station's own projector, which itself knows the record's entries."""
    from blender.record import project  # noqa: PLC0415 - it imports this room

    return project
