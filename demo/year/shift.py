"""A day's fills: several are under way at once when it is busy, as at any panel."""

from __future__ import annotations

import math
from collections.abc import Callable, Generator, Sequence
from heapq import heappop, heappush

from demo.year.customers import Diver
from demo.year.one_fill import Shed, fill
from demo.year.plant import see_to_banks
from demo.year.troubles import AGEING, SOUND


class Shift:
    """The fills of a day, each gone on with when its time has come.

    Parameters
    ----------
    shed : Shed
        The station on that day.
    known : sequence of Diver
        Who may come; nobody does whose cylinder is being filled already.
    ended : callable
        Told of each fill that came to its end, and whose it was.
    """

    def __init__(
        self, shed: Shed, known: Sequence[Diver], ended: Callable[[int, Diver], None]
    ) -> None:
        self._shed, self._known, self._ended = shed, known, ended
        self._due: list[tuple[float, int, Generator[float, None, int], Diver]] = []

    def begin(self, place: int, minute: float) -> None:
        """Go on with the others up to a minute, and take the next cylinder in then."""
        self._go_on(minute)
        shed, busy = self._shed, [diver for *_, diver in self._due]
        shed.clock.until(minute)
        analyser = shed.world.chance.choice((SOUND, AGEING))
        diver = shed.world.chance.choice([one for one in self._known if one not in busy])
        see_to_banks(shed)
        heappush(self._due, (shed.clock.minute, place, fill(shed, diver, analyser), diver))

    def finish(self) -> None:
        """Bring all to their ends."""
        self._go_on(math.inf)

    def _go_on(self, minute: float) -> None:
        while self._due and self._due[0][0] <= minute:
            at, place, going, diver = heappop(self._due)
            self._shed.clock.until(at)
            try:
                heappush(self._due, (at + next(going), place, going, diver))
            except StopIteration as end:
                self._ended(end.value, diver)
