"""A plan with its uncertainty, beside the same fills carried out one by one through pyaga8.

Run it by hand: ``python -m tests.bench.bench_certainty``.  The limit is 15 ms.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

from blender.planning import Plan, PlanRequest, parse_gas_at, parse_want, plan
from blender.planning.budget import doubts_of
from blender.planning.certainty import with_certainty
from tests.executor import _times, amount, reached

LIMIT_MS = 15.0
CASES = {
    "nitrox": ("60bar:EAN28", "230bar:EAN32"),
    "nitrox, drained": ("180bar:EAN40", "200bar:EAN32"),
    "trimix": ("40bar:21/35", "220bar:18/45"),
    "heliox": ("0bar:air", "200bar:heliox 20/80"),
}
_LITRES, _AMBIENT = 12.0, 1.01325


def _filled(found: Plan, off_bar: float) -> float:
    """Carry out a fill through pyaga8, every stop off by so much; return its oxygen."""
    have = found.request.have
    gas = have.mix.fractions
    moles = _times(gas, amount(gas, have.gauge_bar + _AMBIENT, 20.0, _LITRES))
    for step in found.steps:
        if step.to_bar is None or step.gas is None:
            continue
        bar = step.to_bar + off_bar + _AMBIENT
        if step.action == "drain":
            total = sum(moles)
            left = amount(tuple(n / total for n in moles), bar, 20.0, _LITRES)
            moles = _times(moles, left / total)
        else:
            guess = step.amount_mol or 0.0
            moles = reached(moles, step.gas.fractions, bar, 20.0, _LITRES, guess)
    return moles[0] / sum(moles)


def _milliseconds(work: Callable[[int], object], times: int = 40) -> float:
    """Median over requests that differ a little, so that nothing kept from the last one helps."""
    taken = []
    for number in range(times):
        begun = time.perf_counter()
        work(number)
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken) * 1e3


def main() -> int:
    """Print every case against pyaga8 and the limit; 1 if one is over it."""
    worst = 0.0
    for name, (have, want) in CASES.items():

        def ours(number: int, have: str = have, want: str = want) -> Plan:
            have_at = parse_gas_at(have, "have")
            ambient = 1.01325 + number * 1e-6
            return with_certainty(
                plan(PlanRequest(0.012, have_at, parse_want(want), ambient_bar=ambient))
            )

        found = ours(0)
        fills = 2 * len(list(doubts_of(found)))

        def theirs(number: int, found: Plan = found, fills: int = fills) -> list[float]:
            return [_filled(found, 0.01 * (place + number)) for place in range(fills)]

        mine, peer = _milliseconds(ours), _milliseconds(theirs)
        worst = max(worst, mine)
        print(
            f"{name:16} {fills:3} fills  {mine:6.2f} ms  pyaga8 {peer:6.2f} ms  "
            f"{peer / mine:4.1f} times as fast, {mine / LIMIT_MS:4.2f} of the limit"
        )
    print(f"worst plan with uncertainty: {worst:.2f} ms, limit {LIMIT_MS} ms")
    return int(worst > LIMIT_MS)


if __name__ == "__main__":
    sys.exit(main())
