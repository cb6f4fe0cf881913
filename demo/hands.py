"""One cylinder in the hands of the people at the counter.

Every step is entered through its use case and told as it was answered.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from blender.record.moment import Moment
from blender.station import analysing, ending, handover, people, requesting
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Station
from blender.station.equipment import add_cylinder
from demo import signature, words
from demo.account import Account, Section
from demo.clock import Clock
from demo.papers import Papers
from demo.station import BENCH, COUNTER, Bottle, Meter, Staff
from demo.world import CHECK_IN, World


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
    """One fill as the counter sees it: taken in, analysed, signed for, handed over."""

    def __init__(self, day: Day, bottle: Bottle, by: Staff, title: str) -> None:
        self.day = day
        self.bottle = bottle
        self.actor = day.staff[by.name]
        self.told: Section = day.account.section(f"{title}, for {bottle.owner}")
        self.number = 0
        self.state = ""
        self.decision = ""
        self.promised: float | None = None
        day.fills.append(self)

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

    def check_in(self, want: str, residual: str = "label") -> None:
        """Take the cylinder in: stamps, gauge, temperature, and what is said to be in it."""
        day, bottle = self.day, self.bottle
        day.world.bring(bottle)
        self.paragraph(3)
        self._register()
        shown = day.world.reads(bottle.serial, CHECK_IN)
        warm = day.world.warmth(bottle.serial)
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
        """Hold an analyser into the gas and enter what it shows; never while gas goes in."""
        day, serial = self.day, self.bottle.serial
        if self.state == "filling":
            return False
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
            day.papers.label(day.station, self.number)
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

    def reject(self, reason: str) -> None:
        """Give the fill up."""
        answer = ending.reject(self.day.station, self.actor, self.number, reason=reason)
        if self._stands(answer):
            self.say(f'Entered as {answer.state}: "{reason}".')
