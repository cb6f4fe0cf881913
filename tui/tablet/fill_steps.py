"""A fill before its signature: what is in it, the diver's own reading, what is signed for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, cast

from textual.app import ComposeResult
from textual.containers import Container, Horizontal, Vertical
from textual.widgets import Button, Digits, Static

from reports.wording import percent
from tui.plain import plain
from tui.tablet.keypad import BACK, Keypad
from tui.tablet.matter import Filled
from tui.tablet.plain_words import Line, analysed, drawn, stated
from tui.tablet.step import Action, Step

_LONGEST = 6
_EDGES, _AIRY_FROM = 4, 27  # cells beside the text; rows from which there is room between lines
_HOLDS_FOR = (
    "Depths are for the sea, from the higher of the two readings. Oxygen feeds fire. "
    "Analyse again before every dive."
)


class _OfFill(Step):
    """A step about a fill."""

    @property
    def matter(self) -> Filled:
        """What it is about."""
        return cast("Filled", self.customer.matter)

    def show_lines(self, lines: Iterator[Line]) -> None:
        """Show captions and what stands behind them, in the room there is."""
        size = self.app.size
        made = drawn(lines, size.width - _EDGES, is_airy=size.height >= _AIRY_FROM)
        self.query_one("#stated", Static).update(made)

    def on_resize(self) -> None:
        """Show it in another room: the tablet was turned."""
        self.show()


class WhatIsInIt(_OfFill):
    """What the station has analysed, in large figures."""

    HEAD = "Your cylinder"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        ("stop", "Not mine: stop"),
        ("on", "I go on and analyse it"),
    )

    def body(self) -> ComposeResult:
        """The figures, then the rest in words."""
        held = self.matter.offer
        with Horizontal(id="figures"):
            yield Digits(percent(held.o2_percent))
            yield Static(plain("% oxygen", "bold"))
            if held.has_helium and held.he_percent is not None:
                yield Digits(percent(held.he_percent))
                yield Static(plain("% helium", "bold"))
        yield Static(plain("This is what the station has analysed."))
        yield Static("", id="stated", markup=False)
        yield Static(plain("Next, analyse the gas yourself with the analyser at the counter."))

    def show(self) -> None:
        """Show it in the units that are set."""
        self.show_lines(analysed(self.matter.offer, self.customer.units))

    async def do_on(self) -> None:
        """Go on."""
        self.customer.on()


class OwnReading(_OfFill):
    """What the diver's own analysis shows, tapped in."""

    HEAD = "Your own analysis"
    ACTIONS: ClassVar[tuple[Action, ...]] = (("stop", "Stop"), ("back", "Back"), ("on", "Go on"))

    def __init__(self) -> None:
        super().__init__()
        self._fields: list[str] = []
        self._typed = {"o2": "", "he": ""}
        self._now = "o2"
        self._told = False  # that the readings differ

    def body(self) -> ComposeResult:
        """What was tapped, and the keys."""
        self._fields = ["o2", "he"] if self.matter.offer.has_helium else ["o2"]
        yield Static(plain("What does the analyser show for your cylinder, in percent?"))
        with Container(id="reading"):
            with Vertical(id="typed"):
                for name in self._fields:
                    yield Button("", id=f"field-{name}")
            yield Keypad()

    def show(self) -> None:
        """Show what was tapped."""
        words = {"o2": "Oxygen", "he": "Helium"}
        for name in self._fields:
            mark = "▶ " if name == self._now and len(self._fields) > 1 else "  "
            shown = f"{mark}{words[name]}  {self._typed[name] or '_'} %"
            self.query_one(f"#field-{name}", Button).label = plain(shown)

    def on_keypad_tapped(self, event: Keypad.Tapped) -> None:
        """Take a figure, or the last one back."""
        typed = self._typed[self._now]
        self._typed[self._now] = typed[:-1] if event.key == BACK else (typed + event.key)[:_LONGEST]
        self.say("note", "")
        self.show()

    async def tapped(self, name: str) -> None:
        """Go to a field that is tapped, else do what the button is named after."""
        if name.startswith("field-"):
            self._now = name.removeprefix("field-")
            self.show()
        else:
            await super().tapped(name)

    async def do_back(self) -> None:
        """Go back."""
        self.customer.back()

    async def do_on(self) -> None:
        """Go on with what was read."""
        o2, he = self._typed["o2"], self._typed["he"]
        if not o2:
            self.say("refused", "Tap what the analyser shows for oxygen, such as 31.8.")
            return
        self.customer.matter.strokes = []
        if not await self.attempt(self._read(o2, he)):
            return
        if not self.matter.offer.differs:
            self.customer.on()
        elif not self._told:
            self._told, self._now = True, "o2"
            self._typed = {"o2": "", "he": ""}  # it is read again, not tapped through
            self.show()
            differs = self.matter.offer.differs
            self.say(
                "mind",
                f"They differ: {differs}. Read again and tap what it shows; then Go on. If they "
                "still differ, nothing is signed and the staff analyse it again.",
            )
        else:
            await self.attempt(self.matter.dispute())

    async def _read(self, o2: str, he: str) -> bool:
        await self.matter.read_own(o2, he)
        return True


class Stated(_OfFill):
    """What the label will state and the signature is for."""

    HEAD = "This is what you sign for"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        ("stop", "Stop"),
        ("back", "Back"),
        ("on", "I have read it: sign"),
    )

    def body(self) -> ComposeResult:
        """The statement, and what it holds for."""
        yield Static("", id="stated", markup=False)
        yield Static(plain(_HOLDS_FOR))

    def show(self) -> None:
        """Show it in the units that are set."""
        self.show_lines(stated(self.matter.offer, self.customer.units))

    async def do_back(self) -> None:
        """Go back to the reading."""
        self.customer.back()

    async def do_on(self) -> None:
        """Go on to sign."""
        self.customer.on()
