"""A busy day: fills overlap, none is forgotten, and nobody's cylinder is in twice at once."""

from __future__ import annotations

import random
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from demo.clock import Clock
from demo.year import shift
from demo.year.customers import Diver, divers
from demo.year.shift import Shift


def test_fills_overlap_and_no_cylinder_is_in_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    known, clock, open_now, most = divers(random.Random(1), 4), Clock(), set[str](), [0]
    told: list[tuple[int, str]] = []

    def fill(_: Any, diver: Diver, __: str) -> Iterator[float]:
        assert diver.serial not in open_now
        open_now.add(diver.serial)
        most[0] = max(most[0], len(open_now))
        for _ in range(3):
            before = clock.minute
            yield 8.0
            assert clock.minute >= before + 8.0
        open_now.remove(diver.serial)
        return len(told) + 1

    monkeypatch.setattr(shift, "fill", fill)
    monkeypatch.setattr(shift, "see_to_banks", lambda _: None)
    shed: Any = SimpleNamespace(clock=clock, world=SimpleNamespace(chance=random.Random(2)))
    day = Shift(shed, known, lambda number, diver: told.append((number, diver.serial)))
    for place in range(40):
        day.begin(place, place * 10.0)
    day.finish()
    assert [number for number, _ in told] == list(range(1, 41))
    assert most[0] == 3  # of 24 minutes each, one begun every ten
    assert clock.minute == 39 * 10.0 + 24.0
