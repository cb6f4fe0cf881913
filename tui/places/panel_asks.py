"""What the Panel's one field asks, by where a fill stands, and what becomes of the answer."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from blender.errors import InputError
from blender.record import read
from blender.record.journal import Record
from blender.station import analysing, elsewhere, ending, filling, planning
from blender.station.answer import Answer
from blender.station.gates import STOP
from blender.station.panel import PanelFill
from blender.units import parse_percent
from tui import shown
from tui.places.panel_mending import mending_ask
from tui.typed_options import options, options_text
from tui.widgets.asking import Ask, AskField

if TYPE_CHECKING:
    from tui.places.panel import Panel

Enter = Callable[[str], Awaitable[bool]]
Act = Callable[..., Answer]
Facts = dict[str, Any]
# What can be entered where, the usual first; alt+n turns to the next.
_WAYS: dict[str, tuple[str, ...]] = {
    "requested": ("plan", "analysis"),
    "planned": ("start", "plan", "analysis"),
    "filling": ("reading", "plan"),
    "held": ("resume", "analysis", "plan"),
    "resting": ("analysis", "reading"),
    "analysed": ("sign", "analysis", "plan"),
    "recheck": ("analysis",),
    "correcting": ("start", "plan"),
    "accepted": ("sign",),
}
_ENDINGS = {
    "hold": (filling.hold, "Why is it held? Power, shift, fault"),
    "reject": (ending.reject, "Why is it given up? The cylinder will be drained"),
    "quarantine": (ending.quarantine, "Why is it set apart?"),
    "release": (ending.release, "Why may it be used again? (manager)"),
}


class Asks:
    """The questions of the focused fill.

    Parameters
    ----------
    panel : Panel
        The place that asks.
    """

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self._way = 0
        self._scanned = ""
        self._posts: list[str] = []  # of a set, scanned one by one
        self._isolator = ""
        self._doubted = ""
        self._suits = 0  # the fill a doubted reading suits better

    def take_along(self, number: int) -> None:
        """Take a doubted reading to the fill it suits; it stays with no other."""
        if self._doubted:
            self._panel.query_one(AskField).move_draft(
                f"reading-{number}" if number == self._suits else ""
            )

    def turned(self) -> None:
        """Start with the usual question again: another fill, or something was entered."""
        self._way, self._scanned, self._doubted = 0, "", ""
        self._posts, self._isolator = [], ""

    def turn(self) -> None:
        """Go to the next thing that can be entered here."""
        self._way, self._scanned = self._way + 1, ""
        self._posts, self._isolator = [], ""

    def now(self) -> Ask | None:
        """Return what is asked now."""
        fill = self._panel.fill
        if fill is None:
            return None
        ways = _WAYS.get(fill.state, ())
        if not ways:
            return self._apart(fill)
        if fill.posts_left:  # nobody signs before each post of a set was analysed
            ways = ("analysis", *(way for way in ways if way != "analysis"))
        if _is_planned_first(fill):  # alt+n: to go on as it was planned
            ways = ("plan", *(way for way in ways if way != "plan"))
        way = ways[self._way % len(ways)]
        make: Callable[[PanelFill], Ask] = getattr(self, f"_{way}")
        return make(fill)

    def _apart(self, fill: PanelFill) -> Ask:
        """Say what ends it; what is typed here releases nothing, by no slip of the hand."""
        ends = "alt+r: a manager releases it, with a reason. alt+j: it is rejected and drained"

        async def enter(_: str) -> bool:
            self._panel.say("note", f"{fill.serial} is set apart, and nobody touches it. {ends}.")
            return False

        told = "Nothing is done with a cylinder that is set apart until a manager says so."
        return Ask(f"apart-{fill.fill}", f"Set apart. {ends}", enter, None, told)

    # -- plan and start --------------------------------------------------------------------

    def _plan(self, fill: PanelFill) -> Ask:
        async def enter(text: str) -> bool:
            made = options(text)
            answer = await self._panel.perform(planning.plan, fill.fill, made)
            return await self._panel.tell(answer)

        to = self._panel.terminal.units.pressure(fill.want_bar, 0)
        again = "" if fill.state == "requested" else " again, from what is in it now"
        return Ask(
            f"plan-{fill.fill}",
            f"Enter plans {fill.want_text} to {to}{again}",
            self._caught(enter),
            options_text,
            "Enter alone plans by partial pressure with the station's gases. Or type first: "
            "'flow 40%' for continuous flow up to the compressor's rated oxygen ('flow rated' if "
            "the compressor is on record), 'at 20C,35C' "
            "for the gas temperatures at the stops, 'top EAN32', 'from NAME' for one supply, "
            "'limit 232bar'.",
        )

    def _start(self, fill: PanelFill) -> Ask:
        async def enter(text: str) -> bool:
            words = text.split()
            if words and words[-1] in ("open", "closed") and fill.posts > 1:
                self._isolator = words.pop()
            serial = self._whole(fill, " ".join(words))
            if not serial:
                return True  # the other post is asked for
            if fill.posts > 1 and not self._isolator:
                self._panel.say("mind", "A set: type 'open' after the serial if the isolator is "
                                "open.")  # fmt: skip
                return False
            answer = await self._panel.perform(
                filling.start, fill.fill, serial=serial, isolator=self._isolator, at_hand=True
            )
            return await self._panel.tell(answer)

        isolator = ", a blank, and 'open' if the isolator is" if fill.posts > 1 else ""
        what = f"the other post, {self._missing(fill)}" if self._posts else "the serial"
        return Ask(
            f"start-{fill.fill}-{len(self._posts)}",
            f"Scan or type {what}{isolator}, to start",
            enter,
            None,
            "Read the serial off the cylinder in your hand, never off the screen: gas goes only "
            "into the cylinder that was planned for. alt+w starts several that hang on one "
            "manifold: residuals must be alike.",
        )

    def _missing(self, fill: PanelFill) -> str:
        """Return the posts of a set that were not scanned yet."""
        return " and ".join(post for post in fill.serial.split("+") if post not in self._posts)

    def _whole(self, fill: PanelFill, scanned: str) -> str:
        """Return the serial that was scanned; of a set, once each of its posts was."""
        posts = fill.serial.split("+")
        if len(posts) < 2 or (scanned and scanned not in posts):
            return scanned  # the gate compares it
        if scanned and scanned not in self._posts:
            self._posts.append(scanned)
        if len(self._posts) == len(posts):
            return fill.serial
        if not self._posts:
            return scanned or " "  # nothing was scanned at all: the gate says so
        self._panel.say("note", f"{' and '.join(self._posts)} scanned; now {self._missing(fill)}.")
        self._panel.put_ask()
        return ""

    # -- readings --------------------------------------------------------------------------

    def _reading(self, fill: PanelFill) -> Ask:
        units, kind = self._panel.terminal.units, self._panel.terminal.settings.kind

        def echo(text: str) -> str:
            return shown.echo(shown.reading(text, units, kind), units)

        async def enter(text: str) -> bool:
            typed = shown.reading(text, units, kind)
            if self._doubted != text and await self._belongs_elsewhere(fill, typed, text):
                return False
            if typed.kind != kind:
                self._panel.terminal.remember(kind=typed.kind)
            facts = {"at": typed.at, "temperature": typed.temperature, "kind": typed.kind}
            return await self._rested(fill, f"reading-{fill.fill}", filling.reading, facts)

        such = units.example("74,5 31", "1080 88")
        second = (
            "Second reading, after its rest"
            if fill.state == "filling" and fill.action == "rest"
            else "Gauge"
        )
        by_mass = fill.stop is not None and fill.stop.scale_g is not None
        scale = f"Scale, such as {units.example('1.234kg', '2.72lb')}; or " if by_mass else ""
        return Ask(
            f"reading-{fill.fill}",
            f"{scale}{second if not by_mass else 'gauge'} and temperature of the {kind}, "
            f"such as {such}",
            self._caught(enter),
            echo,
            "Pressure, a blank, temperature. A point or a comma is decimal. Say 'wall' or 'room' "
            "after it if that is what you measured; only the gas's own temperature closes a step "
            "while gas goes in. A number alone is in the units shown above.",
        )

    async def _belongs_elsewhere(self, fill: PanelFill, typed: shown.Typed, text: str) -> bool:
        """Stop where a reading suits another open fill better; a second Enter enters it here."""
        facts = {"at": typed.at, "temperature": typed.temperature, "kind": typed.kind}
        others = await self._panel.look(elsewhere.suits_better, fill.fill, **facts)
        if others is None:
            return True
        if not others:
            return False
        best = others[0]
        self._doubted, self._suits = text, best["fill"]
        stop = self._panel.terminal.units.pressure(best["stop_bar"])
        self._panel.say(
            "mind",
            f"Not entered. This reading suits {best['serial']} (fill {best['fill']}, next stop "
            f"{stop}) better than {fill.serial}. Turn to that fill, or press Enter again to "
            "enter it here.",
        )
        return True

    def mend(self) -> None:
        """Ask for what was entered last should have been."""
        fill = self._panel.fill
        ask = mending_ask(self._panel, fill) if fill is not None else None
        if ask is None:
            self._panel.say("note", "There is nothing to correct in this fill any more.")
            return
        self._panel.ask_first(replace(ask, enter=self._caught(ask.enter)))

    # -- stopping part-way, and going on ---------------------------------------------------

    def _resume(self, fill: PanelFill) -> Ask:
        if not self._scanned:
            return self._scan(fill, "to go on with it", is_whole=True)
        units, kind, serial = self._panel.terminal.units, "gas", self._scanned
        such = units.example("81,6 12", "1180 54")

        def echo(text: str) -> str:
            return shown.echo(shown.reading(text, units, kind), units)

        async def enter(text: str) -> bool:
            typed = shown.reading(text, units, kind)
            answer = await self._panel.perform(
                filling.resume, fill.fill, serial=serial, at=typed.at,
                temperature=typed.temperature,
            )  # fmt: skip
            return await self._panel.tell(answer)

        return Ask(
            f"resume-{fill.fill}",
            f"{serial}: gauge and gas temperature now, such as {such}",
            self._caught(enter),
            echo,
            "The gauge is compared with what should be in it at this temperature. What is "
            "missing is told, and nothing goes on before it is explained.",
        )

    def why(self, act: str) -> None:
        """Ask for the reason of stopping, giving up, setting apart or releasing."""
        if self._panel.fill is not None:
            self._panel.ask_first(self._reason(self._panel.fill, act))

    def _release(self, fill: PanelFill) -> Ask:
        return self._reason(fill, "release")

    def _reason(self, fill: PanelFill, act: str) -> Ask:
        use_case, prompt = _ENDINGS[act]

        async def enter(text: str) -> bool:
            answer = await self._panel.perform(use_case, fill.fill, reason=text)
            return await self._panel.tell(answer)

        return Ask(f"{act}-{fill.fill}", f"{fill.serial}: {prompt} (Esc: no)", enter, None,
                   "The reason stands in the record, beside your name.")  # fmt: skip

    # -- analysis --------------------------------------------------------------------------

    def _analysis(self, fill: PanelFill) -> Ask:
        if not self._scanned:
            return self._scan(fill, "whose gas is analysed")
        analyser, serial = self._panel.terminal.settings.analyser, self._scanned

        def echo(text: str) -> str:
            name, o2, he = _analysis_words(text, analyser)
            helium = f", He {parse_percent(he, 'helium'):g} %" if he else ", helium not measured"
            return f"{name or '?'}: O2 {parse_percent(o2, 'reading'):g} %{helium}"

        async def enter(text: str) -> bool:
            name, o2, he = _analysis_words(text, analyser)
            found = await self._panel.look(analyser_named, name)
            if found is None:
                return False
            self._panel.terminal.remember(analyser=found)
            facts = {"serial": serial, "analyser": found, "reading": o2, "helium": he}
            return await self._rested(fill, f"analysis-{fill.fill}", analysing.analyse, facts)

        helium = " and helium" if fill.has_helium else ""
        return Ask(
            f"analysis-{fill.fill}",
            f"{serial}: {analyser or 'analyser and its'} reading{helium} in percent",
            self._caught(enter),
            echo,
            "Oxygen as the analyser shows it, then helium if it was measured: 21.2 34.8. Another "
            "analyser's name goes in front and is remembered: A2 32.4.",
        )

    # -- a rest waived by a manager --------------------------------------------------------

    async def _rested(self, fill: PanelFill, draft: str, act: Act, facts: Facts) -> bool:
        """Enter what waits for the cylinder's rest; a manager is asked whether to waive it."""
        answer = await self._panel.perform(act, fill.fill, **facts)
        if answer is not None and answer.done:
            self._panel.query_one(AskField).drop_draft(draft)
        taken = await self._panel.tell(answer)
        if answer is not None and self._may_waive(answer):
            self._panel.ask_first(self._waive(fill, draft, act, facts))
        return taken

    def _may_waive(self, answer: Answer) -> bool:
        """Tell whether nothing but the rest stands against it, before somebody who may say so."""
        actor = self._panel.terminal.floor.actor
        against = {gate.gate for gate in answer.gates if gate.answer == STOP}
        return actor is not None and actor.role == "manager" and against == {"rest"}

    def _waive(self, fill: PanelFill, draft: str, act: Act, facts: Facts) -> Ask:
        async def enter(text: str) -> bool:
            if not text.strip():
                self._panel.say("refused", "Type why it need not rest; Esc lets it rest.")
                return False
            return await self._rested(fill, draft, act, facts | {"waive": text})

        return Ask(
            f"waive-{draft}",
            f"{fill.serial}: why need it not rest? (Esc: it rests)",
            self._caught(enter),
            None,
            "What you typed before is entered with this reason, under your name. Esc lets the "
            "cylinder rest, and what you typed is kept.",
        )

    def _scan(self, fill: PanelFill, purpose: str, *, is_whole: bool = False) -> Ask:
        """Ask for the cylinder in hand; of a set any post will do, unless all are wanted."""

        async def enter(text: str) -> bool:
            serial = text.strip()
            if serial != fill.serial and serial not in fill.serial.split("+"):
                given = serial[:40] or "Nothing"
                told = f"{given} is not {fill.serial}: take the cylinder of this fill."
                self._panel.say("refused", told)
                return False
            self._scanned = self._whole(fill, serial) if is_whole else serial
            self._panel.put_ask()
            return True

        what = f"the other post, {self._missing(fill)}," if self._posts else "the serial"
        if fill.posts_left:
            what = f"the other post, {' and '.join(fill.posts_left)},"
        return Ask(
            f"scan-{self._way}-{fill.fill}-{len(self._posts)}",
            f"Scan or type {what} {purpose}",
            enter,
            None,
            "Read it off the cylinder in your hand, never off the screen.",
        )

    def _sign(self, fill: PanelFill) -> Ask:
        async def enter(_: str) -> bool:
            self._panel.terminal.at_counter(fill.fill)
            return True

        what = "sign for it" if fill.state == "analysed" else "take it away"
        return Ask(
            f"sign-{fill.fill}",
            f"Enter goes to the Counter, where the diver can {what}",
            enter,
            None,
            "alt+n: analyse again, or plan a correction.",
        )

    def _caught(self, enter: Enter) -> Enter:
        """Say what cannot be read, and keep it in the field."""

        async def guarded(text: str) -> bool:
            try:
                return await enter(text)
            except InputError as error:
                self._panel.say("refused", error.text)
                return False

        return guarded


def _is_planned_first(fill: PanelFill) -> bool:
    """Tell whether a new plan comes first: past a stop, analysed while held, or gas was lost."""
    return fill.is_overshot or fill.is_to_plan or (fill.is_lost and fill.state == "analysed")


def _analysis_words(text: str, analyser: str) -> tuple[str, str, str | None]:
    """Return analyser, oxygen and helium of what was typed."""
    words = text.split()
    name = analyser
    while words and not words[0][0].isdigit() and words[0][0] not in "+-.,":
        name = words.pop(0)
    if not 1 <= len(words) <= 2:
        raise InputError(
            "analysis", text.strip() or "nothing", "type 32.4, or 21.2 34.8 with helium"
        )
    return name, words[0], words[1] if len(words) == 2 else None


def analyser_named(record: Record, name: str) -> str:
    """Return the one analyser a name, or its beginning, means; the only one needs none."""
    with record.read() as conn:
        names = [row.name for row in read.analysers(conn)]
    if name in names:
        return name
    fits = [one for one in names if one.lower().startswith(name.lower())]
    if len(fits) == 1:
        return fits[0]
    known = ", ".join(names) or "none; add one in the Store"
    raise InputError(
        "analyser",
        name or "nothing",
        f"put its name before the O2, such as {(names or ['A1'])[0]} 32.4; there are {known}",
    )
