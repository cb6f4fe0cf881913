"""The last step of everything: a name, a drawn signature, and what they are put under."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Button, Input, Static

from tui.plain import plain
from tui.tablet.step import Action, Step
from tui.widgets.signpad import SignPad

_LONGEST = 80


class SignHere(Step):
    """Sign by typing the name and drawing below it; what comes of it is the matter's."""

    HEAD = "Sign here"
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        ("stop", "Stop"),
        ("back", "Back"),
        ("undo", "Undo"),
        ("clear", "Clear"),
        ("sign", "Sign"),
    )
    AUTO_FOCUS = "#name"
    SCROLLS: ClassVar[bool] = False  # a finger that moves draws

    def __init__(self) -> None:
        super().__init__()
        self._without_drawing = self._represents = ""

    def body(self) -> ComposeResult:
        """What it is put under, the name, the field to draw in."""
        yield Static("", id="under", markup=False)
        with Horizontal(classes="field"):
            yield Static(plain("Your name"), classes="label")
            yield Input(self.customer.matter.name, id="name", max_length=_LONGEST,
                        select_on_focus=False)  # fmt: skip
        yield Static(plain("Draw your signature with a finger:"))
        with Vertical(id="pad"):
            yield SignPad(self.customer.matter.strokes, is_fine=True)

    def show(self) -> None:
        """Show what is signed."""
        self.query_one("#under", Static).update(Content(self.customer.matter.signs_for()))

    async def do_back(self) -> None:
        """Go back; name and drawing stay."""
        self._keep()
        self.customer.back()

    async def do_undo(self) -> None:
        """Take the last stroke back."""
        self.query_one(SignPad).undo()

    async def do_clear(self) -> None:
        """Begin the drawing anew."""
        self.query_one(SignPad).clear()

    def on_input_submitted(self) -> None:
        """Put the keyboard away: the signature is next, and only a button signs."""
        self.query_one("#sign", Button).focus()

    def _keep(self) -> None:
        matter = self.customer.matter
        matter.name = " ".join(self.query_one("#name", Input).value.split())
        matter.strokes = self.query_one(SignPad).drawn

    async def do_sign(self) -> None:
        """Sign, once it is certain that it is meant."""
        self._keep()
        matter = self.customer.matter
        if not matter.name:
            self.say("refused", "Type your name first: it is printed beside your signature.")
        elif question := self._asked_once():
            self.say("mind", question)
        else:
            await self.attempt(matter.sign(self))

    def _asked_once(self) -> str:
        """Return what is asked once before it is signed; the same again is the answer."""
        matter = self.customer.matter
        if not matter.strokes and self._without_drawing != matter.name:
            self._without_drawing = matter.name
            return "Nothing is drawn. Draw in the box; or tap Sign again to sign by name alone."
        if (question := matter.question()) and self._represents != matter.name:
            self._represents = matter.name
            return question
        return ""
