"""At hand-over: the diver analyses, signs for what the label will state, and takes it away."""

from __future__ import annotations

from typing import TYPE_CHECKING

from blender.errors import FillwrightError, InputError
from blender.record.anchor import WORD, printed_head
from blender.station import handover
from blender.station.answer import Answer
from blender.station.offer import Offer, offer
from blender.units import parse_percent
from reports.wording import percent
from tui.papers import print_label
from tui.places.counter_visit import guarded
from tui.widgets.asking import Ask
from tui.widgets.signpad import Stroke

if TYPE_CHECKING:
    from tui.places.counter import Counter


class Signing:
    """The questions of signing and of collecting.

    Parameters
    ----------
    counter : Counter
        The place that asks.
    """

    def __init__(self, counter: Counter) -> None:
        self._counter = counter
        self.forget()

    def forget(self) -> None:
        """Let go of the fill in hand and of everything personal about it."""
        self.offer: Offer | None = None
        self.strokes: list[Stroke] = []
        self._own: tuple[str, str | None] | None = None
        self._serials: list[str] = []
        self._label = self._represents = ""

    @property
    def may_draw(self) -> bool:
        """Whether a signature is what is asked for now."""
        return self.offer is not None and self.offer.state == "analysed" and self._own is not None

    async def take(self, number: int, serial: str = "", label: str = "") -> bool:
        """Take a fill in hand, with what was scanned to find it."""
        found = await self._counter.look(offer, number, self._counter.rules)
        if found is None:
            return False
        self.forget()
        self.offer, self._label = found, label
        self._serials = serial.split("+") if serial else []
        said = {
            "analysed": "Analyse it yourself, then sign for exactly what the label will state.",
            "accepted": f"Accepted by {found.customer}. Scan cylinder and label to hand it over.",
        }
        self._counter.say("note", said.get(found.state, f"Fill {number} is {found.state}."))
        return True

    def now(self, held: Offer) -> Ask:
        """Return what is asked now."""
        if held.state == "accepted":
            return self._collect(held)
        if held.state != "analysed":
            return self._elsewhere(held)
        return self._reading(held) if self._own is None else self._name(held)

    def back(self) -> bool:
        """Go back to the diver's reading; False if that is where one stands."""
        if self._own is None:
            return False
        self._own = None
        return True

    # -- signing ---------------------------------------------------------------------------

    def _reading(self, held: Offer) -> Ask:
        def echo(text: str) -> str:
            o2, he = _reading_words(text)
            helium = f"He {parse_percent(he, 'helium'):g} %" if he else "helium not measured"
            return f"your reading: O2 {parse_percent(o2, 'reading'):g} %, {helium}"

        async def enter(text: str) -> bool:
            o2, he = _reading_words(text)
            rules = self._counter.rules
            found = await self._counter.look(offer, held.fill, rules, reading=o2, helium=he)
            if found is None:
                return False
            ready = self._counter.perform(handover.ask_leave, held.fill, reading=o2, helium=he)
            if await ready is None:
                return False
            self.offer, self._own = found, (o2, he)
            self._counter.say("note", "This is what you sign for, and what the label will state.")
            self._counter.show()
            return True

        helium = ", then helium if you measure it" if held.has_helium else ""
        return Ask(
            f"own-{held.fill}", f"{held.customer}: what do you read? O2 in percent{helium}",
            guarded(self._counter, enter), echo,
            "The diver's own analysis of this cylinder. If it differs from the station's by more "
            "than half a point, nothing is signed and the gas is analysed again.",
        )  # fmt: skip

    def _name(self, held: Offer) -> Ask:
        def echo(text: str) -> str:
            how = "drawn signature" if self.strokes else "signed by typing"
            if not text.strip():
                return ""
            is_other = handover.is_representative(text, held.customer)
            whose = f" for {held.customer}, as representative" if is_other else ""
            return f"accepted by {text.strip()}{whose}, {how}"

        async def enter(text: str) -> bool:
            if self._is_another(held, text):
                return False
            reading, helium = self._own or ("", None)
            answer = await self._counter.perform(
                handover.accept, held.fill, name=text, reading=reading, helium=helium,
                strokes=self.strokes, at_hand=True,
            )  # fmt: skip
            return answer is not None and await self._signed(held, answer, text)

        return Ask(
            f"name-{held.fill}", "Your name, to sign for exactly this (alt+w: draw it)",
            guarded(self._counter, enter), echo,
            "Enter signs: the record keeps your reading, your name and what the label states. "
            "Esc goes back to your reading. alt+w draws the signature with mouse or finger.",
        )  # fmt: skip

    def _is_another(self, held: Offer, text: str) -> bool:
        """Ask once where the name is not the customer's; the same name again signs for them."""
        name = text.strip()
        is_other = bool(name) and handover.is_representative(name, held.customer)
        if not is_other or name == self._represents:
            return False
        self._represents = name
        self._counter.say(
            "mind",
            f"Not signed yet. {name} is not the customer's name: does {name} sign for "
            f"{held.customer}? Enter again records {name} as representative; or type the "
            "customer's own name.",
        )
        return True

    async def _signed(self, held: Offer, answer: Answer, text: str) -> bool:
        if answer.state == "recheck":
            await self._retake(held.fill)
            self._counter.say(
                "refused",
                f"{answer.spoken}. Nothing was signed; the gas is analysed again at the Panel, "
                "with another or a freshly set analyser.",
            )
        elif not answer.done:
            self._counter.say("refused", answer.spoken)
            return False
        else:
            await self._retake(held.fill)
            self._counter.count_unsafe()
            told = f"Signed by {text.strip()}: O2 {percent(held.o2_percent)} %."
            if handover.is_representative(text, held.customer):
                told += f" Recorded as representative of {held.customer}."
            if answer.facts["decision"] == "relabel":
                told += " The label states what was analysed, not what was wanted."
            await self.print_label(held.fill, told)
        self._counter.show()
        return True

    async def _retake(self, number: int) -> None:
        """Read the fill again where it stands now."""
        found = await self._counter.look(offer, number, self._counter.rules)
        self.forget()
        self.offer = found

    async def print_label(self, number: int, told: str) -> None:
        """Print the label; a printer that fails takes nothing back."""
        counter = self._counter
        try:
            path = await counter.terminal.floor.look(print_label, counter.terminal.house, number)
        except (FillwrightError, OSError) as error:
            counter.say(
                "mind", f"{told} It is stored, but the label was NOT printed: {error}. "
                "alt+g prints it again.",
            )  # fmt: skip
            return
        counter.say("done", f"{told} Label: {path}")

    def _elsewhere(self, held: Offer) -> Ask:
        async def enter(text: str) -> bool:
            if text.strip():
                waits = f"Enter goes to the Panel with fill {held.fill}, or scan another cylinder"
                return await self._counter.scan_anew(text.strip(), waits)
            self._counter.leave_for_panel(held.fill)
            return True

        return Ask(
            f"elsewhere-{held.fill}", f"Fill {held.fill}: {held.state}. Enter goes to the Panel",
            guarded(self._counter, enter), None, "Or scan another cylinder.",
        )  # fmt: skip

    # -- collecting ------------------------------------------------------------------------

    def _collect(self, held: Offer) -> Ask:
        posts = held.serial.split("+")
        missing = [post for post in posts if post not in self._serials]
        is_scanned = bool(self._serials) and len(self._serials) >= len(posts)

        async def enter(text: str) -> bool:
            scanned = text.strip()
            if scanned.startswith(WORD) or (is_scanned and printed_head(scanned)):
                self._label = scanned
            elif not is_scanned and scanned in (held.serial, *posts):
                self._serials += [post for post in scanned.split("+") if post in missing]
            elif not is_scanned and scanned and self._label:
                return await self._collected(held, scanned)  # another's label: said in words
            elif not is_scanned and scanned and not self._serials:
                waits = f"To hand over fill {held.fill} scan {held.serial}, then its label"
                return await self._counter.scan_anew(scanned, waits)  # the next one, if it is one
            elif is_scanned:
                raise InputError(
                    "label",
                    scanned or "nothing",
                    f"scan its QR code ({WORD} ...), or type the head printed on it",
                )
            else:
                known = ", ".join(missing)
                which = "the other post" if len(missing) < len(posts) else "the cylinder"
                raise InputError("serial", scanned or "nothing", f"scan {which}: {known}")
            return await self._hand_over(held)

        what = "its label, or type its head" if is_scanned else " and ".join(missing)
        if not is_scanned and not self._serials:
            what = f"the cylinder{' (both posts)' if len(posts) > 1 else ''}, then its label"
        return Ask(
            f"collect-{held.fill}-{len(self._serials)}", f"To hand it over, scan {what}",
            guarded(self._counter, enter), None,
            "Serial and label are compared: a cylinder leaves with its own label alone. Another "
            "cylinder's serial goes on with that one.",
        )  # fmt: skip

    async def _hand_over(self, held: Offer) -> bool:
        """Hand it over once cylinder and label were both scanned."""
        posts = held.serial.split("+")
        if not self._label or len(self._serials) < len(posts):
            self._counter.show()
            return True
        return await self._collected(held, "+".join(sorted(self._serials, key=posts.index)))

    async def _collected(self, held: Offer, serial: str) -> bool:
        counter = self._counter
        answer = await counter.perform(
            handover.collect, held.fill, serial=serial, label=self._label, at_hand=True
        )
        self._label, self._serials = "", []
        if answer is None or not answer.done:
            if answer is not None:
                counter.say("refused", f"{answer.spoken} Scan cylinder and label again.")
            counter.show()
            return True
        counter.start_over()
        counter.say("done", answer.text)
        return True


def _reading_words(text: str) -> tuple[str, str | None]:
    """Return oxygen and helium as typed."""
    words = text.split()
    if not 1 <= len(words) <= 2:
        raise InputError("reading", text.strip() or "nothing", "type 31.8, or 21.2 34.8")
    return words[0], words[1] if len(words) == 2 else None
