"""Registering: who one is, and what one undertakes."""

from __future__ import annotations

from typing import ClassVar, cast

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.widgets import Input, Static

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.at_tablet import PRIVACY, UNDERTAKING
from blender.station.privacy import phone_number
from tui.plain import plain
from tui.tablet.matter import Registering
from tui.tablet.step import Action, Step

_LONGEST = 80


class WhoYouAre(Step):
    """Name and telephone number."""

    HEAD = "Welcome. Who are you?"
    ACTIONS: ClassVar[tuple[Action, ...]] = (("stop", "Stop"), ("on", "Go on"))
    AUTO_FOCUS = "#name"
    HAS_UNITS: ClassVar[bool] = False

    @property
    def matter(self) -> Registering:
        """What it is about."""
        return cast("Registering", self.customer.matter)

    def body(self) -> ComposeResult:
        """Two fields, and what becomes of them."""
        with Horizontal(classes="field"):
            yield Static(plain("Your name"), classes="label")
            yield Input(self.matter.name, id="name", max_length=_LONGEST)
        with Horizontal(classes="field"):
            yield Static(plain("Telephone"), classes="label")
            yield Input(self.matter.phone, id="phone", max_length=40)
        yield Static(plain("The number may be left out; it is for calling you if gas is recalled."))
        yield Static(plain(PRIVACY), classes="apart")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go to the next field."""
        self.query_one("#phone" if event.input.id == "name" else "#on").focus()

    async def do_on(self) -> None:
        """Take them, if they can be kept."""
        name = " ".join(self.query_one("#name", Input).value.split())
        phone = self.query_one("#phone", Input).value.strip()
        try:
            self.matter.name = clean_text(name, "your name", _LONGEST)
            self.matter.phone = phone_number(phone, "telephone") if phone else ""
        except InputError as error:
            told = error.text if name else "Type your name first."
            self.say("refused", told)
            return
        self.customer.on()


class Undertaking(Step):
    """What every customer signs once."""

    HEAD = "Please read this"
    HAS_UNITS: ClassVar[bool] = False
    ACTIONS: ClassVar[tuple[Action, ...]] = (
        ("stop", "Stop"),
        ("back", "Back"),
        ("on", "I have read it: sign"),
    )

    def body(self) -> ComposeResult:
        """The sentences, one under the other."""
        told = [plain(f"•  {sentence}") for sentence in UNDERTAKING]
        yield Static(Content("\n\n").join(told), classes="large")

    def on_mount(self) -> None:
        """Nothing lies before it where one is known already."""
        self.query_one("#back").display = not self.customer.matter.whose
        if self.customer.matter.whose:
            self.customer.matter.name = self.customer.matter.whose

    async def do_back(self) -> None:
        """Go back to the name."""
        self.customer.back()

    async def do_on(self) -> None:
        """Go on to sign."""
        self.customer.on()
