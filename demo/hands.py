"""One cylinder in the hands of the people at the panel and the counter.

They do what the plan says, with a gauge that errs and a needle that is never stopped on the
mark; every step is entered through its use case and told as it was answered.  Whatever has to
wait is a generator that yields minutes, so that several cylinders are open at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from blender.errors import NoFillError
from blender.planning.options import Options
from blender.record.moment import Moment
from blender.station import analysing, ending, filling, handover, people, planning, requesting
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Station
from blender.station.equipment import add_cylinder
from demo import signature, words
from demo.account import Account, Section
from demo.clock import Clock
from demo.papers import Papers
from demo.station import BENCH, COUNTER, ROOM_AIR, Bottle, Meter, Source, Staff
from demo.world import CHECK_IN, PANEL, World

Waiting = Iterator[float]

REST_MIN = 35.0
_DRAIN_REST_MIN = 20.0
_OXYGEN_BAR_MIN, _AIR_BAR_MIN = 4.0, 15.0
_MOST_READINGS = 14  # a fill that still is not done then is left as it stands
_SLIP_BAR = 0.25  # how well a hand stops a needle, one standard deviation


@dataclass
class Day:
    """The station on its day: what is real, what is recorded, and who is signed in."""

    station: Station
    world: World
    clock: Clock
    account: Account
    papers: Papers
    staff: dict[str, Actor] = field(default_factory=dict)
    labels: dict[int, str] = field(default_factory=dict)
    fills: list[Hands] = field(default_factory=list)
    known: set[str] = field(default_factory=set)

    @property
    def now(self) -> Moment:
        """The moment on the station's clock."""
        return self.clock()


class Hands:
    """One fill, from the counter to the door."""

    def __init__(self, day: Day, bottle: Bottle, by: Staff, title: str) -> None:
        self.day = day
        self.bottle = bottle
        self.actor = day.staff[by.name]
        self.told: Section = day.account.section(f"{title}, for {bottle.owner}")
        self.number = 0
        self.state = ""
        self.decision = ""
        self.steps: list[dict[str, Any]] = []
        self.promised: float | None = None
        self.at = 0
        self._cautions: set[str] = set()
        day.fills.append(self)

    # -- what everybody does ------------------------------------------------------------

    def say(self, *sentences: str) -> None:
        """Add sentences to the account."""
        self.told.say(*sentences)

    def paragraph(self, wait_min: float = 0.0) -> None:
        """Let some minutes pass and begin a paragraph."""
        self.day.clock.wait(wait_min)
        self.told.paragraph(self.day.clock.time)

    def _stands(self, answer: Answer) -> bool:
        """Keep where the fill stands, and tell a refusal; return whether it was done."""
        self.state = answer.state
        if not answer.done:
            self.say(words.refused(answer))
        return answer.done

    # -- the counter --------------------------------------------------------------------

    def check_in(self, want: str, residual: str = "label") -> None:
        """Take the cylinder in: stamps, gauge, temperature, and what is said to be in it."""
        day, bottle = self.day, self.bottle
        day.world.bring(bottle)
        self.paragraph(3)
        self._register()
        shown, warm = (
            day.world.reads(bottle.serial, CHECK_IN),
            day.world.warmth(bottle.serial),
        )
        answer = requesting.request(
            day.station,
            self.actor,
            cylinder=bottle.serial,
            customer=bottle.owner,
            have=f"{shown:.1f}bar@{warm:.0f}C:{bottle.said}",
            residual=residual,
            want=want,
        )
        self.number = self.told.fill = answer.fill
        self._stands(answer)
        source = "by its old label" if residual == "label" else "by the owner's word"
        self.say(
            f"{bottle.owner} brought {answer.facts['cylinder']}, {bottle.size}. The check-in "
            f"gauge showed {shown:.1f} bar at {warm:.0f} degC; {source}, {bottle.said}."
        )

    def _register(self) -> None:
        """Enter cylinder and customer, where they are not in the record yet."""
        day, bottle = self.day, self.bottle
        if bottle.owner not in day.known:
            people.add_person(
                day.station,
                self.actor,
                name=bottle.owner,
                role="customer",
                certified=bottle.certified,
            )
        if bottle.serial not in day.known:
            names = ("serial", "size", "wp", "tp", "tested", "inspected", "clean")
            stamps = {name: getattr(bottle, name) for name in names}
            add_cylinder(day.station, self.actor, **stamps)
        day.known |= {bottle.owner, bottle.serial}

    def analyse(self, meter: Meter = BENCH, post: str = "") -> bool:
        """Hold an analyser into the gas and enter what it shows."""
        day, serial = self.day, self.bottle.serial
        day.clock.wait(3)
        shown = day.world.cell_shows(serial, meter.name)
        trimix = "/" in self.bottle.said
        answer = analysing.analyse(
            day.station,
            self.actor,
            self.number,
            serial=post or self.bottle.posts[0],
            analyser=meter.name,
            reading=f"{shown:.1f}",
            helium=f"{day.world.helium_shows(serial):.1f}" if trimix else None,
        )
        if "o2" in answer.facts:
            self.decision = answer.facts["decision"] or ""
            named = post or (self.bottle.posts[0] if trimix else "")
            self.say(words.measured(answer, meter.name, shown, named))
        return self._stands(answer)

    def accept(self, shown: float | None = None) -> bool:
        """Let the diver check on the counter's meter, or their own, and sign."""
        day, bottle = self.day, self.bottle
        if self.state != "analysed":
            return False
        self.paragraph(4)
        if shown is None:
            shown = day.world.cell_shows(bottle.serial, COUNTER.name)
        answer = handover.accept(
            day.station,
            self.actor,
            self.number,
            name=bottle.owner,
            reading=f"{shown:.1f}",
            strokes=signature.draw(bottle.owner) if bottle.draws else (),
        )
        if answer.state == "recheck":
            self.state = answer.state
            self.say(words.disputed(answer, bottle.owner, shown))
            return False
        if self._stands(answer):
            self.say(words.accepted(answer, bottle.owner, shown, drew=bottle.draws))
            day.labels[self.number] = answer.facts["anchor"]
            day.papers.label(day.station.record, self.number)
        return answer.done

    def hand_over(self, label: str | None = None) -> bool:
        """Scan cylinder and label, and hand over if they belong together."""
        if self.state != "accepted":
            return False
        self.day.clock.wait(2)
        scanned = label or self.day.labels[self.number]
        serial = self.bottle.serial
        answer = handover.collect(
            self.day.station, self.actor, self.number, serial=serial, label=scanned
        )
        if self._stands(answer):
            self.say(f"{answer.text.rstrip('.')} at {self.day.clock.time}.")
        return answer.done

    def end(self, name: str, reason: str) -> bool:
        """Reject or quarantine."""
        act = {"reject": ending.reject, "quarantine": ending.quarantine}[name]
        answer = act(self.day.station, self.actor, self.number, reason=reason)
        done = self._stands(answer)
        if done:
            self.say(f'Entered as {answer.state}: "{reason}".')
        return done

    # -- the panel ----------------------------------------------------------------------

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
        top = self._top()
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
            self.at += self._moved(answer)
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

    def hold(self, reason: str) -> None:
        """Stop part-way and hang the tag on the cylinder."""
        day = self.day
        answer = filling.hold(day.station, self.actor, self.number, reason=reason)
        if self._stands(answer):
            should = answer.facts["gauge_should_show_bar"]
            self.say(
                f"{words.capital(reason)} {answer.text} The desk has a battery, and the tag came "
                f"out of the printer: at 15 degC, it was noted, the gauge should show "
                f"{should['15C']:.1f} bar."
            )
            day.papers.tag(day.station.record, self.number)

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


def connected(day: Day, source: Source) -> float | None:
    """Return what a gauge truly shows on a bottle of the bank [bar]; None if it has none."""
    vessel = day.world.sources.get(source.name)
    return None if vessel is None else CHECK_IN.shows(vessel.gauge_bar)
