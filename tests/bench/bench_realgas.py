"""How fast the real gas is beside other libraries: ratios of time per state, best of five.

Run it by hand: ``python -m tests.bench.bench_realgas``.  Every peer is given temperature,
pressure and (where they vary) composition of each state anew and returns the density.  The
rounds of all peers take turns, so that a busy machine slows each alike.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import CoolProp
import numpy as np
import pyaga8
import teqp
from numpy.typing import NDArray

from blender.realgas import Mixture, batch

Array = NDArray[np.float64]
ROUNDS = 5
BATCH = 100_000
FEW = 1_000  # for the slow peers and for the scalar path
NITROX = (0.32, 0.0, 0.672, 0.008)
ROOM_K = 293.15


@dataclass(frozen=True)
class Peer:
    """Something that solves `states` densities when called."""

    name: str
    states: int
    solve: Callable[[], object]


def random_states(count: int) -> tuple[Array, Array, Array]:
    """Return temperatures [K], pressures [Pa] and fractions O2, He, N2, Ar."""
    rng = np.random.default_rng(2008)
    return (
        rng.uniform(250.0, 340.0, count),
        rng.uniform(1e5, 350e5, count),
        rng.dirichlet(np.ones(4), count),
    )


def pyaga8_all_vary(t: Array, p: Array, x: Array) -> Callable[[], object]:
    model, gas = pyaga8.Gerg2008(), pyaga8.Composition()
    states = list(zip(t.tolist(), (p / 1e3).tolist(), x.tolist(), strict=True))

    def solve() -> None:
        for temperature_k, pressure_kpa, fractions in states:
            gas.oxygen, gas.helium, gas.nitrogen, gas.argon = fractions
            model.set_composition(gas)
            model.temperature = temperature_k
            model.pressure = pressure_kpa
            model.calc_density(0)
            _ = model.d

    return solve


def pyaga8_one_mixture(
    t: list[float], p: Array, fractions: tuple[float, ...]
) -> Callable[[], object]:
    model, gas = pyaga8.Gerg2008(), pyaga8.Composition()
    gas.oxygen, gas.helium, gas.nitrogen, gas.argon = fractions
    model.set_composition(gas)
    states = list(zip(t, (p / 1e3).tolist(), strict=True))

    def solve() -> None:
        for temperature_k, pressure_kpa in states:
            model.temperature = temperature_k
            model.pressure = pressure_kpa
            model.calc_density(0)
            _ = model.d

    return solve


def teqp_all_vary(t: Array, p: Array, x: Array) -> Callable[[], object]:
    names = ["oxygen", "helium", "nitrogen", "argon"]
    model = teqp.make_model({"kind": "GERG2008resid", "model": {"names": names}})
    states = list(zip(t.tolist(), p.tolist(), list(x), strict=True))

    def solve() -> None:
        for temperature_k, pressure_pa, fractions in states:
            rt = model.get_R(fractions) * temperature_k
            rho = pressure_pa / rt
            for _ in range(20):
                _, a1, a2 = model.get_Ar02n(temperature_k, rho, fractions)
                step = (rho * (1.0 + a1) - pressure_pa / rt) / (1.0 + 2.0 * a1 + a2)
                rho -= step
                if abs(step) < 1e-6 * rho:  # the next would be at rounding level
                    break

    return solve


def coolprop_all_vary(t: Array, p: Array, x: Array) -> Callable[[], object]:
    model = CoolProp.AbstractState("HEOS", "Oxygen&Helium&Nitrogen&Argon")
    states = list(zip(t.tolist(), p.tolist(), x.tolist(), strict=True))

    def solve() -> None:
        for temperature_k, pressure_pa, fractions in states:
            model.set_mole_fractions(fractions)
            model.specify_phase(CoolProp.iphase_gas)
            model.update(CoolProp.PT_INPUTS, pressure_pa, temperature_k)
            _ = model.rhomolar()

    return solve


def scalar(t: list[float], p: list[float], mixture: Mixture) -> Callable[[], object]:
    states = list(zip(t, p, strict=True))
    return lambda: [mixture.density(*state) for state in states]


def microseconds_per_state(peers: list[Peer]) -> dict[str, float]:
    """Return the best of the rounds for each peer, the peers taking turns."""
    best = {peer.name: float("inf") for peer in peers}
    for _ in range(ROUNDS):
        for peer in peers:
            start = time.perf_counter()
            peer.solve()
            taken = (time.perf_counter() - start) / peer.states * 1e6
            best[peer.name] = min(best[peer.name], taken)
    return best


def show(title: str, ours: str, peers: list[Peer]) -> None:
    """Print microseconds per state, and how many times faster or slower ours is."""
    best = microseconds_per_state(peers)
    print(f"\n{title}")
    for name, taken in best.items():
        ratio = taken / best[ours]
        times = f"ours {ratio:8.2f} x faster" if ratio >= 1 else f"ours {1 / ratio:8.2f} x slower"
        print(f"  {name:<56}{taken:10.3f} us   {'' if name == ours else times}".rstrip())


def main() -> int:
    """Measure and print the three comparisons."""
    t, p, x = random_states(BATCH)
    few = slice(0, FEW)
    ours = "batch.density"
    show(
        f"{BATCH} states, temperature, pressure and composition vary",
        ours,
        [
            Peer(ours, BATCH, lambda: batch.density(t, p, x)),
            Peer("pyaga8 GERG-2008", BATCH, pyaga8_all_vary(t, p, x)),
            Peer("teqp GERG-2008, Newton in Python", FEW, teqp_all_vary(t[few], p[few], x[few])),
            Peer("CoolProp HEOS, gas phase given", FEW, coolprop_all_vary(t[few], p[few], x[few])),
        ],
    )
    ours = "batch.Isotherm.density, set-up included"
    show(
        f"{BATCH} states, one mixture at one temperature, pressure varies",
        ours,
        [
            Peer(ours, BATCH, lambda: batch.Isotherm(NITROX, ROOM_K).density(p)),
            Peer("pyaga8, same", BATCH, pyaga8_one_mixture([ROOM_K] * BATCH, p, NITROX)),
        ],
    )
    ours = "Mixture.density (plain Python), temperature varies"
    show(
        f"{FEW} single states of one mixture",
        ours,
        [
            Peer(ours, FEW, scalar(t[few].tolist(), p[few].tolist(), Mixture(NITROX))),
            Peer("pyaga8, same", FEW, pyaga8_one_mixture(t[few].tolist(), p[few], NITROX)),
        ],
    )
    ours = "Mixture(...).density, composition varies"
    show(
        f"{FEW} single states of as many mixtures",
        ours,
        [
            Peer(
                ours,
                FEW,
                lambda: [Mixture(x[k]).density(float(t[k]), float(p[k])) for k in range(FEW)],
            ),
            Peer("pyaga8, same", FEW, pyaga8_all_vary(t[few], p[few], x[few])),
        ],
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
