"""Batch check-in: one mix and pressure for up to 24 cylinders, each with what is left in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from textual.content import Content

from blender.errors import InputError
from blender.planning.request import parse_want
from blender.station import analysing, batch, lookup
from blender.units import parse_gauge_pressure
from tui.dialogs.batchboard import BatchBoard
from tui.places import counter_typed as typed
from tui.places.counter_visit import Visit, guarded
from tui.places.panel_asks import analyser_named
from tui.plain import plain
from tui.saying import said
from tui.shown import Units
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.counter import Counter


@dataclass
class Sheaf:
    """The batch as it is being typed.

    Parameters
    ----------
    want : Want or None
        What is wanted in each, and with which options.
    customer : dict or None
        Whose they are.
    lines : list
        Cylinders with what is left in each.
    pending : Visit or None
        A cylinder scanned whose residual is asked now.
    number : int
        The batch's number once it was entered.
    """

    want: typed.Want | None = None
    want_typed: str = ""
    customer: dict[str, Any] | None = None
    lines: list[tuple[Visit, typed.Left]] = field(default_factory=list)
    pending: Visit | None = None
    number: int = 0
    forecast: dict[str, Any] | None = None


class BatchIn:
    """The questions of a batch's check-in.

    Parameters
    ----------
    counter : Counter
        The place that asks.
    """

    def __init__(self, counter: Counter) -> None:
        self._counter = counter
        self._sheaf: Sheaf | None = None

    @property
    def is_on(self) -> bool:
        """Whether a batch is being checked in."""
        return self._sheaf is not None

    def begin(self) -> None:
        """Begin a batch."""
        self._sheaf = Sheaf()

    def forget(self) -> None:
        """Let go of what is being typed; what was entered stays in the record."""
        self._sheaf = None

    def back(self) -> None:
        """Go a question back."""
        sheaf = self._sheaf
        if sheaf is None or sheaf.number:
            return
        if sheaf.pending is not None:
            sheaf.pending = None
        elif sheaf.want is not None and not sheaf.lines:
            sheaf.want = None
        elif sheaf.want is None:
            self.forget()

    def now(self) -> Ask:
        """Return what is asked now."""
        sheaf = self._sheaf or Sheaf()
        if sheaf.want is None:
            return self._want(sheaf)
        if sheaf.number:
            return self._plan(sheaf)
        return self._line(sheaf)

    # -- what is asked ---------------------------------------------------------------------

    def _want(self, sheaf: Sheaf) -> Ask:
        counter = self._counter
        units = counter.terminal.units

        such = units.example("200 EAN32 for NAME", "3000 EAN32 for NAME")

        def echo(text: str) -> str:
            return typed.want_text(typed.want(text, units), units, "", 0.0)

        async def enter(text: str) -> bool:
            given = typed.want(text, units)
            if not given.whose:
                raise InputError("batch", text, f"say whose they are: {such}")
            whose = await counter.check_in.customer_named(given.whose)
            if whose is None:
                return False
            sheaf.want, sheaf.want_typed, sheaf.customer = given, text, whose
            counter.say("note", "")
            counter.show()
            return True

        return Ask(
            "batch-want", f"Several cylinders: what, and for whom? {such}",
            guarded(counter, enter), echo,
            "One mix and pressure for up to 24 cylinders of one customer. Planning words may "
            "follow the gas: 'flow 40%'. Esc leaves the batch.",
            initial=sheaf.want_typed,
        )  # fmt: skip

    def _line(self, sheaf: Sheaf) -> Ask:
        counter, pending = self._counter, sheaf.pending
        units = counter.terminal.units

        async def enter(text: str) -> bool:
            if pending is not None:
                return await self._add(sheaf, pending, text)
            if not text.strip():
                return await self._finish(sheaf)
            if text.strip() == "-":
                return self._drop(sheaf)
            serial, _, rest = text.strip().partition(" ")
            visit = await self._scanned(sheaf, serial)
            return visit is not None and await self._add(sheaf, visit, rest)

        def echo(text: str) -> str:
            if pending is not None and text.strip():
                return typed.left_text(self._understood(pending, text), units)
            return ""

        count = len(sheaf.lines)
        prompt = (
            f"Cylinder {count + 1}: serial, and what is left (Enter alone: that is all {count})"
        )
        if pending is not None:
            at = units.example("60", "870")
            label = f", or {at}: {pending.label_words}" if pending.label_gas else ""
            prompt = f"{pending.serial}: what is left? {at} 28.1{label}"
        return Ask(
            f"batch-line-{count}-{pending.serial if pending else ''}", prompt,
            guarded(counter, enter), echo,
            "Scan the serial; type what is left after it or when asked: 60 28.1 analysed now, "
            "60 EAN28 stated, 0 empty. A minus alone takes the last line away.",
        )  # fmt: skip

    def _understood(self, visit: Visit, text: str) -> typed.Left:
        terminal = self._counter.terminal
        return typed.left(
            text, terminal.units, visit.label_gas, terminal.settings.analyser,
            had_helium=visit.had_helium,
        )  # fmt: skip

    async def _add(self, sheaf: Sheaf, visit: Visit, text: str) -> bool:
        """Put a cylinder on the list, or ask what is left in it."""
        terminal, sheaf.pending = self._counter.terminal, visit
        if text.strip():
            left = self._understood(visit, text)
            _check(sheaf, visit, left)
            if left.is_analysed:
                name = await terminal.floor.look(analyser_named, left.analyser)
                terminal.remember(analyser=name)
            sheaf.lines.append((visit, left))
            sheaf.pending = None
            self._mind_unanalysed(sheaf, visit, left)
        self._counter.show()
        return True

    def _mind_unanalysed(self, sheaf: Sheaf, visit: Visit, left: typed.Left) -> None:
        """Say beforehand what the gate will: no oxygen onto what was not analysed."""
        counter, rules = self._counter, self._counter.rules
        rich = sheaf.want is not None and parse_want(sheaf.want.want).mix.o2 > rules.clean_above_o2
        if rich and not left.is_analysed and parse_gauge_pressure(left.pressure) >= rules.empty_bar:
            told = "is not analysed: it gets no oxygen before it is. A minus takes the line away."
            counter.say("mind", f"{visit.serial}: what is left {told}")
        elif not visit.known["due"]:
            counter.say("note", "")

    async def _scanned(self, sheaf: Sheaf, serial: str) -> Visit | None:
        """Return a cylinder that may join the batch."""
        counter = self._counter
        if len(sheaf.lines) >= batch.MOST:
            raise InputError("batch", serial, f"a batch has at most {batch.MOST} cylinders")
        now, rules = counter.terminal.house.clock(), counter.rules
        known = await counter.look(lookup.known, serial, now, rules)
        if known is None:
            counter.unknown = serial  # alt+n registers it
            return None
        if any(visit.serial == known["serial"] for visit, _ in sheaf.lines):
            raise InputError("serial", serial, "it is in this batch already")
        if known["due"]:
            counter.say("mind", f"{known['serial']}: {known['due'][0]['text']}")
        else:
            counter.say("note", "")
        return Visit(known, serial, sheaf.customer)

    def _drop(self, sheaf: Sheaf) -> bool:
        if sheaf.lines:
            visit, _ = sheaf.lines.pop()
            self._counter.say("note", f"{visit.serial} was taken off the list.")
        self._counter.show()
        return True

    # -- entering it -----------------------------------------------------------------------

    async def _finish(self, sheaf: Sheaf) -> bool:
        """Enter all of them or none, then what was analysed, then look how far the banks go."""
        counter = self._counter
        if not sheaf.lines or sheaf.want is None or sheaf.customer is None:
            raise InputError("batch", "nothing", "scan at least one cylinder; alt+r leaves it")
        cylinders = [
            batch.BatchCylinder(
                visit.serial, left.have, "stated" if left.is_analysed else left.source
            )
            for visit, left in sheaf.lines
        ]
        made = await counter.perform(
            batch.request_batch, cylinders=cylinders, customer=sheaf.customer["person"],
            want=sheaf.want.want,
        )  # fmt: skip
        if made is None:
            return False
        sheaf.number = made["batch"]
        refused = await self._analyse(sheaf, [one["fill"] for one in made["fills"]])
        options = sheaf.want.plan_options
        sheaf.forecast = await counter.look(batch.forecast, sheaf.number, options)
        minds = [*refused, _short(sheaf.forecast)]
        if any(minds):
            counter.say("mind", " ".join(filter(None, minds)))
        elif sheaf.forecast is not None:
            counter.say("done", f"{made['text']} The banks are enough for all of them.")
        counter.show()
        return True

    async def _analyse(self, sheaf: Sheaf, fills: list[int]) -> list[str]:
        """Enter what was analysed; return what was refused, in words."""
        counter, refused = self._counter, []
        for (visit, left), number in zip(sheaf.lines, fills, strict=True):
            if not left.is_analysed:
                continue
            name = await counter.terminal.floor.look(analyser_named, left.analyser)
            answer = await counter.perform(
                analysing.analyse, number, serial=visit.scanned, analyser=name,
                reading=left.o2, helium=left.he or None,
            )  # fmt: skip
            if answer is None:
                refused.append(f"{visit.serial}: its analysis was not taken.")
            elif not answer.done:
                refused.append(f"{visit.serial}: {answer.spoken}")
        return refused

    def _plan(self, sheaf: Sheaf) -> Ask:
        counter = self._counter

        async def enter(_: str) -> bool:
            options = sheaf.want.plan_options if sheaf.want else typed.Want("").plan_options
            answers = await counter.perform(batch.plan_batch, sheaf.number, options)
            if answers is None:
                return False
            ahead = sheaf.forecast["lines"] if sheaf.forecast else []
            serials = {line["fill"]: line["serial"] for line in ahead}
            failed = [f"{serials.get(answer.fill, answer.fill)}: {answer.spoken}"
                      for answer in answers if not answer.done]  # fmt: skip
            number = sheaf.number
            counter.start_over()
            planned = f"Batch {number}: {len(answers) - len(failed)} of {len(answers)} planned."
            counter.say("mind" if failed else "done", " ".join([planned, *failed]))
            counter.app.push_screen(BatchBoard(number))
            return True

        return Ask(
            f"batch-plan-{sheaf.number}", f"Enter plans batch {sheaf.number}, in this order",
            guarded(counter, enter), None,
            "Each is planned with the banks as those before it leave them. alt+r leaves the "
            "batch unplanned; it stays in the record and can be planned at the Panel.",
        )  # fmt: skip

    # -- what is shown ---------------------------------------------------------------------

    def shown(self, units: Units) -> Content:
        """Return the batch as typed so far, or what the banks will give."""
        sheaf = self._sheaf or Sheaf()
        parts = []
        if sheaf.want is not None and sheaf.customer is not None:
            asked = parse_want(sheaf.want.want)
            to = units.pressure(asked.gauge_bar)
            parts.append(plain(f"{asked.gas_text} to {to} for {sheaf.customer['name']}", "bold"))
        if sheaf.forecast is not None:
            parts += [plain(_ahead(line, units)) for line in sheaf.forecast["lines"]]
            parts += [plain(f"{name} will show {units.pressure(bar)}")
                      for name, bar in sheaf.forecast["banks_after"].items()]  # fmt: skip
        else:
            parts += [plain(f"{at:2}  {visit.serial:14} {typed.left_text(left, units)}")
                      for at, (visit, left) in enumerate(sheaf.lines, 1)]  # fmt: skip
        return Content("\n").join(parts)


def _check(sheaf: Sheaf, visit: Visit, left: typed.Left) -> None:
    """Refuse an oxygen reading alone where helium goes in."""
    has_helium = sheaf.want is not None and parse_want(sheaf.want.want).mix.he > 0.0
    if left.is_analysed and not left.he and has_helium:
        why = "with helium wanted, what is left needs a helium reading too: 60 28.1 0"
        raise InputError("left", f"{visit.serial} {left.typed}", why)


def _short(forecast: dict[str, Any] | None) -> str:
    if forecast is None or not forecast["first_short"]:
        return ""
    enough = len(forecast["complete"])
    return f"The banks are enough for {enough}; {forecast['first_short']}: {forecast['why']}"


def _ahead(line: dict[str, Any], units: Units) -> str:
    if line["complete"]:
        return f"OK    {line['serial']:14} as wanted"
    reaches = line["reaches"]
    nearest = f"at most {units.pressure(reaches['pressure_bar'])}" if reaches else "not at all"
    return f"SHORT {line['serial']:14} {nearest}: {said(line['why'], units)}"
