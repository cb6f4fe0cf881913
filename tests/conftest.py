from __future__ import annotations

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "soak" not in config.getoption("markexpr"):
        for item in items:
            if item.get_closest_marker("soak"):
                item.add_marker(pytest.mark.skip(reason="a long run; choose it with -m soak"))
