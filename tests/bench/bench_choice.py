"""A ranked choice over five supplies, beside its recipes carried out through pyaga8.

Run it by hand: ``python -m tests.bench.bench_choice``.  The limit is 100 ms.
"""

from __future__ import annotations

import statistics
import sys
import time

from blender.planning import PlanRequest, parse_gas_at, parse_supply, parse_want
from blender.planning.budget import doubts_of
from blender.planning.choice import Choice, choices
from blender.planning.merits import Terms
from tests.bench.bench_certainty import _filled

LIMIT_MS = 100.0
BANK = ("o1=oxygen99.5@180barx50L", "he=helium@190barx50L", "b1=EAN36@230barx2x50L",
        "b2=EAN50@200barx50L", "b3=EAN32@240barx2x50L")  # fmt: skip
TERMS = Terms({"o1": 6.0, "he": 40.0, "b1": 2.0, "b2": 3.0, "b3": 2.0})
CASES = {
    "nitrox": ("60bar:EAN28", "230bar:EAN32"),
    "nitrox, drained": ("180bar:EAN40", "200bar:EAN32"),
    "trimix": ("40bar:21/35", "220bar:18/45"),
}


def _ours(have: str, want: str, number: int) -> tuple[Choice, ...]:
    supplies = tuple(parse_supply(text, "s") for text in BANK)
    request = PlanRequest(
        0.012, parse_gas_at(have, "have"), parse_want(want), supplies=supplies,
        rated_intake=0.40, delivery_l_min=200.0, ambient_bar=1.01325 + number * 1e-6,
    )  # fmt: skip
    return choices(request, TERMS)


def _theirs(found: tuple[Choice, ...]) -> None:
    """Carry out every recipe, and those with uncertainties as often as they have doubts."""
    for choice in found:
        sure = choice.merits.o2_uncertainty is not None
        fills = 2 * len(list(doubts_of(choice.plan))) if sure else 1
        for place in range(fills):
            _filled(choice.plan, 0.01 * place)


def main() -> int:
    """Print every case against pyaga8 and the limit; 1 if one is over it."""
    worst = 0.0
    for name, (have, want) in CASES.items():
        found, mine, peer = _ours(have, want, 0), [], []
        for number in range(1, 16):
            begun = time.perf_counter()
            _ours(have, want, number)
            mine.append(time.perf_counter() - begun)
            begun = time.perf_counter()
            _theirs(found)
            peer.append(time.perf_counter() - begun)
        taken, other = statistics.median(mine) * 1e3, statistics.median(peer) * 1e3
        worst = max(worst, taken)
        print(
            f"{name:16} {len(found):3} recipes  {taken:6.1f} ms  pyaga8 {other:6.1f} ms "
            f"(to carry them out; finding them not counted)  {taken / LIMIT_MS:4.2f} of the limit"
        )
    print(f"worst ranked choice over {len(BANK)} supplies: {worst:.1f} ms, limit {LIMIT_MS} ms")
    return int(worst > LIMIT_MS)


if __name__ == "__main__":
    sys.exit(main())
