"""The same cylinder at the panel: planned, started, filled, held and resumed.

The blender does what the plan says, with a gauge that errs and a needle that is never stopped
on the mark.  Whatever has to wait is a generator that yields minutes, so that several
cylinders are open at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from blender.errors import NoFillError
from blender.planning.options import Options
from blender.station import filling, planning
from blender.station.answer import Answer
from demo import words
from demo.hands import Day, Hands
from demo.station import ROOM_AIR, Bottle, Staff
from demo.world import PANEL

Waiting = Iterator[float]

REST_MIN = 35.0
_DRAIN_REST_MIN = 20.0
_OXYGEN_BAR_MIN, _AIR_BAR_MIN = 4.0, 15.0
_MOST_READINGS = 14  # a fill that still is not done then is left as it stands
_MOST_TRIES = 2  # an empty bottle is not opened a third time
_SLIP_BAR = 0.25  # how well a hand stops a needle, one standard deviation


class Fill(Hands):
    """One fill, from the counter through the panel to the door."""

    def __init__(self, day: Day, bottle: Bottle, by: Staff, title: str) -> None:
        super().__init__(day, bottle, by, title)
        self.steps: list[dict[str, Any]] = []
        self.at = 0
        self._cautions: set[str] = set()

    def plan(self, **options: Any) -> bool:
        """Make the plan, or make it again from where the fill stands."""
        self.day.clock.wait(1)
        try:
            answer = planning.plan(self.day.station, self.actor, self.number, Options(**options))
        except NoFillError as error:
            self.say(f"No plan: {error.text}.")
            return False
        if not self._stands(answer):
            return False
        made = answer.facts["plan"]
        self.steps, self.at, self.promised = made["steps"], 0, made["result"]["o2"]
        self.say(*words.planned(answer))
        return True

    def start(self, isolator: str = "") -> bool:
        """Start letting gas in."""
        if self.state not in ("planned", "correcting"):
            return False
        self.paragraph(2)
        answer = filling.start(
            self.day.station, self.actor, self.number, serial=self.bottle.serial, isolator=isolator
        )
        return self._stands(answer)

    def follow(
        self, *, to_top: bool = False, slip_bar: float = 0.0, chilled_k: float = 0.0
    ) -> Waiting:
        """Carry the plan out, step by step, to its end or to the top gas; then let it settle.

        `slip_bar` is how far the last gas before the top is let past its stop, `chilled_k`
        how much a quick first bleed cools the gas.
        """
        top, tries = self._top(), 0
        last = top if to_top else len(self.steps)
        for _ in range(_MOST_READINGS):
            if self.state != "filling" or self.at >= last:
                break
            step = self.steps[self.at]
            if step["action"] == "rest":
                yield _DRAIN_REST_MIN
                self.paragraph()
            slip = slip_bar if self.at == top - 1 else 0.0
            answer = self._carry_out(step, slip, chilled_k)
            chilled_k = 0.0
            if not self._stands(answer):
                return
            self.say(*(said for said in words.read(answer, step) if said not in self._cautions))
            self._cautions.update(words.warned(answer.facts["warnings"], repeated=False))
            moved = self._moved(answer)
            self.at, tries = self.at + moved, 0 if moved else tries + 1
            if tries == _MOST_TRIES:
                self.say("It would not go further, and there it stayed.")
                return
        if self.state == "resting":
            yield REST_MIN
            self._settle()

    def _top(self) -> int:
        """Return the step at which air goes in; after the last where none does."""
        adds = [n for n, step in enumerate(self.steps) if step.get("supply") in words.AIR_SUPPLIES]
        return adds[0] if adds else len(self.steps)

    @staticmethod
    def _moved(answer: Answer) -> int:
        """Return how many steps a reading moved the fill: back to the drain on a rebound."""
        if any(warning["code"] == "rebound" for warning in answer.facts["warnings"]):
            return -1
        return 1 if answer.facts["closes"] else 0

    def _carry_out(self, step: dict[str, Any], slip_bar: float, chilled_k: float) -> Answer:
        """Do one step at the panel and enter the reading."""
        world, serial, thought_c = self.day.world, self.bottle.serial, step["temperature_c"]
        match step["action"]:
            case "add":
                self._let_in(step, slip_bar)
            case "flow":
                mark = self._mark(step["to_bar"])
                self.day.clock.wait(step.get("minutes", 12.0))
                world.stream_in(serial, step["intake_reading"], ROOM_AIR, mark, thought_c)
            case "drain":
                thought_c = self._bleed(step, chilled_k)
            case "purge":
                self.day.clock.wait(8)
                world.let_in(serial, step["supply"], PANEL.at_or_below(step["to_bar"]), thought_c)
                world.let_out(serial, PANEL.at_or_below(step["from_bar"]))
            case _:
                world.rest(serial)
                thought_c = world.warmth(serial)
        return self._read(thought_c, "gas")

    def _read(self, temperature_c: float, kind: str) -> Answer:
        shown = self.day.world.reads(self.bottle.serial)
        return filling.reading(
            self.day.station,
            self.actor,
            self.number,
            at=f"{shown:.1f}bar",
            temperature=f"{temperature_c:.0f}C",
            kind=kind,
            gauge=PANEL.name,
        )

    def _mark(self, stop_bar: float, slip_bar: float = 0.0) -> float:
        """Return the mark of the scale at which a hand really stops the needle."""
        aimed = stop_bar + slip_bar + self.day.world.chance.gauss(0.0, _SLIP_BAR)
        return round(aimed / PANEL.step_bar) * PANEL.step_bar

    def _let_in(self, step: dict[str, Any], slip_bar: float) -> None:
        """Open the valve until the needle stands about where it should."""
        serial, supply = self.bottle.serial, step["supply"]
        mark = self._mark(step["to_bar"], slip_bar)
        rate = _AIR_BAR_MIN if words.source(step) == "air" else _OXYGEN_BAR_MIN
        self.day.clock.wait(2 + abs(step["to_bar"] - step["from_bar"]) / rate)
        self.day.world.let_in(serial, supply, mark, step["temperature_c"])

    def _bleed(self, step: dict[str, Any], chilled_k: float) -> float:
        """Bleed to the stop; return the temperature the gas is taken to have [degC].

        A quick bleed chills the gas and nobody notices.  Who has been caught by the rebound
        bleeds slowly, and a mark further for good measure.
        """
        serial, world = self.bottle.serial, self.day.world
        self.day.clock.wait(4 if chilled_k else 9)
        goal, taken_c = step["to_bar"], step["temperature_c"]
        if not chilled_k and world.reads(serial) < step["from_bar"] - PANEL.step_bar:
            taken_c = world.warmth(serial)
            goal = goal * (273.0 + taken_c) / (273.0 + step["temperature_c"]) - PANEL.step_bar
        world.let_out(serial, PANEL.at_or_below(max(goal, 0.0)), chilled_k=chilled_k)
        return float(taken_c)

    def _settle(self) -> None:
        """Read once more when gauge and temperature have come to rest."""
        world, serial = self.day.world, self.bottle.serial
        self.paragraph()
        world.rest(serial)
        answer = self._read(world.warmth(serial), "wall")
        if self._stands(answer):
            self.say(*words.settled(answer))

    def hold(self, reason: str) -> float | None:
        """Stop part-way; return what the gauge should show at 15 degC [bar]."""
        answer = filling.hold(self.day.station, self.actor, self.number, reason=reason)
        if not self._stands(answer):
            return None
        self.say(f"{words.capital(reason)} {answer.text}")
        return float(answer.facts["gauge_should_show_bar"]["15C"])

    def resume(self, serial: str) -> bool:
        """Try to go on with a held fill: identity, gauge, temperature."""
        day = self.day
        shown, warm = day.world.reads(self.bottle.serial), day.world.warmth(self.bottle.serial)
        answer = filling.resume(
            day.station,
            self.actor,
            self.number,
            serial=serial,
            at=f"{shown:.1f}bar",
            temperature=f"{warm:.0f}C",
        )
        if self._stands(answer):
            self.say(words.resumed(answer, warm))
        return answer.done
