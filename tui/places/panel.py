"""The Panel: every open fill at a glance, one of them large, and one field for what is next."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.events import Key

from blender.record.glance import Glance, GlanceFill, glance
from blender.station.answer import Answer
from blender.station.panel import PanelFill, panel_fill
from blender.station.planning import plan
from blender.station.recipes import recipes
from blender.station.wayson import ways_on
from tui.keys import bindings
from tui.places.panel_asks import Asks
from tui.places.panel_checks import Checks
from tui.places.panel_manifold import OnManifold
from tui.typed_options import options
from tui.widgets.asking import Ask, AskField
from tui.widgets.gascolumn import GasColumn
from tui.widgets.rack import Rack, Slots, slot_typed
from tui.widgets.stopboard import StopBoard

BELL_S = 20  # the bell comes this long before the stop, while oxygen goes in


class Panel(Checks):
    """Where fills are made."""

    NAME = "panel"
    BINDINGS: ClassVar[list[BindingType]] = bindings("panel")
    DEFAULT_CSS = """
    Panel #floor { height: 1fr; }
    Panel.-wide Rack { width: 36; }
    Panel.-wide GasColumn { width: 26; }
    """
    HORIZONTAL_BREAKPOINTS = [(0, "-normal"), (110, "-wide")]  # noqa: RUF012 - the toolkit's own
    HELP_TEXT = (
        "The list on the left has every open fill. Its function key turns to it, up and down turn "
        "to the one before and after; from the ninth on type its number: #9 and Enter."
    )

    def __init__(self) -> None:
        super().__init__()
        self.focused_fill = self._asked_of = 0
        self.fill: PanelFill | None = None
        self.override: Ask | None = None
        self._slots = Slots()
        self._asks = Asks(self)
        self._manifold = OnManifold(self)
        self._rung = 0

    def middle(self) -> ComposeResult:
        """Rack, column, board, field."""
        with Horizontal(id="floor"):
            yield Rack()
            yield GasColumn()
            yield StopBoard()
        yield AskField()

    def on_mount(self) -> None:
        """Keep the clock of the stop running."""
        super().on_mount()
        self.set_interval(1.0, self._second)

    # -- what is shown ---------------------------------------------------------------------

    def renew(self) -> None:
        """Show what is so now."""
        if self.terminal.in_hand:
            self.focused_fill, self.terminal.in_hand = self.terminal.in_hand, 0
        self._renew()

    @work(exclusive=True, group="renew")
    async def _renew(self) -> None:
        await self.show_now()

    async def show_now(self) -> None:
        """Read the open fills and the focused one, and show them."""
        found = await self.terminal.attempt(self._glance())
        if found is None:
            return
        placed = self._slots.place(found.fills)
        here = [fill.fill for fill in placed if fill is not None]
        if self.focused_fill not in here:
            self.focused_fill = here[0] if here else 0
        self.terminal.unsafe = sum(fill.do_not_breathe for fill in found.fills)
        if self.focused_fill != self._asked_of:  # by whatever way one came to another fill
            self._asked_of, self.override = self.focused_fill, None
            self._asks.turned()
        self.fill = await self.look(panel_fill, self.focused_fill) if here else None
        now_us, units = self.terminal.house.clock().us, self.terminal.units
        self.query_one(Rack).show(placed, self.focused_fill, now_us, units)
        self.query_one(GasColumn).show(self.fill, units)
        self.query_one(StopBoard).show(self.fill, units, now_us)
        self.put_ask()
        self.terminal.head()

    async def _glance(self) -> Glance:
        import asyncio

        return await asyncio.to_thread(glance, self.terminal.house.location)

    def put_ask(self) -> None:
        """Ask what is next."""
        asking = self.query_one(AskField)
        ask = self.override or self._asks.now()
        asking.put(self._turning(ask) if ask is not None else None)
        if self.is_current:
            asking.focus_field()

    def _second(self) -> None:
        """Count down to the stop, and ring before it comes."""
        fill = self.fill
        if fill is None or not fill.pace.stop_us or not self.is_current:
            return
        now_us = self.terminal.house.clock().us
        self.query_one(StopBoard).show(fill, self.terminal.units, now_us)
        is_near = fill.pace.stop_us - now_us <= BELL_S * 1_000_000
        if is_near and fill.pace.least_minutes is not None and self._rung != fill.pace.stop_us:
            self._rung = fill.pace.stop_us
            self.app.bell()
            warning = f"{fill.serial}: the oxygen stop is near. Close slowly, then read."
            _, before, known = self._spoken  # an answer of a second ago is still to be read
            self.say("mind", f"{warning} {before}".rstrip(), *known)

    # -- turning to a fill -----------------------------------------------------------------

    def turn(self, number: int) -> None:
        """Turn to a fill; what was half typed stays with its own, a doubted reading comes along."""
        if number != self.focused_fill:
            self.say("note", "")  # what was said of one fill must not be read as another's
            self._asks.take_along(number)
        self.focused_fill, self.override = number, None
        self._asks.turned()
        self.renew()

    def action_turn_to(self, slot: int) -> None:
        """Turn to the fill of a function key."""
        if (fill := self._in_slot(slot)) is not None:
            self.turn(fill.fill)

    def _turning(self, ask: Ask) -> Ask:
        """Let a question be answered by a fill's number in the list, too: it turns to that."""

        async def enter(text: str) -> bool:
            slot = slot_typed(text)
            if slot is None:
                return await ask.enter(text)
            fill = self._in_slot(slot)
            if fill is None:
                self.say("refused", f"No open fill has number {slot} in the list.")
                return False
            self.turn(fill.fill)
            return True

        def echo(text: str) -> str:
            slot = slot_typed(text)
            if slot is None:
                return ask.echo(text) if ask.echo is not None else ""
            fill = self._in_slot(slot)
            return f"turns to {fill.serial}" if fill is not None else ""

        return replace(ask, enter=enter, echo=echo)

    def _in_slot(self, slot: int) -> GlanceFill | None:
        """Return the fill of a slot, counted from 1."""
        slots = self.query_one(Rack).slots
        return slots[slot - 1] if 1 <= slot <= len(slots) else None

    def action_step(self, by: int) -> None:
        """Turn to the fill above or below."""
        here = [fill.fill for fill in self.query_one(Rack).slots if fill is not None]
        if here:
            at = here.index(self.focused_fill) if self.focused_fill in here else 0
            self.turn(here[(at + by) % len(here)])

    def on_rack_turned(self, event: Rack.Turned) -> None:
        """Somebody pointed at a fill."""
        self.turn(event.fill)

    def on_key(self, event: Key) -> None:
        """Let go of a question that was put in between; nothing entered is lost by it."""
        if event.key == "escape" and self.override is not None:
            event.stop()
            self.override = None
            self.put_ask()

    # -- doing -----------------------------------------------------------------------------

    async def tell(self, answer: Answer | None) -> bool:
        """Say what came of an act and show where things stand; True if it was taken."""
        if answer is None:
            return False
        objections = [gate.reason for gate in answer.objections]
        kind = "refused" if not answer.done else "mind" if objections or _minds(answer) else "done"
        words = " ".join([answer.spoken, *(objections if answer.done else [])])
        self.say(kind, words, answer.facts, self.fill)
        self.override = None
        self._asks.turned()
        if not answer.done and any(gate.gate == "residual" for gate in answer.objections):
            self._asks.turn()  # what is in it must be analysed: that is asked next
        await self.show_now()
        return answer.done or answer.state == "recheck"

    def ask_first(self, ask: Ask) -> None:
        """Ask something else before what is usually next."""
        self.override = ask
        self.put_ask()

    def fill_checked(self) -> int:
        """Return the focused fill."""
        return self.fill.fill if self.fill is not None else 0

    def cylinder_checked(self) -> str:
        """Return the focused fill's cylinder."""
        return self.fill.serial if self.fill is not None else ""

    def look_ends(self) -> None:
        """Go back to what is usually next."""
        self.override = None
        self.put_ask()

    def action_other_entry(self) -> None:
        """Enter something else than what is usually next."""
        self.say("note", "")  # what was said of the field before is not of this one
        self.override = None
        self._asks.turn()
        self.put_ask()

    def action_together(self) -> None:
        """Start fills that hang on one manifold."""
        self._manifold.begin()

    def action_mend(self) -> None:
        """Correct the reading just entered."""
        self._asks.mend()

    @work(group="dialog")
    async def action_ways(self) -> None:
        """Show the recipes before gas goes in, or the ways on after, and plan what is chosen."""
        fill = self.fill
        if fill is None:
            return
        if fill.state in ("requested", "planned"):
            asking = self.query_one(AskField)
            is_plan = asking.ask is not None and asking.ask.ident == f"plan-{fill.fill}"
            typed = asking.field.value if is_plan else ""
            found = await self.look(lambda record: recipes(record, fill.fill, options(typed)))
        else:
            found = await self.look(ways_on, fill.fill)
        if found is None:
            return
        from tui.dialogs.wayson import WaysOn

        units = self.terminal.units
        to = units.pressure(fill.want_bar, 0)
        head = f"{fill.serial}: {fill.want_text} to {to} was wanted"
        chosen = await self.over(WaysOn(head, found[:9], units))
        if chosen is not None:
            await self.tell(await self.perform(plan, fill.fill, chosen.options))

    def action_hold(self) -> None:
        """Stop part-way."""
        self._asks.why("hold")

    def action_reject(self) -> None:
        """Give the fill up."""
        self._asks.why("reject")

    def action_quarantine(self) -> None:
        """Set the cylinder apart."""
        self._asks.why("quarantine")

    def action_release(self) -> None:
        """Release a quarantined cylinder."""
        self._asks.why("release")

    def action_next_kind(self) -> None:
        """Switch what the temperature is of."""
        kinds = ("gas", "wall", "room")
        at = kinds.index(self.terminal.settings.kind)
        self.terminal.remember(kind=kinds[(at + 1) % 3])
        self.put_ask()

    @work
    async def action_tag(self) -> None:
        """Print the work tag of the focused fill."""
        if self.fill is not None:
            from tui.papers import print_tag

            path = await self.look(print_tag, self.terminal.house, self.fill.fill)
            if path:
                self.say("done", f"Work tag: {path}")

    def action_batch(self) -> None:
        """Show the batch this fill belongs to."""
        if self.fill is None or not self.fill.batch:
            self.say(
                "note", "This fill belongs to no batch. Batches are checked in at the Counter."
            )
            return
        from tui.dialogs.batchboard import BatchBoard

        self.app.push_screen(BatchBoard(self.fill.batch))

    def value_to_copy(self) -> str:
        """Return the next stop, else the serial."""
        if self.fill is None:
            return ""
        if self.fill.stop is not None:
            return self.terminal.units.pressure(self.fill.stop.shown_bar)
        return self.fill.serial


def _minds(answer: Answer) -> bool:
    """Tell whether an answer carries a warning of its own."""
    return bool(answer.facts.get("warnings")) or "STOP" in answer.text
