"""What every test stands on: no property test is judged by how fast the machine is."""

from __future__ import annotations

import pytest
from hypothesis import settings

from tests import server
from tests.tui import browser

settings.register_profile("timeless", deadline=None)
settings.load_profile("timeless")


def pytest_configure(config: pytest.Config) -> None:
    if server.is_required() and not server.found()[0]:
        raise pytest.UsageError(f"PG=required, but {server.found()[1]}")
    if browser.is_required() and not browser.found()[0]:
        raise pytest.UsageError(f"BROWSER=required, but {browser.found()[1]}")
