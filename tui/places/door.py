"""The door: sign in; until then only what keeps people safe is shown, and nothing personal."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Footer, Static

from blender.errors import FillwrightError
from blender.record.glance import Glance, GlanceFill, glance
from blender.record.roll_call import staff, the_one
from tui.places.place import TOO_SMALL, AtTerminal
from tui.plain import fit, plain
from tui.widgets.asking import Ask, AskField
from tui.widgets.fitted import Fitted
from tui.widgets.rack import mark
from tui.widgets.word import Word

MINUTE_US = 60_000_000
CAUTION = (
    "For qualified blenders. Oxygen burns; a wrong mix kills. Local codes and the cylinder's own "
    "markings come first. Analyse before use."
)


class Door(AtTerminal):
    """Where one signs in, and what a locked terminal shows."""

    DEFAULT_CSS = """
    Door #station { text-style: bold; padding: 1 2 0 2; height: 2; }
    Door #caution { padding: 0 2; color: $secondary; height: 3; }
    Door #inside { height: 1fr; padding: 0 2; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "another", show=False)]

    def __init__(self) -> None:
        super().__init__()
        self._who = self._given = self._chosen = ""

    def compose(self) -> ComposeResult:
        """Station, caution, what is open, and one field."""
        yield Static("", id="station", markup=False)
        yield Static(plain(CAUTION), id="caution")
        yield Fitted("inside")
        yield Word()
        yield AskField()
        yield Footer(show_command_palette=False)
        yield Static(TOO_SMALL, id="too-small", markup=False)

    def on_mount(self) -> None:
        """Show what is open, at once; open the station beside it."""
        self._look()
        self.set_interval(15.0, self._look)

    def on_screen_resume(self) -> None:
        """Ask who is there, anew."""
        self._forget()
        self._look()
        if self.terminal.trouble:
            self.say("mind", self.terminal.trouble)
            self.terminal.trouble = ""
        self._ask_name()
        self.call_after_refresh(self._open)

    def explain(self) -> str:
        """Return what F1 says here."""
        return (
            "Sign in with your name and your secret. The beginning of one of its words will do "
            "where nobody else's is like it, and so does your id; whom it means is shown "
            "before the secret is asked for. Where only one person can sign, "
            "leave the name empty. Everything you enter afterwards carries your signature; "
            "sign out with alt+l when you hand over: open fills stay where they stand."
        )

    def _look(self) -> None:
        if not self.is_current and self.is_mounted and self.app.screen is not self:
            return
        try:
            found = glance(self.terminal.house.location)
        except FillwrightError as error:
            self.say("refused", error.text)
            return
        self.query_one("#station", Static).update(plain(f"{found.name}  {found.station}"))
        self.query_one("#inside", Static).update(inside(found, self.terminal.house.clock().us))
        self.terminal.unsafe = sum(fill.do_not_breathe for fill in found.fills)

    @work
    async def _open(self) -> None:
        await asyncio.sleep(0)
        await self.terminal.floor.ready()
        if self.terminal.floor.fault is not None:
            self.say("refused", self.terminal.floor.fault.text)

    def _ask_name(self) -> None:
        asking = self.query_one(AskField)
        asking.put(
            Ask(
                "name",
                "Who is there? Your name, or a part of it",
                self._take_name,
                text=self.explain(),
            )
        )
        asking.focus_field()

    async def _take_name(self, name: str) -> bool:
        try:
            known = the_one(name, staff(self.terminal.house.location))
        except FillwrightError as error:
            self.say("refused", error.text)
            return False
        # A name nobody has is asked for its secret all the same: nothing is to be learnt of it.
        self._who, whose = (known.person, known.name) if known else (name.strip(), name.strip())
        self.say("note", "" if whose else "Several can sign here, and no name was given.")
        whose = whose or "nobody named"
        secret = Ask("secret", f"Secret of {whose} (Esc: another name)", self._take_secret,
                     is_secret=True, text=self.explain())  # fmt: skip
        self.query_one(AskField).put(secret)
        return True

    def action_another(self) -> None:
        """Ask for the name again."""
        self._forget()
        self.terminal.floor.sign_out()
        self._ask_name()

    def _forget(self) -> None:
        self._who = self._given = self._chosen = ""

    async def _take_secret(self, secret: str) -> bool:
        signing = self.terminal.floor.sign_in(self._who, secret)
        await self.terminal.attempt(signing)
        if self.terminal.floor.newcomer is not None:
            self._given = secret
            self._ask_new()
        self._go_in()
        return True  # refused, it is asked for again, unseen; Esc asks for another name

    def _go_in(self) -> None:
        if self.terminal.floor.actor is not None:
            self.say("note", "")
            self._forget()
            self.terminal.signed_in()

    # -- a secret that a manager gave is replaced before anything else -----------------------

    def _ask_new(self) -> None:
        self.say("mind", "A manager gave you that secret for once: it signs nothing. Choose yours.")
        self._put_secret("new-secret", "Your new secret, which nobody else knows", self._take_new)

    def _put_secret(self, ident: str, prompt: str, enter: Callable[[str], Awaitable[bool]]) -> None:
        asked = Ask(ident, prompt, enter, is_secret=True, text=self.explain())
        self.query_one(AskField).put(asked)

    async def _take_new(self, secret: str) -> bool:
        self._chosen = secret
        self._put_secret("same-again", "The same again", self._take_again)
        return True

    async def _take_again(self, secret: str) -> bool:
        if secret != self._chosen:
            self._put_secret("new-secret", "They differ. Your new secret", self._take_new)
            return True
        floor = self.terminal.floor
        await self.terminal.attempt(floor.choose_secret(self._given, secret))
        if floor.actor is None:
            self._put_secret("new-secret", "Your new secret", self._take_new)
        self._go_in()
        return True


def inside(found: Glance, now_us: int) -> Content:
    """Return what stands open, with nothing of whose it is."""
    if not found.fills:
        return plain("No fill is open.")
    lines = [plain("Open fills")]
    urgent = sorted(found.fills, key=lambda fill: (fill.state != "filling", fill.fill))
    lines += [_line(fill, now_us) for fill in urgent[:12]]
    if len(found.fills) > 12:
        lines.append(plain(f"and {len(found.fills) - 12} more"))
    return Content("\n").join(lines)


def _line(fill: GlanceFill, now_us: int) -> Content:
    minutes = max(now_us - fill.last_us, 0) // MINUTE_US
    since = f"{minutes} min" if minutes < 600 else f"{minutes // 1440} d"
    stands = f"{mark(fill) or fill.state:11}"
    words = f"{fit(fill.serial, 12, 'tail')}  {stands} {since:>8}  {fill.gas_text}"
    if fill.do_not_breathe:
        return Content.assemble(plain(words), ("  ! DO NOT BREATHE", "bold $warning"))
    return plain(words)
