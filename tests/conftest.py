"""What every test stands on: no property test is judged by how fast the machine is."""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests import server
from tests.tui import browser

settings.register_profile("timeless", deadline=None)
settings.load_profile("timeless")

_MEMORY = Path("/dev/shm")
_ROOM = 3 * 1024**3  # what a whole run leaves in it, several times over [bytes]


def pytest_configure(config: pytest.Config) -> None:
    _work_in_memory()
    gc.set_threshold(100_000, 20, 100)  # the usual ones cost a quarter of the time
    if server.is_required() and not server.found()[0]:
        raise pytest.UsageError(f"PG=required, but {server.found()[1]}")
    if browser.is_required() and not browser.found()[0]:
        raise pytest.UsageError(f"BROWSER=required, but {browser.found()[1]}")


def _work_in_memory() -> None:
    """Keep the tests' files in memory where the system has room for them there.

    Each entry of a record is written through to the disk, for which a third of the time went by.
    What a power cut leaves is checked on a disk made in Python, and never on a real one.
    """
    there = _MEMORY.is_dir() and os.access(_MEMORY, os.W_OK)
    if there and shutil.disk_usage(_MEMORY).free > _ROOM:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(_MEMORY))


@pytest.fixture(scope="session", name="founded")
def _founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station founded once; tests work on copies of it."""
    from tests.station.shop import found

    folder = tmp_path_factory.mktemp("founded")
    found(folder)
    return folder


def pytest_collection_finish() -> None:
    """Look for garbage among what tests make, not each time among all modules and tests, too."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def _nothing_left_open() -> Iterator[None]:
    """Look once more while a test can still fail for what was left open; a worker's end is mute."""
    yield
    gc.collect()
