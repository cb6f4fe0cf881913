from __future__ import annotations

import pytest

from demo.walk import Walk, walk


@pytest.fixture(scope="session")
def day(tmp_path_factory) -> Walk:
    """The day as everybody gets it, walked once."""
    return walk(tmp_path_factory.mktemp("demo") / "out")
