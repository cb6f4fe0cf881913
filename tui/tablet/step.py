"""One screen of the customer's view: large, plain, every action a button one can hit."""

from __future__ import annotations

from collections.abc import Awaitable, Sequence
from typing import TYPE_CHECKING, ClassVar, TypeVar, cast

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Button, Input, Static

from blender.errors import FillwrightError
from tui.plain import plain
from tui.saying import said

if TYPE_CHECKING:
    from tui.tablet.customer import Customer

Result = TypeVar("Result")
Action = tuple[str, str]  # of a button: its name, and what stands on it
_WIDE_FROM = 75  # cells
_SIGNS = {"refused": "NO", "mind": "MIND", "note": ""}


class Step(Screen[None]):
    """One step of what the tablet was handed for.

    A step gives what it shows in `body`, its buttons in `ACTIONS` (the last is the one to go
    on with), and what each does in a method named `do_` and the button's name.
    """

    HEAD: ClassVar[str] = ""
    ACTIONS: ClassVar[Sequence[Action]] = ()
    AUTO_FOCUS = ""
    SCROLLS: ClassVar[bool] = True
    HAS_UNITS: ClassVar[bool] = True

    @property
    def customer(self) -> Customer:
        """The app."""
        return cast("Customer", self.app)

    def compose(self) -> ComposeResult:
        """Head, body, what is to be minded, buttons."""
        self._lie()  # before anything is drawn: what is tapped must not move meanwhile
        with Horizontal(id="head"):
            yield Static(plain(self.HEAD, "bold"), id="title")
            yield Button(plain(self._other_units()), id="units")
        room = VerticalScroll(id="body", can_focus=False) if self.SCROLLS else Vertical(id="body")
        with room:
            yield from self.body()
        yield Static("", id="word", markup=False)
        with Horizontal(id="actions"):
            *others, (name, words) = self.ACTIONS or [("", "")]
            for other, label in others:
                yield Button(plain(label), id=other)
            if name:
                yield Button(plain(words), id=name, variant="primary")

    def body(self) -> ComposeResult:
        """Give what this step shows."""
        yield Vertical()

    def on_resize(self) -> None:
        """Lie as the tablet does: it was turned."""
        self._lie()

    def _lie(self) -> None:
        wide = self.app.size.width >= _WIDE_FROM
        self.set_class(wide, "-wide").set_class(not wide, "-tall")

    def on_screen_resume(self) -> None:
        """Show it in the units that are set."""
        self.query_one("#units").display = self.HAS_UNITS
        self.customer.letters(wanted=isinstance(self.focused, Input))
        self.show()

    def on_descendant_focus(self) -> None:
        """Bring up the keyboard of a tablet for a field of letters alone."""
        self.customer.letters(wanted=isinstance(self.focused, Input))

    def show(self) -> None:
        """Show what is so now."""

    # -- words -----------------------------------------------------------------------------

    def say(self, kind: str, text: str, *known: object) -> None:
        """Say something that must be read: ``refused``, ``mind`` or ``note``."""
        words = said(text, self.customer.units, *known)
        sign = _SIGNS[kind]
        mark = Content.assemble((f" {sign} ", "bold reverse $error"), " ") if sign else Content("")
        self.query_one("#word", Static).update(Content.assemble(mark, plain(words)))
        self.query_one("#word").display = bool(text)

    async def attempt(self, doing: Awaitable[Result]) -> Result | None:
        """Wait for something; None where it could not be done, and said why."""
        buttons = list(self.query(Button))
        for button in buttons:
            button.disabled = True
        try:
            return await doing
        except FillwrightError as error:
            self.say("refused", error.text)
            return None
        finally:
            for button in buttons:
                button.disabled = False

    def _other_units(self) -> str:
        return "use bar, m" if self.customer.units.imperial else "use psi, ft"

    # -- buttons ---------------------------------------------------------------------------

    async def on_button_pressed(self, event: Button.Pressed) -> None:
        """Do what the button is named after."""
        event.stop()
        if event.button.id == "units":
            self.customer.switch_units()
            event.button.label = plain(self._other_units())
            self.show()
        else:
            await self.tapped(event.button.id or "")

    async def tapped(self, name: str) -> None:
        """Do what a button is named after."""
        if doing := getattr(self, f"do_{name}", None):
            await doing()

    async def do_stop(self) -> None:
        """Leave it: nothing is signed, and the staff are told."""
        await self.attempt(self.customer.matter.stopped(is_first=self.customer.is_at_first))
        self.customer.over("Nothing was signed.")


class Over(Step):
    """The end, whatever it was: one sentence, and the tablet goes back."""

    ACTIONS = (("close", "Close"),)
    HAS_UNITS = False

    def __init__(self, head: str, told: str) -> None:
        super().__init__()
        self.HEAD = head  # type: ignore[misc]  # of this one
        self._told = told

    def body(self) -> ComposeResult:
        """What came of it."""
        yield Static(plain(self._told), classes="large")
        yield Static(plain("Please hand the tablet back to the staff."), classes="large")

    def on_mount(self) -> None:
        """Close by itself after a while: the next person shall not read it."""
        self.set_timer(20.0, self.customer.leave)

    async def do_close(self) -> None:
        """Close it."""
        self.customer.leave()
