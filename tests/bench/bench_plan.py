"""How long a plan takes in process; the ordinary ones are to stay within 2 ms.

Run it by hand: ``python -m tests.bench.bench_plan``.
"""

from __future__ import annotations

import statistics
import sys
import time
from typing import Any

from blender.errors import NoFillError
from blender.planning import parse_gas_at, parse_want, plan
from blender.planning.options import Options
from blender.units import parse_size

LIMIT_MS = 2.0
_STAGE = {"cylinder": "11.1L", "have": "30bar:EAN50", "want": "200bar:EAN50"}
_FLOW = {"method": "continuous-flow", "rated_intake": "40%", "intake_air": "25C/60%"}
ORDINARY: dict[str, dict[str, Any]] = {
    "nitrox": {"cylinder": "12L", "have": "60bar:EAN28", "want": "230bar:EAN32"},
    "nitrox, drained": {"cylinder": "12L", "have": "180bar:EAN40", "want": "200bar:EAN32"},
    "trimix": {"cylinder": "2x12L", "have": "40bar:21/35", "want": "220bar:18/45"},
    "oxygen, purged": {
        "cylinder": "7L",
        "have": "0bar:air",
        "want": "150bar:oxygen",
        "oxygen_minimum": "99.4%",
        "supply": ["o1=oxygen99.5"],
    },
    "continuous flow": {"cylinder": "12L", "have": "45bar:air", "want": "220bar:EAN32", **_FLOW},
    "cascade": {
        **_STAGE,
        "supply": [f"b{p}=oxygen99.5@{p}barx50L" for p in (60, 110, 190)],
    },
}
REFUSED: dict[str, dict[str, Any]] = {
    "bank too weak": {**_STAGE, "supply": [f"b{p}=oxygen99.5@{p}barx50L" for p in (40, 70, 80)]},
    "over the rating": {"cylinder": "12L", "have": "45bar:air", "want": "220bar:EAN36", **_FLOW},
}


def _ask(asked: dict[str, Any]) -> None:
    cylinder, have, want = (asked.pop(name) for name in ("cylinder", "have", "want"))
    supply = tuple(asked.pop("supply", ()))
    try:
        plan(
            Options(supply=supply, **asked).request(
                parse_size(cylinder, "--cylinder").volume_m3,
                parse_gas_at(have, "--have"),
                parse_want(want, "--want"),
            )
        ).as_dict()
    except NoFillError as error:
        assert error.alternatives


def _milliseconds(asked: dict[str, Any], times: int) -> float:
    """Median over requests that differ a little, so that nothing kept from the last one helps."""
    taken = []
    for i in range(times):
        another = {**asked, "ambient": f"{1.0 + i * 1e-5:.5f}bar"}
        begun = time.perf_counter()
        _ask(another)
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken) * 1e3


def main() -> int:
    """Print every case against the limit; 1 if an ordinary one is over it."""
    worst = 0.0
    for name, asked in ORDINARY.items():
        taken = _milliseconds(asked, 200)
        worst = max(worst, taken)
        print(f"{name:18} {taken:8.3f} ms   {taken / LIMIT_MS:5.2f} of the limit")
    for name, asked in REFUSED.items():
        print(f"{name:18} {_milliseconds(asked, 5):8.3f} ms   (refused, with alternatives)")
    print(f"worst ordinary plan: {worst:.3f} ms, limit {LIMIT_MS} ms")
    return int(worst > LIMIT_MS)


if __name__ == "__main__":
    sys.exit(main())
