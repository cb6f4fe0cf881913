"""The Office: what went another way than usual, what falls due, the people, the rules."""

from __future__ import annotations

from functools import partial
from typing import Any, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import people, register, rule_sets, ruling
from blender.station.rules import Rules
from tui.dialogs.form import answered
from tui.keys import bindings
from tui.places import office_forms as forms
from tui.places.counter_forms import DIVER, diver_form
from tui.places.office_audit import Auditing
from tui.places.office_charts import Charts
from tui.places.office_import import Importing
from tui.places.office_lines import ENTER, NONE, PAGES, Lines, matching, page_lines
from tui.places.office_people import OfPeople
from tui.places.office_sites import OfSites
from tui.plain import plain
from tui.shown import Units
from tui.widgets.fitted import Fitted
from tui.widgets.roll import Roll, RollRow

LONGEST = 40  # characters sought
AsOf = tuple[str, int, Units]
_NEVER: AsOf = ("", -1, Units())


class Office(OfPeople, Importing, Charts, Auditing, OfSites):
    """Where the shop is looked after."""

    NAME = "office"
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("office"),
        Binding("left", "next_page(-1)", show=False),
        Binding("right", "next_page(1)", show=False),
        Binding("up", "mark(-1)", show=False),
        Binding("down", "mark(1)", show=False),
        Binding("pageup", "mark(-15)", show=False),
        Binding("pagedown", "mark(15)", show=False),
        Binding("home", "mark(-1000000)", show=False),
        Binding("end", "mark(1000000)", show=False),
        Binding("enter", "open", show=False),
    ]
    DEFAULT_CSS = """
    Office #pages { height: 1; padding: 0 1; }
    Office #sought { height: 1; padding: 0 1; color: $secondary; }
    Office #whole { height: 3; padding: 0 1; background: $panel; }
    """
    HELP_TEXT = (
        "Left and right turn the pages; up and down choose a line, which stands in full below. "
        "Typing looks for lines with these words; Esc shows all again. Enter on an exception "
        "opens the story of its fill, on a person asks what is to be done about them, on a rule "
        "changes it (manager, with a reason), on a rule set puts it into force. alt+g shows what "
        "many fills say together, alt+e goes through a span of days for an inspector, alt+w shows "
        "all stations of the shop. The rules are the station's; local codes and the cylinder's own "
        "markings come first."
    )

    def __init__(self) -> None:
        super().__init__()
        self.page = 0
        self.sought = ""
        self.lines: Lines = []
        self._as_of = _NEVER  # the page, the entry and the units the lines are as of

    def middle(self) -> ComposeResult:
        """The pages, what is sought, the list, the marked line in full."""
        yield Static("", id="pages", markup=False)
        yield Static("", id="sought", markup=False)
        yield Roll()
        yield Fitted("whole")

    # -- what is shown ---------------------------------------------------------------------

    def on_screen_resume(self) -> None:
        """Show what is so now: what is due changes with the day."""
        self._as_of = _NEVER
        super().on_screen_resume()

    def renew(self) -> None:
        """Show what is so now."""
        self._renew()

    @work(exclusive=True, group="renew")
    async def _renew(self) -> None:
        page, now = PAGES[self.page], self.terminal.house.clock()
        rules = self.terminal.floor.station.rules
        found = await self.look(_newer, page, now, rules, self.terminal.units, self._as_of)
        if found is not None and page == PAGES[self.page] and self.is_mounted:
            self.lines, self._as_of = found
            self._show()

    def _show(self) -> None:
        found, page = matching(self.lines, self.sought), PAGES[self.page]
        nothing = f"No line has {self.sought!r}." if self.lines else NONE[page]
        self.query_one(Roll).show([row for row, _ in found] or [RollRow("", nothing)])
        self.query_one("#pages", Static).update(_tabs(self.page))
        self._show_sought(len(found))
        self._show_whole()

    def _show_sought(self, count: int) -> None:
        told = f"{count} {'line' if count == 1 else 'lines'}"
        if self.sought:
            told = f"with {self.sought!r}: {told}; Esc shows all"
        else:
            hints = [ENTER[PAGES[self.page]], "type to look for some"] if count else []
            told = "; ".join(filter(None, [told, *hints]))
        self.query_one("#sought", Static).update(plain(told))

    def on_roll_moved(self) -> None:
        """Show the marked line in full."""
        self._show_whole()

    def _show_whole(self) -> None:
        said = [plain(line) for line in self._whole().split("\n")]
        self.query_one("#whole", Fitted).update(Content("\n").join(said))

    def _whole(self) -> str:
        row = self.query_one(Roll).current
        return next((whole for one, whole in self.lines if one is row), "")

    # -- keys ------------------------------------------------------------------------------

    def on_key(self, event: Key) -> None:
        """Look for what is typed."""
        if event.key == "escape":
            self._seek("")
        elif event.key == "backspace":
            self._seek(self.sought[:-1])
        elif event.character and event.is_printable and len(self.sought) < LONGEST:
            self._seek(self.sought + event.character)
        else:
            return
        event.stop()

    def _seek(self, sought: str) -> None:
        self.sought = sought
        self._show()

    def action_next_page(self, by: int = 1) -> None:
        """Turn to another page."""
        self.page, self.sought, self.lines = (self.page + by) % len(PAGES), "", []
        self.query_one(Roll).show([])
        self.renew()

    def action_mark(self, by: int) -> None:
        """Mark another line."""
        self.query_one(Roll).move(by)

    def action_open(self) -> None:
        """Open what the marked line is about: a fill's story, a rule, somebody's new secret."""
        row = self.query_one(Roll).current
        kind, _, name = (row.key if row else "").partition("/")
        if kind == "rule":
            self._open_rule(name)
        elif kind == "person":
            self.open_person(name)
        elif kind == "accounts":
            self.action_review()
        elif kind == "set":
            self._use_set(name.partition("/")[0])
        elif kind == "fill" and (number := int(name.partition("/")[0])):
            from tui.places.story import Story

            self.app.push_screen(Story([number], 0, lambda _: None))
        elif row is None:
            self.say("note", "No line is marked; Esc shows all.")
        else:
            self.say("note", "This line is about no fill.")

    def action_rule(self) -> None:
        """Change the marked rule; from elsewhere turn to the rules."""
        self._open_of("Rules", "Choose a rule with up and down, then Enter.")

    def action_reset(self) -> None:
        """Give the marked member of staff a new secret; from elsewhere turn to the people."""
        self._open_of("People", "Choose a member of staff with up and down, then Enter.")

    def _open_of(self, page: str, how: str) -> None:
        row = self.query_one(Roll).current
        kind, _, name = (row.key if row else "").partition("/")
        if PAGES[self.page] == page and (page, kind) == ("People", "person"):
            self._open_reset(name)
        elif PAGES[self.page] == page:
            self.action_open()
        else:
            self.action_next_page(PAGES.index(page) - self.page)
            self.say("note", how)

    # -- rules and secrets -----------------------------------------------------------------

    @work
    async def _open_rule(self, name: str) -> None:
        found = await self.look(ruling.listing)
        rule = next((one for one in (found or {"rules": []})["rules"] if one["rule"] == name), None)
        if rule is not None:
            form = forms.rule_form(rule, self.terminal.units, self.terminal.drafts)
            self.app.push_screen(form, answered(partial(self._set_rule, name)))

    @work
    async def _set_rule(self, name: str, given: dict[str, str]) -> None:
        value, reason = given["value"], given["reason"]
        made = await self.perform(ruling.set_rule, name, value, reason=reason)
        if made is not None:
            self.terminal.drafts.pop(forms.rule_title(name), None)
            self.say("done", f"{name}: {made['old_text']} -> {made['text']}.")
            self.renew()

    @work(group="dialog")
    async def _open_reset(self, person: str) -> None:
        found = await self.look(register.people)
        who = next((p for p in (found or {"people": []})["people"] if p["person"] == person), None)
        if who is not None:
            await self.reset_of(who)

    @work(group="dialog")
    async def _use_set(self, name: str) -> None:
        """Put a rule set into force, once a manager signs for it."""
        form = forms.set_form(name, self.terminal.floor.actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        made = await self.perform_signed(
            given, rule_sets.use_rule_set, name, reason=given["reason"]
        )  # fmt: skip
        if made is not None:
            self.terminal.drafts.pop(forms.set_title(name), None)
            count = len(made["changes"])
            told = f"{made['title']} is in force: {count} rule{'s' * (count != 1)} changed."
            self.say("done", f"{told} {made['first']}")
            self.renew()

    def action_add_person(self) -> None:
        """Add a member of staff with a secret of their own."""
        form = forms.staff_form(self.terminal.drafts)
        self.app.push_screen(form, answered(self._add_staff))

    @work
    async def _add_staff(self, given: dict[str, str]) -> None:
        await self._add(forms.STAFF, **forms.staff_facts(given))

    def action_add_customer(self) -> None:
        """Add a customer."""
        form = diver_form("", self.terminal.drafts)
        self.app.push_screen(form, answered(self._add_customer))

    @work
    async def _add_customer(self, given: dict[str, str]) -> None:
        level = given["certified"].strip().lower()
        await self._add(DIVER, name=given["name"], role="customer", certified=level)

    async def _add(self, title: str, **facts: Any) -> None:
        """Add somebody, and turn to them."""
        if not await self.is_new(facts["name"]):
            return
        made = await self.perform(people.add_person, **facts)
        if made is not None:
            self.terminal.drafts.pop(title, None)
            self.say("done", f"Added: {made['name']}, {made['role']}.")
            self.page, self.sought = PAGES.index("People"), ""
            self.renew()

    def action_change_secret(self) -> None:
        """Change the own secret."""
        form = forms.secret_form(self.terminal.drafts)
        self.app.push_screen(form, answered(self._change_secret))

    @work
    async def _change_secret(self, given: dict[str, str]) -> None:
        old, new = given["old"], forms.agreed(given)
        if await self.perform(people.change_secret, old, new) is not None:
            self.say("done", "Your secret is changed; the old one opens nothing any more.")
        else:
            self.action_change_secret()  # it is typed again there, never into the search

    def value_to_copy(self) -> str:
        """Return the marked line in full."""
        return self._whole()


def _tabs(page: int) -> Content:
    parts: list[Any] = []
    for at, name in enumerate(PAGES):
        parts += [(f" {name} ", "bold reverse" if at == page else ""), " "]
    return Content.assemble(*parts, ("  left and right turn the page", "$secondary"))


def _newer(
    record: Record, page: str, now: Moment, rules: Rules, units: Units, as_of: AsOf
) -> tuple[Lines, AsOf] | None:
    """Return a page's lines and what they are as of; None if nothing was entered since."""
    here = (page, record.head().seq, units)
    return None if here == as_of else (page_lines(record, page, now, rules, units), here)
