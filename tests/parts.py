"""Parts of a long random test: the first runs with the fast tests, all of them when asked for.

``pytest -m "" -k land_where_asked`` runs every part: at least a thousand requests a method.
"""

from __future__ import annotations

import pytest


def parts(count: int) -> list[object]:
    """Numbers of the parts, all but the first marked as long."""
    return [0, *(pytest.param(part, marks=pytest.mark.soak) for part in range(1, count))]
