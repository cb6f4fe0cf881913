"""A random walk over several fills: whatever is entered, in whatever order, the record holds."""

from __future__ import annotations

import json
import random

import pytest

from blender.errors import FillwrightError
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import book, equipment, export, papers
from blender.station.answer import Answer
from blender.station.states import STATES
from tests.executor import pressure_bar
from tests.station.shop import LITRES, Shop

# From where to where one act may take a fill; written out by hand.
STEPS = {
    "requested": "requested planned quarantined rejected",
    "planned": "planned requested filling quarantined rejected",
    "filling": "filling resting held quarantined rejected",
    "held": "held filling resting quarantined rejected",
    "resting": "resting held analysed recheck quarantined rejected",
    "analysed": "analysed recheck correcting accepted quarantined rejected",
    "recheck": "recheck analysed quarantined rejected",
    "correcting": "correcting filling quarantined rejected",
    "accepted": "accepted collected quarantined rejected",
    "collected": "collected",
    "rejected": "rejected",
    "quarantined": "quarantined requested planned held analysed recheck correcting accepted "
    "rejected",
}


class Walk:
    """A careless but busy day, the same one for each seed."""

    def __init__(self, shop: Shop, seed: int) -> None:
        self.shop = shop
        self.dice = random.Random(seed)
        self.labels: dict[int, str] = {}
        self.fills: list[int] = []
        self.done = self.refused = self.unread = 0

    def go(self, acts: int) -> None:
        self.request()
        for _ in range(acts):
            self.shop.clock.turn(self.dice.choice((0, 1, 5, 40)))
            self.act()

    def act(self) -> None:
        if len(self.fills) < 2 or self.dice.random() < 0.04:
            self.request()
            return
        if self.dice.random() < 0.15:
            self.calibrate()
        fill = self.dice.choice(self.fills[-4:])
        before = self.shop.row(fill).state
        count = self.shop.seq()
        try:
            answer = self.likely(fill, before)
        except FillwrightError as error:
            assert error.exit_code in (2, 3), error
            self.unread += 1
            assert self.shop.seq() == count
            assert self.shop.row(fill).state == before
            return
        self.check(fill, before, answer, count)

    def request(self) -> None:
        pick = self.dice.choice
        left = self.dice.randint(0, 90)
        self.fills.append(
            self.shop.request(
                cylinder=pick(sorted(LITRES)),
                customer=pick(("Kai Diver", "Lena Tief", "Uma Neu")),
                have=f"{left}bar@{pick((5, 20, 33))}C:{pick(('air', 'EAN28', 'EAN32', '18/45'))}",
                residual=pick(("analysed", "analysed", "stated", "label", "unknown")),
                want=f"{pick((180, 200, 225))}bar:{pick(('EAN32', 'EAN36', 'air', '18/45'))}",
            )
        )

    def calibrate(self) -> None:
        meter = self.dice.choice(("A1", "A2"))
        equipment.calibrate(self.shop.station, self.shop.jo, name=meter, gas="air", reading="20.9")

    def likely(self, fill: int, state: str) -> Answer:
        """Mostly what comes next; now and then anything at all."""
        usual = {
            "requested": ("plan", "plan", "analyse"),
            "planned": ("start", "start", "plan"),
            "filling": ("reading", "reading", "reading", "hold", "plan"),
            "held": ("resume", "resume", "analyse", "plan"),
            "resting": ("reading", "analyse", "analyse"),
            "analysed": ("accept", "accept", "analyse", "plan"),
            "recheck": ("analyse",),
            "correcting": ("start",),
            "accepted": ("collect",),
            "quarantined": ("release",),
        }
        every = (
            *usual["filling"],
            "accept",
            "collect",
            "start",
            "release",
            "reject",
            "quarantine",
            "resume",
            "analyse",
        )
        name = self.dice.choice(usual.get(state, every) if self.dice.random() < 0.85 else every)
        found: Answer = getattr(self, f"_{name}")(fill)
        return found

    # -- acts with noise ---------------------------------------------------------------

    def _serial(self, fill: int) -> str:
        right = self.shop.row(fill).serial
        return right if self.dice.random() < 0.93 else self.dice.choice(("C-1001", "?", "D-7"))

    def _plan(self, fill: int) -> Answer:
        by = self.dice.choice((self.shop.jo, self.shop.mara))
        warm = self.dice.choice(("20C", "27C"))
        return self.shop.plan(fill, by=by, temperature=warm)

    def _start(self, fill: int) -> Answer:
        by = self.dice.choice((self.shop.jo, self.shop.mara))
        isolator = self.dice.choice(("", "open", "open", "closed"))
        return self.shop.start(fill, self._serial(fill), by=by, isolator=isolator)

    def _reading(self, fill: int) -> Answer:
        row, steps = self.shop.row(fill), self.shop.steps(fill)
        stop = steps[row.step].to_mbar / 1000 if row.step < len(steps) else -1.0
        stop = stop if stop >= 0 else row.gauge_mbar / 1000
        now = row.gauge_mbar / 1000
        part = self.dice.choice((1.0, 1.0, 1.0, 0.5, 1.1, 0.0))
        shown = now + part * (stop - now) + self.dice.gauss(0.0, 0.3)
        kind = self.dice.choice(("gas", "gas", "gas", "gas", "wall", "room"))
        at = f"{min(max(shown, 0.0), 499.0):.1f}bar"
        return self.shop.reading(fill, at, f"{self.dice.choice((18, 20, 27, 35))}C", kind=kind)

    def _hold(self, fill: int) -> Answer:
        return self.shop.hold(fill, self.dice.choice(("shift", "Ölwechsel", "power [/] =1+1")))

    def _resume(self, fill: int) -> Answer:
        shown = self.shop.row(fill).gauge_mbar / 1000 + self.dice.choice((0.0, 0.4, -6.0))
        return self.shop.resume(fill, f"{max(shown, 0.0):.1f}bar", "20C", self._serial(fill))

    def _gas(self, fill: int) -> tuple[str, str | None]:
        o2, he, n2, ar = self.shop.moles(fill)
        total = o2 + he + n2 + ar
        noise = self.dice.choice((0.1, 0.1, 0.1, 1.0))
        read = max(o2 / total * 100 + self.dice.gauss(0.0, noise), 0.0)
        helium = f"{he / total * 100:.1f}" if he > 0.1 or self.dice.random() < 0.1 else None
        return f"{min(read, 100.0):.1f}", helium

    def _analyse(self, fill: int) -> Answer:
        meter = self.dice.choice(("A1", "A2"))
        serial = self.dice.choice(self.shop.row(fill).serial.split("+"))
        reading, helium = self._gas(fill)
        return self.shop.analyse(fill, reading, helium, serial, meter)

    def _accept(self, fill: int) -> Answer:
        reading, helium = self._gas(fill)
        answer = self.shop.accept(fill, reading, helium, name="Anyone Élse")
        if answer.done:
            self.labels[fill] = answer.facts["anchor"]
        return answer

    def _collect(self, fill: int) -> Answer:
        label = self.dice.choice((*self.labels.values(), "x"))
        return self.shop.collect(fill, self.labels.get(fill, label), self._serial(fill))

    def _reject(self, fill: int) -> Answer:
        if self.dice.random() < 0.7:
            return self._hold(fill)
        return self.shop.reject(fill)

    def _quarantine(self, fill: int) -> Answer:
        return self.shop.quarantine(fill)

    def _release(self, fill: int) -> Answer:
        return self.shop.release(fill)

    # -- what always holds -------------------------------------------------------------

    def check(self, fill: int, before: str, answer: Answer, count: int) -> None:
        row = self.shop.row(fill)
        assert answer.fill == fill
        assert row.state == answer.state
        assert answer.state in STEPS[before].split(), (before, answer)
        assert self.shop.seq() > count
        json.dumps(answer.as_dict(), allow_nan=False)
        self.done += answer.done
        self.refused += not answer.done
        moles = self.shop.moles(fill)
        assert min(moles) >= 0.0
        assert sum(moles) > 0.0
        if row.temp_kind == "gas" and answer.done and "closes" in answer.facts:
            self._check_gauge(fill, answer)
        if self.dice.random() < 0.3:
            self._check_papers(fill)

    def _check_papers(self, fill: int) -> None:
        row = self.shop.row(fill)
        story = book.story(self.shop.station.record, fill)
        json.dumps(story, allow_nan=False)
        if row.state in ("filling", "held", "resting", "analysed", "recheck"):
            assert story["do_not_breathe"]
        if row.state in ("accepted", "collected"):
            assert papers.label_view(self.shop.station.record, fill).o2_percent > 0.0
        elif row.has_gas and row.state != "rejected":
            papers.tag_view(self.shop.station.record, fill)

    def _check_gauge(self, fill: int, answer: Answer) -> None:
        """Where the reading was believed, the amounts make it by an independent equation."""
        read = answer.facts["reading"]
        odd = {"below-contents", "above-contents", "temperature-not-gas", "not-vented"}
        if read["kind"] != "gas" or odd & {w["code"] for w in answer.facts["warnings"]}:
            return
        o2, he, n2, ar = self.shop.moles(fill)
        litres = LITRES[self.shop.row(fill).serial]
        makes = pressure_bar((o2, he, n2, ar), read["temperature_c"], litres) - 1.01325
        assert makes == pytest.approx(read["pressure_bar"], abs=1.05)  # a stop's own tolerance


def walked(shop: Shop, seed: int, acts: int) -> Walk:
    walk = Walk(shop, seed)
    walk.go(acts)
    tables = shop.tables()
    report = verify(shop.path)
    assert report.problems == []
    assert report.entries == len(shop.entries())
    rebuild(shop.station.record)
    assert shop.tables() == tables
    export.log_view(shop.station.record, "2026-01-01", "2027-12-31", shop.clock())
    return walk


@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.soak)])
def test_a_random_day(shop: Shop, seed: int) -> None:
    walk = walked(shop, seed, 120)
    assert walk.done > 40
    assert walk.refused > 5
    assert set(STATES) >= {shop.row(fill).state for fill in walk.fills}


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(100, 140))
def test_many_random_days(shop: Shop, seed: int) -> None:
    walked(shop, seed, 400)
