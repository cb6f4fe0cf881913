"""A wall table of 5 000 cells, beside the same stops worked out cell by cell through pyaga8.

Run it by hand: ``python -m tests.bench.bench_wall``.  The limit is 0.5 s.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from pyaga8 import Composition, Gerg2008

from blender.gas import AIR, parse_gas
from blender.planning.wall_table import WallRequest, wall_table

LIMIT_S = 0.5
RESIDUAL = parse_gas("EAN32")
BARS = tuple(float(row) for row in range(100))
WANTED = tuple(parse_gas(f"EAN{33 + column / 2:.1f}") for column in range(50))
_EOS = Gerg2008()


def _compose(fractions: tuple[float, ...]) -> None:
    gas = Composition()
    gas.oxygen, gas.helium, gas.nitrogen, gas.argon = fractions
    _EOS.set_composition(gas)
    _EOS.temperature = 293.15


def _density(fractions: tuple[float, ...], gauge_bar: float) -> float:
    _compose(fractions)
    _EOS.pressure = (gauge_bar + 1.01325) * 100.0
    _EOS.calc_density(0)
    return float(_EOS.d)


def _one(bar: float, o2: float) -> float:
    """Return the oxygen stop of one cell [bar]; the total depends a little on the argon."""
    left = [_density(RESIDUAL.fractions, bar) * x for x in RESIDUAL.fractions]
    mix: tuple[float, ...] = (o2, 0.0, 1.0 - o2, 0.0)
    for _ in range(4):
        total = _density(mix, 200.0)
        rest = total - sum(left)
        oxygen = (o2 * total - left[0] - AIR.o2 * rest) / (1.0 - AIR.o2)
        holds = [a + (rest - oxygen) * b for a, b in zip(left, AIR.fractions, strict=True)]
        holds[0] += oxygen
        mix = tuple(a / total for a in holds)
    after = [left[0] + oxygen, *left[1:]]
    _compose(tuple(a / sum(after) for a in after))
    _EOS.d = sum(after)
    return float(_EOS.calc_pressure()) / 100.0 - 1.01325


def _best_s(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def main() -> int:
    """Print both times and their ratio; 1 if the table is over the limit."""
    asked = WallRequest(RESIDUAL, BARS, WANTED, 200.0)
    table = wall_table(asked)
    ours = _best_s(lambda: wall_table(asked), 5)
    theirs = _best_s(lambda: [_one(bar, gas.o2) for bar in BARS for gas in WANTED], 2)
    apart = max(
        abs(_one(BARS[row], gas.o2) - table.oxygen_bar[row, column])
        for row in range(0, len(BARS), 10)
        for column, gas in enumerate(WANTED)
    )
    print(
        f"wall table, {table.final_bar.size} cells: {ours:.3f} s, {ours / LIMIT_S:.2f} of the limit"
    )
    print(f"through pyaga8: {theirs:.3f} s, {theirs / ours:.1f}x; apart by {apart:.1e} bar")
    return int(ours > LIMIT_S)


if __name__ == "__main__":
    sys.exit(main())
