"""What the Office does about one person: role, qualifications, leaving, their data, forgetting."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from textual import work

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import people, person_page, privacy, register, staff
from tui.dialogs.choice import Choice
from tui.dialogs.confirm import Confirm
from tui.dialogs.page import Page
from tui.places import office_forms as forms
from tui.places import person_forms
from tui.places.place import Place

Row = dict[str, Any]


class OfPeople(Place):
    """A place at which something can be done about a person."""

    @work(group="dialog")
    async def open_person(self, person: str) -> None:
        """Ask what is to be done about somebody, and do it."""
        who, has_undertaken = await self.look(_person, person, self.terminal.house.clock()) or (
            None, True,
        )  # fmt: skip
        if who is None:
            return
        offers = self._offers(who, has_undertaken=has_undertaken)
        name = who["name"] or "(erased)"
        title = f"{name}, {who['role']}"
        chosen = await self.over(Choice(title, [words for words, _ in offers]))
        if chosen is not None:
            await offers[chosen][1](who)

    def _offers(
        self, who: Row, *, has_undertaken: bool
    ) -> Sequence[tuple[str, Callable[[Row], Any]]]:
        """Return what can be done about somebody, and what does it."""
        page = ("What the record holds on them, for them to read", self._page)
        if who["role"] == "customer":
            if not who["name"]:
                return [page]
            return [page, ("Their telephone number", self._phone), ("Erase them", self._erase)]
        actor = self.terminal.floor.actor
        is_own = actor is not None and actor.person == who["person"]
        own = [("Sign what signing means here", self._undertake)] * (not has_undertaken)
        return [
            *(own if is_own else []),
            ("My own secret" if is_own else "A new secret", self._secret),
            ("What they are qualified for", self._qualify),
            ("Another role", self._role),
            ("Take them off the roll", self._retire),
            page,
        ]

    async def _secret(self, who: Row) -> None:
        await self.reset_of(who)

    async def reset_of(self, who: Row) -> None:
        """Give somebody a new secret, or change one's own."""
        actor = self.terminal.floor.actor
        if who["role"] == "customer":
            self.say("note", f"{who['name'] or 'This person'} is a customer and has no secret.")
        elif actor is not None and actor.person == who["person"]:
            self.action_change_secret()
        else:
            name = str(who["name"])
            form = forms.reset_form(name, self.terminal.drafts)
            given = await self.over(form)
            if given is None:
                return
            facts = {"reason": given["reason"], "secret": forms.agreed(given)}
            if await self.perform(people.reset_secret, who["person"], **facts) is not None:
                self.terminal.drafts.pop(forms.reset_title(name), None)
                self.say("done", f"{name} has a secret for once, and chooses their own at sign-in.")

    def action_change_secret(self) -> None:
        """Change the own secret."""

    # -- staff -----------------------------------------------------------------------------

    async def _role(self, who: Row) -> None:
        name, actor = str(who["name"]), self.terminal.floor.actor
        form = person_forms.role_form(name, who["role"], actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        facts = {"role": given["role"].strip().lower(), "reason": given["reason"]}
        made = await self.perform_signed(given, staff.change_role, who["person"], **facts)
        if made is not None:
            self._done(person_forms.role_title(name), f"{name}: {made['old']} -> {made['role']}.")

    async def _qualify(self, who: Row) -> None:
        name, actor = str(who["name"]), self.terminal.floor.actor
        now = who["qualified"]
        form = person_forms.qualified_form(name, now, actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        made = await self.perform_signed(
            given, staff.qualify, who["person"], forms.methods(given["qualified"]),
            reason=given["reason"],
        )  # fmt: skip
        if made is not None:
            told = ", ".join(made["qualified"]) or "no method"
            self._done(person_forms.qualified_title(name), f"{name}: qualified for {told}.")

    async def _retire(self, who: Row) -> None:
        name, actor = str(who["name"]), self.terminal.floor.actor
        form = person_forms.retire_form(name, actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        made = await self.perform_signed(
            given, staff.retire, who["person"], reason=given["reason"]
        )  # fmt: skip
        if made is not None:
            told = f"{name} signs nothing here any more; what they signed stays."
            self._done(person_forms.retire_title(name), told)

    async def _undertake(self, _: Row) -> None:
        page = Page("What signing means here", [staff.UNDERTAKING], {"s": "sign it"})
        if await self.over(page) == "s":
            made = await self.perform(staff.undertake)
            if made is not None:
                self._done("", f"Signed by {made['name']} (entry {made['seq']}).")

    @work(group="dialog")
    async def action_review(self) -> None:
        """Enter that the list of accounts was gone through."""
        actor = self.terminal.floor.actor
        found = await self.look(staff.standing, self.terminal.house.clock())
        if found is None:
            return
        form = person_forms.review_form(found, actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        made = await self.perform_signed(given, staff.review, note=given["note"])
        if made is not None:
            self._done(person_forms.REVIEW, f"{made['accounts']} accounts reviewed.")

    # -- customers -------------------------------------------------------------------------

    async def _phone(self, who: Row) -> None:
        form = person_forms.phone_form(str(who["name"]), self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        made = await self.perform(privacy.set_phone, who["person"], given["phone"])
        if made is not None:
            title = person_forms.phone_title(str(who["name"]))
            self._done(title, f"{made['name']}: {made['phone']}.")

    async def _page(self, who: Row) -> None:
        await self._show_page(who["person"], {"p": "print it for them"})

    async def _show_page(self, person: str, offers: dict[str, str]) -> str | None:
        """Show what is held on somebody; print it if that is asked, and return the key."""
        from reports.person_page import lines, person_page_pdf

        view = await self.look(person_page.person_view, person, self.terminal.house.clock())
        if view is None:
            return None
        told = [f"{caption:14} {text}" for caption, text, _ in lines(view)]
        title = f"{view.name or person}: what the record holds"
        pressed = await self.over(Page(title, told, offers))
        if pressed == "p":
            name = f"person-{person}-{self.terminal.house.clock().iso[:10]}.pdf"
            path = await self.put(name, partial(person_page_pdf, view))
            if path:
                self.say("done", f"Page: {path}")
        return pressed

    async def _erase(self, who: Row) -> None:
        """Show the page first, then ask why, then ask once more; the page after it is theirs."""
        person, name, actor = who["person"], str(who["name"]), self.terminal.floor.actor
        offers = {"p": "print it for them first", "e": "go on and erase them"}
        pressed: str | None = "p"
        while pressed == "p":
            pressed = await self._show_page(person, offers)
        if pressed != "e":
            return
        form = person_forms.erase_form(name, actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None or not await self.over(Confirm(_erase_question(name))):
            return
        facts = {"reason": given["reason"], "copies_until": given["until"].strip()}
        made = await self.perform_signed(given, privacy.erase, person, **facts)
        if made is not None:
            self._done(person_forms.erase_title(name), _erased_words(made))
            await self._show_page(person, {"p": "print it for them"})

    def _done(self, title: str, told: str) -> None:
        """Say what was entered, let the draft go and show where things stand."""
        self.terminal.drafts.pop(title, None)
        self.say("done", told)
        self.renew()


def _erase_question(name: str) -> str:
    return (
        f"Erase {name}? Name, telephone number, signatures and the key that bound them to the "
        "record go for ever; their fills stay, unnamed. This cannot be undone."
    )


def _erased_words(made: Row) -> str:
    """Say what is gone, and what still holds the name."""
    told = [f"Erased: {made['rows']} private rows (entry {made['seq']})."]
    if made["named_in"]:
        listed = ", ".join(map(str, made["named_in"][:10]))
        told.append(f"Their name stays in text typed into entries {listed}.")
    until = made["copies_until"] or "you destroy them"
    told.append(f"Backups and exports of before hold it until {until}; papers kept may show it.")
    if not made["cleared"]:
        told.append("Close every other terminal once, to empty the log.")
    return " ".join(told)


def _person(record: Record, person: str, now: Moment) -> tuple[Row, bool] | None:
    """Return somebody, and whether they have signed what signing means."""
    found = next((p for p in register.people(record)["people"] if p["person"] == person), None)
    if found is None:
        return None
    missing = staff.standing(record, now)["not_undertaken"]
    return found, (found["name"] or person) not in missing
