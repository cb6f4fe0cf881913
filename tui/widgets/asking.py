"""One field that says what it wants next, and how it understood what was typed."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import ClassVar, Protocol, runtime_checkable

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Input, Static

from blender.errors import FillwrightError
from tui.plain import plain
from tui.saying import said
from tui.shown import Units
from tui.widgets.fitted import Fitted


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing a place wants to know now.

    Parameters
    ----------
    ident : str
        Names the question, so that what was half typed can be kept for it.
    prompt : str
        What is wanted, in a few words.
    enter : callable
        Takes what was typed; True if it was taken, and the field may be emptied.
    echo : callable
        How that is understood, in words; raises `FillwrightError` if it cannot be.
    text : str
        What F1 explains.
    initial : str
        What stands there to begin with.
    is_secret : bool
        Whether what is typed is hidden.
    """

    ident: str
    prompt: str
    enter: Callable[[str], Awaitable[bool]]
    echo: Callable[[str], str] | None = None
    text: str = ""
    initial: str = ""
    is_secret: bool = False


@runtime_checkable
class Hears(Protocol):
    """A screen that is told when another question is asked."""

    def another_question(self) -> None:
        """Another question takes the place of the last."""


class Line(Input, inherit_bindings=False):
    """A field of one line: up and down are its place's, for there is nothing to scroll."""

    BINDINGS: ClassVar[list[BindingType]] = Input.BINDINGS


class AskField(Vertical):
    """The field of a place; it always has the keyboard there."""

    DEFAULT_CSS = """
    AskField { height: auto; padding: 0 1; }
    AskField #prompt { height: auto; min-height: 1; max-height: 2; text-style: bold; }
    AskField Input { height: 1; border: none; padding: 0 1; background: $panel; }
    AskField Input:focus { border: none; background-tint: $foreground 8%; }
    AskField Input:ansi, AskField Input:ansi:focus { border-left: thick ansi_yellow; }
    AskField #echo { height: auto; min-height: 1; max-height: 3; color: $secondary; }
    """

    class Taken(Message):
        """What was typed was taken."""

    def __init__(self) -> None:
        super().__init__(id="asking")
        self.ask: Ask | None = None
        self._busy = self._is_wrong = False
        self._entered = 0
        self._refused = ""  # what the station's word says cannot be used: the echo need not
        self._offered = ""  # what stands there to be kept or replaced: prefilled, or handed over
        self._drafts: dict[str, tuple[str, bool]] = {}  # with whether it was offered

    def compose(self) -> ComposeResult:
        """Prompt, field, echo."""
        yield Fitted("prompt")
        yield Line(id="field", select_on_focus=False, compact=True)
        yield Fitted("echo")

    @property
    def field(self) -> Input:
        """The field itself."""
        return self.query_one("#field", Input)

    @property
    def entering(self) -> int:
        """Which entry is being taken now, 0 if none is."""
        return self._entered if self._busy else 0

    def put(self, ask: Ask | None) -> None:
        """Ask something; what was half typed for another question is kept for its return."""
        if ask is not None and self.ask is not None and ask.ident == self.ask.ident:
            self.ask = ask
            self.query_one("#prompt", Static).update(plain(ask.prompt))
            self._show_echo(self.field.value)
            return
        self._keep_draft()
        if self.ask is not None and isinstance(self.screen, Hears):
            self.screen.another_question()
        self.ask = ask
        self.display = ask is not None
        if ask is None:
            return
        field = self.field
        text, is_offered = self._drafts.pop(ask.ident, (ask.initial, True))
        field.value = ""  # before it turns clear: a secret is never seen in passing
        field.password = ask.is_secret
        field.value = text
        field.cursor_position = len(text)
        if is_offered:
            self._offer()
        self.query_one("#prompt", Static).update(plain(ask.prompt))
        self._show_echo(field.value)

    def _keep_draft(self) -> None:
        if self.ask is not None and not self.ask.is_secret and self.field.value.strip():
            value = self.field.value
            self._drafts[self.ask.ident] = (value, value == self._offered)

    def _offer(self) -> None:
        """Offer what stands in the field: a character or a scan replaces it, an arrow keeps it."""
        self._offered = self.field.value
        self.field.select_all()

    def move_draft(self, ident: str) -> None:
        """Keep what stands in the field for another question, or for none."""
        if ident:
            self._drafts[ident] = (self.field.value, True)
        self.field.value = ""

    def drop_draft(self, ident: str) -> None:
        """Let go of what was kept for a question: it was entered by another way."""
        self._drafts.pop(ident, None)

    def forget(self) -> None:
        """Let go of every draft and of what stands in the field: it is somebody's."""
        self._drafts.clear()
        self.field.value = self._offered = ""

    def focus_field(self) -> None:
        """Give the field the keyboard."""
        if self.display:
            self.field.focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say how it is understood so far."""
        event.stop()
        if event.value != self._refused:
            self._refused = ""
        self._show_echo(event.value)

    def _show_echo(self, value: str) -> None:
        echo = self.query_one("#echo", Static)
        self._is_wrong = False
        if self.ask is None or self.ask.echo is None or (self.ask.is_secret and value):
            echo.update("")
            return
        try:
            echo.update(plain(self.ask.echo(value)))
        except FillwrightError as error:
            self._is_wrong = True
            units = getattr(self.app, "units", Units())
            is_told = not value.strip() or value == self._refused
            echo.update(plain("" if is_told else said(error.text, units)))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Hand it over, once: a second Enter meanwhile is not a second entry."""
        event.stop()
        if self.ask is not None and not self._busy:
            self._busy = True
            self._entered += 1
            self._offer()  # what is typed from here on is not written behind it
            self._enter(self.ask, event.value)

    @work
    async def _enter(self, ask: Ask, value: str) -> None:
        try:
            taken = await ask.enter(value)
        finally:
            self._busy = False
        is_same = self.ask is not None and self.ask.ident == ask.ident
        if not taken and is_same and self.is_mounted and self._is_wrong:
            self._refused = value
            self._show_echo(value)
        if taken:
            self._drafts.pop(ask.ident, None)
            if self.is_mounted and is_same and self.field.value == value:
                self.field.value = ask.initial
                self._offer()
            self.post_message(self.Taken())
