"""What every place has: the top line, its own middle, the station's word, and the keys."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.screen import ModalScreen, Screen
from textual.widgets import Footer, Static

from blender.errors import RefusedError
from tui.saying import said
from tui.widgets.asking import AskField
from tui.widgets.masthead import Masthead
from tui.widgets.word import Word

if TYPE_CHECKING:
    from blender.record.journal import Record
    from tui.app import Terminal

Result = TypeVar("Result")
TOO_SMALL = "This terminal is too small to be read safely: make it 80 columns by 24 rows or more."


class AtTerminal(Screen[None]):
    """A screen of this terminal, which knows the app for what it is."""

    @property
    def terminal(self) -> Terminal:
        """The app."""
        return cast("Terminal", self.app)

    # As the station said it and what it was made from, for when the units change.
    _spoken: tuple[str, str, tuple[object, ...]] = ("note", "", ())
    _before = _spoken  # that it is working
    _said_at = _before_at = (0, 0)  # after how many keys, and in which entry of the field

    def say(self, kind: str, text: str, *known: object) -> None:
        """Say what came of the last act, in the screen's words and units, from exact figures."""
        self._spoken = (kind, text, known)
        self._said_at = (self.terminal.inputs, self._entering())
        self.query_one(Word).say(kind, said(text, self.terminal.units, *known))

    def busy(self) -> None:
        """Say that something is being done; what came of the last act is said again after it."""
        if self._spoken[0] != "busy":
            self._before, self._before_at = self._spoken, self._said_at
        self.say("busy", "Working ...")

    def no_longer_busy(self) -> None:
        """Take back that something is being done."""
        if self._spoken[0] == "busy":
            kind, text, known = self._before
            self.say(kind, text, *known)
            self._said_at = self._before_at

    def _entering(self) -> int:
        return max((asking.entering for asking in self.query(AskField)), default=0)

    def another_question(self) -> None:
        """Take a refusal back that is of an act before: it says nothing of this question.

        One that was said in the same entry, or after the last key, is what leads to it.
        """
        keys, entry = self._said_at
        is_of_now = keys == self.terminal.inputs or (entry and entry == self._entering())
        if self._spoken[0] == "refused" and not is_of_now:
            self.say("note", "")

    def say_again(self) -> None:
        """Say the same in other units."""
        if self.query_one(Word).said:
            kind, text, known = self._spoken
            self.say(kind, text, *known)


class _Signing:
    """Keeps why a signature was refused, if it was that and not what should be signed."""

    def __init__(self) -> None:
        self.refused = ""

    async def watched(self, doing: Awaitable[Result]) -> Result:
        """Wait for an act."""
        try:
            return await doing
        except RefusedError as error:
            if error.code in ("sign-in", "authority"):
                self.refused = error.text
            raise


class Place(AtTerminal):
    """A place one stands at.

    A place gives its middle in `middle`, what it is about in `renew`, and its keys in
    `tui.keys`.
    """

    NAME: ClassVar[str] = ""
    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = []
    HELP_TEXT: ClassVar[str] = ""
    _typed_by = ""  # who stood here last

    def compose(self) -> ComposeResult:
        """Top line, middle, word, keys."""
        yield Masthead(self.NAME)
        yield from self.middle()
        yield Word()
        yield Footer(show_command_palette=False)
        yield Static(TOO_SMALL, id="too-small", markup=False)

    def middle(self) -> ComposeResult:
        """Give what this place is made of."""
        yield from ()

    def on_mount(self) -> None:
        """Look every quarter of a minute what changed meanwhile."""
        self.set_interval(15.0, self.tick)

    def on_screen_resume(self) -> None:
        """Show what is so now, whoever changed it."""
        self._another_person()
        self.tick()
        self.call_after_refresh(self.take_keys)

    def _another_person(self) -> None:
        """Let go of what another person half typed here: Enter would sign it as one's own."""
        actor = self.terminal.floor.actor
        if actor is None or actor.person == self._typed_by:
            return
        if self._typed_by:
            for asking in self.query(AskField):
                asking.forget()
            self.say("note", "")
        self._typed_by = actor.person

    def tick(self) -> None:
        """Bring the top line and the middle up to date."""
        if self.is_current and self.terminal.floor.is_open:
            self.terminal.head()
            self.renew()

    def renew(self) -> None:
        """Ask the record again and show what it says."""

    def take_keys(self) -> None:
        """Give the keyboard to what this place is worked with."""
        for asking in self.query(AskField):
            asking.focus_field()

    async def perform(
        self, use_case: Callable[..., Result], *args: Any, **facts: Any
    ) -> Result | None:
        """Run a use case as the one signed in; None where it could not be done, and said why.

        What a gate leaves to a manager is asked of them first, and done once they said yes.
        """
        from tui.dialogs.leave import Asked, leave_form  # the first picture needs nothing of it

        while True:
            asked = Asked()
            doing = self.terminal.floor.act(use_case, *args, **facts)
            made = await self.terminal.attempt(asked.watched(doing))
            if made is not None or asked.needed is None:
                return made
            for gate in asked.needed.gates:
                if not await self._allowed(asked.needed.fill, gate, leave_form):
                    return None

    async def _allowed(
        self, fill: int, gate: dict[str, Any], form: Callable[..., ModalScreen[Any]]
    ) -> bool:
        """Ask whether what a gate found is allowed, and enter the leave; False if it is not."""
        from blender.station import looking

        reason = said(gate["reason"], self.terminal.units)
        given = await self.over(form(fill, reason, self.terminal.drafts))
        if given is None:
            self.say("refused", f"Not allowed, and nothing was done: {reason}")
            return False
        entering = self.terminal.floor.act(
            looking.allow, fill, gate=gate["gate"], reason=given["reason"]
        )
        return await self.terminal.attempt(entering) is not None

    async def perform_signed(
        self, given: Mapping[str, str], use_case: Callable[..., Result], /, *args: Any, **facts: Any
    ) -> Result | None:
        """Run a use case as the manager who gave their secret for this one act.

        Where they could not sign it, name and secret are asked for again at once, the secret
        unseen: else it would be typed into whatever field has the keyboard after the form.
        """
        from tui.dialogs.manager import sign_again  # the first picture needs nothing of it

        while True:
            actor = self.terminal.floor.actor
            who = given.get("manager", actor.person if actor is not None else "")
            acting = self.terminal.floor.act_as
            doing = acting(who, given["manager-secret"], use_case, *args, **facts)
            signing = _Signing()
            made = await self.terminal.attempt(signing.watched(doing))
            if made is not None or not signing.refused:
                return made
            again = await self.over(sign_again(actor, given, signing.refused))
            if again is None:
                return None
            given = again

    async def look(
        self, question: Callable[..., Result], *args: Any, **facts: Any
    ) -> Result | None:
        """Ask the record; None where it could not be read, and said why."""
        return await self.terminal.attempt(self.terminal.floor.look(question, *args, **facts))

    async def over(self, dialog: ModalScreen[Result]) -> Result | None:
        """Show a dialog over this place and return its answer, None if it was left.

        It is left, too, once nobody is signed in any more: a list that comes again, or a page
        that took its time, must not stand over the door and be the next person's to use.
        """
        if self.terminal.floor.actor is None:
            return None
        return await self.app.push_screen_wait(dialog)

    async def is_new(self, name: str) -> bool:
        """Ask whether somebody is another than those whose names are alike; True if they are."""
        from blender.station.alike import alike, caution
        from tui.dialogs.confirm import Confirm

        found = await self.look(alike, name)
        if found is None:
            return False
        if not found or await self.over(Confirm(f"{caution(name, found)} y adds another.")):
            return True
        self.say("note", f"{name} is not added. What was typed is kept.")
        return False

    async def put(self, name: str, drawn: Callable[[str], bytes]) -> str | None:
        """Draw a paper on the station's own sheet, keep and print it; return where it is."""

        def kept(record: Record) -> str:
            from blender.station.sheets import sheets

            return self.terminal.house.put_paper(name, drawn(sheets(record).paper))

        return await self.look(kept)

    def explain(self) -> str:
        """Return what F1 says of what has the keyboard."""
        for asking in self.query(AskField):
            if asking.ask is not None and asking.ask.text:
                return asking.ask.text
        return self.HELP_TEXT

    def value_to_copy(self) -> str:
        """Return the value this place is about, empty if there is none."""
        return ""

    def action_copy_value(self) -> None:
        """Copy the value this place is about."""
        if value := self.value_to_copy():
            self.app.copy_to_clipboard(value)
            self.say("done", f"Copied: {value}")
        else:
            self.say("note", "There is nothing to copy here yet.")
