"""The checks of a fill: what is seen of its cylinder, what every gate found, what is allowed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from textual import work
from textual.content import Content

from blender.errors import InputError
from blender.station import gates_asked, looking
from blender.station.answer import Answer
from blender.station.fitness import LOOKS
from blender.station.gates import Gate
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import reason_field, signature_fields
from tui.dialogs.page import Page
from tui.places.place import Place
from tui.plain import plain
from tui.saying import said
from tui.shown import Units
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from blender.station.actor import Actor

_ANSWERS = {"pass": ("PASS", "$success"), "ask": ("ASK THE MANAGER", "bold $warning"),
            "stop": ("STOP", "bold reverse $error")}  # fmt: skip
_QUESTIONS = {
    "outside": "Outside: no dents, corrosion, heat, foreign threads?",
    "valve": "Valve: rated for this, in good condition, clean for the gas?",
    "marking": "Marking: stamps can be read, the right label and nothing misleading?",
    "inside": "Inside, if it came without pressure: no water, rust, flakes?",
}


class Checks(Place):
    """A place at which the checks of a fill are shown, and answered."""

    def fill_checked(self) -> int:
        """Return the fill whose checks are meant, 0 where there is none."""
        return 0

    def cylinder_checked(self) -> str:
        """Return the serial of its cylinder."""
        return ""

    def ask_first(self, ask: Ask) -> None:
        """Ask something before what is usually next."""

    async def tell(self, answer: Answer | None) -> bool:
        """Say what came of an act; True if it was taken."""
        return answer is not None

    # -- what is seen ----------------------------------------------------------------------

    def action_look_at_it(self) -> None:
        """Ask what is seen of the cylinder, part by part, and enter it at the end."""
        if not self.fill_checked():
            self.say("note", "There is no fill here.")
        else:
            self._ask_look({})

    def _ask_look(self, seen: dict[str, str]) -> None:
        """Ask of the next part; nothing is entered before all were asked."""
        fill, part = self.fill_checked(), [*LOOKS][len(seen)]

        async def enter(text: str) -> bool:
            try:
                answers = {**seen, part: seen_as(text, part)}
            except InputError as error:
                self.say("refused", error.text)
                return False
            if len(answers) < len(LOOKS):
                self._ask_look(answers)
                return True
            if not any(answers.values()):
                self.say("note", "Nothing was looked at, and nothing was entered.")
                self.look_ends()
                return True
            answer = await self.perform(looking.look, fill, **answers)
            taken = await self.tell(answer)
            if answer is not None and not all(one["ok"] for one in answer.facts["looked"]):
                self.say("mind", f"{answer.text} alt+e shows what that means for this fill.")
            return taken

        self.ask_first(
            Ask(
                f"look-{part}-{fill}",
                f"{self.cylinder_checked()}  {_QUESTIONS[part]} yes, or what is wrong (Esc: leave)",
                enter,
                lambda text: look_echo(text, part),
                "yes where it is sound; no and what is wrong: 'no, dent at the shoulder'. Enter "
                "alone: not looked at. A damaged cylinder or valve stops the fill, and nobody "
                "overrides that; a marking is put right, or a manager allows it.",
            )
        )

    def look_ends(self) -> None:
        """Go back to what is usually next."""

    # -- what the gates found --------------------------------------------------------------

    @work(group="dialog")
    async def action_findings(self) -> None:
        """Show in full what every gate found when it was last asked about this fill."""
        if not (number := self.fill_checked()):
            self.say("note", "There is no fill here.")
            return
        found = await self.look(gates_asked.last_asked, number)
        if found is None:
            return
        may = any(g["answer"] != "pass" and g["may_be_allowed"] for g in found["gates"])
        offers = {"x": "let a manager allow one of them"} if may else {}
        title = f"{self.cylinder_checked()}, fill {number}: what the checks found"
        page = Page(title, findings_lines(found, self.terminal.units), offers)
        if await self.over(page) == "x":
            await self._allow(number)

    # -- what a manager allows -------------------------------------------------------------

    @work(group="dialog")
    async def action_allow(self) -> None:
        """Let a manager allow, for this fill, what a gate asks them about."""
        if number := self.fill_checked():
            await self._allow(number)
        else:
            self.say("note", "There is no fill here.")

    async def _allow(self, number: int) -> None:
        found = await self.look(gates_asked.last_asked, number)
        if found is None:
            return
        open_gates = [g["gate"] for g in found["gates"] if g["answer"] != "pass"]
        asks = [gate for gate in open_gates if gate in looking.ASKING]
        actor = self.terminal.floor.actor
        given = await self.over(allow_form(number, asks, actor, self.terminal.drafts))
        if given is None:
            return
        facts = {"gate": given["gate"].strip().lower(), "reason": given["reason"]}
        answer = await self.perform_signed(given, looking.allow, number, **facts)
        if answer is not None:
            self.terminal.drafts.pop(allow_title(number), None)
            await self.tell(answer)


def seen_as(text: str, part: str) -> str:
    """Return what was typed of a part as the use case takes it, empty for not looked at.

    Raises
    ------
    InputError
        If it is neither yes nor no with what is wrong.

    Examples
    --------
    >>> seen_as("y", "valve"), seen_as("no, bent", "valve"), seen_as("", "valve")
    ('yes', 'no, bent', '')
    """
    word, _, rest = text.strip().partition(" ")
    word = word.strip(",:;.").lower()
    if not word:
        return ""
    if word in ("yes", "y"):
        return f"yes {rest}".strip()
    if word in ("no", "n") and rest.strip():
        return f"no, {rest.strip()}"
    raise InputError(part, ascii(text[:40]), "answer yes, or no and what is wrong: 'no, bent'")


def look_echo(text: str, part: str) -> str:
    """Return how an answer is understood."""
    answer = seen_as(text, part)
    if not answer:
        return f"{part}: not looked at"
    return f"{part}: sound" if answer.startswith("yes") else f"{part}: NOT RIGHT, {answer[4:]}"


def findings_lines(found: dict[str, Any], units: Units) -> list[Content | str]:
    """Return what every gate found, what stops first; what no rule asks for is folded."""
    if found["act"] is None:
        none_yet = "No check was asked yet: the first are asked when it is planned."
        return [none_yet, "", *_looked(found["looked"])]
    when = found["at"][:16].replace("T", " ")
    told: list[Content | str] = [f"Asked {when} by {found['by']}, act: {found['act']}", ""]
    order = {"stop": 0, "ask": 1, "pass": 2}
    rows = sorted(found["gates"], key=lambda one: order[one["answer"]])
    told += [_finding(one, found["allowed"], units) for one in rows if not one["caution"]]
    gates = [Gate(g["gate"], g["answer"], g["reason"], g["caution"]) for g in rows]
    if left := gates_asked.unchecked(gates):
        told += ["", said(left, units)]
    told += ["", *_looked(found["looked"])]
    told += ["A STOP is for everybody. Local codes and the cylinder's own markings come first."]
    return told


def _looked(looked: Sequence[dict[str, Any]]) -> list[str]:
    """Return what was seen of the cylinder; the next act asks about it."""
    told = []
    for one in looked:
        how = f"sound {one['note']}".strip() if one["ok"] else f"NOT RIGHT: {one['note']}"
        told.append(f"Seen {one['at'][:16].replace('T', ' ')} by {one['by']}: {one['what']} {how}")
    return [*told, ""] if told else []


def _finding(one: dict[str, Any], allowed: dict[str, str], units: Units) -> Content:
    word, style = _ANSWERS[one["answer"]]
    rule = f" (rule {one['rule']})" if one["rule"] else ""
    leave = f"  ALLOWED by {allowed[one['gate']]}" if one["gate"] in allowed else ""
    return Content.assemble(
        (f"{word:5}", style), plain(f"  {one['gate']}{rule}: {said(one['reason'], units)}{leave}")
    )  # fmt: skip


def allow_title(number: int) -> str:
    """Return the title of the form of a manager's leave."""
    return f"Allow, for fill {number} alone"


def allow_form(number: int, asks: Sequence[str], actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of a manager's leave for one gate of one fill."""
    asking = ", ".join(looking.ASKING)
    hint = ", ".join(asks[:3]) or "none asks now; such as marking"
    return Form(
        allow_title(number),
        [
            Field("gate", "Which check", hint, asks[0] if len(asks) == 1 else "", _gate,
                  text=f"These may be allowed: {asking}. Any other stops, for everybody."),
            reason_field("wrong label taken off"),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def _gate(text: str) -> None:
    if text.strip().lower() not in looking.ASKING:
        told = "F1 names those that may be allowed; any other stops, for everybody"
        raise InputError("which check", ascii(text[:40]), told)
