"""Every command of the terminal, once: footer, palette, help and keymap are made of this list."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from textual.binding import Binding, BindingType

PLACES = ("counter", "panel", "store", "book", "office")


@dataclass(frozen=True, slots=True)
class Command:
    """One thing a person can do by a key.

    Parameters
    ----------
    ident : str
        Its name in the keymap file; before the point the place, ``all`` for everywhere.
    key : str
        The usual key, or several with commas.
    label : str
        One or two words for the footer.
    text : str
        A sentence for palette and help.
    action : str
        What the screen runs.
    footer : bool
        Whether the footer shows it.
    shown : str
        How the footer names its key, where that is another than the key's own name.
    """

    ident: str
    key: str
    label: str
    text: str
    action: str
    footer: bool = True
    shown: str | None = None

    @property
    def place(self) -> str:
        """Where it works: a place, or ``all``."""
        return self.ident.partition(".")[0]

    def binding(self) -> Binding:
        """Return it as the toolkit binds it."""
        return Binding(
            self.key, self.action, self.label, show=self.footer, key_display=self.shown,
            id=self.ident, tooltip=self.text, priority=self.ident == "all.go",
        )  # fmt: skip


def _everywhere() -> Iterator[Command]:
    yield Command("all.help", "f1", "Help", "Explain the field and list the keys", "app.explain")
    for place in PLACES:
        key, name = f"alt+{place[0]}", place.capitalize()
        yield Command(
            f"all.{place}", key, name, f"Go to the {name}", f"app.place('{place}')", footer=False
        )
    yield Command("all.go", "ctrl+g", "Go", "Go to another place by its letter", "app.go", False)
    yield Command(
        "all.units",
        "alt+u",
        "Units",
        "Switch between bar, °C, m and psi, °F, ft",
        "app.units",
        False,
    )
    yield Command(
        "all.theme",
        "alt+t",
        "Theme",
        "Switch night, day and terminal colours",
        "app.next_theme",
        False,
    )
    yield Command(
        "all.copy",
        "alt+y",
        "Copy",
        "Copy the value this place is about",
        "screen.copy_value",
        False,
    )
    yield Command(
        "all.lock",
        "alt+l",
        "Sign out",
        "Sign out; open fills stay where they stand",
        "app.lock",
        False,
    )
    yield Command(
        "all.quit", "ctrl+q", "Leave", "Leave the terminal; nothing is lost", "app.leave", False
    )


def _panel() -> Iterator[Command]:
    for number in range(1, 9):
        yield Command(
            f"panel.fill{number}",
            f"f{number + 1}",
            f"Fill {number}",
            f"Turn to the open fill number {number}",
            f"turn_to({number})",
            False,
        )
    yield Command(
        "panel.next",
        "down",
        "Fill",
        "Turn to the next open fill; its number in the field does it too: #9 and Enter",
        "step(1)",
        shown="↑↓",
    )
    yield Command(
        "panel.previous", "up", "Fill before", "Turn to the open fill before", "step(-1)", False
    )
    yield Command(
        "panel.other",
        "alt+n",
        "Other",
        "Enter something else: a reading, an analysis, a plan",
        "other_entry",
    )
    yield Command(
        "panel.mend",
        "alt+m",
        "Mend",
        "Correct the last reading, analysis or residual",
        "mend",
    )
    yield Command(
        "panel.ways", "alt+v", "Ways", "Choose a recipe, or a way on from a wrong gas", "ways"
    )
    yield Command("panel.hold", "alt+h", "Hold", "Stop this fill part-way, with a reason", "hold")
    yield Command(
        "panel.gates",
        "alt+e",
        "Findings",
        "Show in full what every check of this fill found: pass, ask the manager, or stop",
        "findings",
        False,
    )
    yield Command(
        "panel.look",
        "alt+i",
        "Look",
        "Enter what is seen of the cylinder: outside, valve, marking, inside",
        "look_at_it",
        False,
    )
    yield Command(
        "panel.allow",
        "alt+x",
        "Allow",
        "Let a manager allow, for this fill, what a check asks them about",
        "allow",
        False,
    )
    yield Command("panel.tag", "alt+g", "Tag", "Print the work tag of this fill", "tag")
    yield Command(
        "panel.kind",
        "alt+k",
        "Whose °",
        "Switch what the temperature is of: gas, wall, room",
        "next_kind",
        False,
    )
    yield Command(
        "panel.batch",
        "alt+a",
        "Batch",
        "Show the batch this fill belongs to",
        "batch",
        footer=False,
    )
    yield Command(
        "panel.together",
        "alt+w",
        "Together",
        "Start several planned fills that hang on one manifold",
        "together",
        False,
    )
    yield Command(
        "panel.reject",
        "alt+j",
        "Reject",
        "Give this fill up; the cylinder is drained",
        "reject",
        False,
    )
    yield Command(
        "panel.quarantine",
        "alt+z",
        "Quarantine",
        "Set this cylinder apart until a manager releases it",
        "quarantine",
        False,
    )
    yield Command(
        "panel.release",
        "alt+r",
        "Release",
        "Release a quarantined cylinder (manager)",
        "release",
        False,
    )


def _counter() -> Iterator[Command]:
    yield Command(
        "counter.cylinder",
        "alt+n",
        "New cylinder",
        "Register a cylinder with its stamps",
        "new_cylinder",
    )
    yield Command("counter.diver", "alt+d", "New diver", "Add a customer", "new_diver")
    yield Command(
        "counter.batch", "alt+a", "Batch", "Check in several cylinders for one mix", "batch"
    )
    yield Command(
        "counter.again",
        "alt+r",
        "Start over",
        "Let go of this cylinder and find another",
        "start_over",
    )
    yield Command(
        "counter.stamps",
        "alt+k",
        "Stamps",
        "Enter a new test, inspection or cleaning of this cylinder",
        "stamps",
        False,
    )
    yield Command(
        "counter.gates",
        "alt+e",
        "Findings",
        "Show in full what every check of this fill found: pass, ask the manager, or stop",
        "findings",
        False,
    )
    yield Command(
        "counter.look",
        "alt+i",
        "Look",
        "Enter what is seen of the cylinder: outside, valve, marking, inside",
        "look_at_it",
        False,
    )
    yield Command(
        "counter.allow",
        "alt+x",
        "Allow",
        "Let a manager allow, for this fill, what a check asks them about",
        "allow",
        False,
    )
    yield Command(
        "counter.draw", "alt+w", "Draw", "Sign by drawing with mouse or finger", "draw", False
    )
    yield Command(
        "counter.tablet",
        "alt+q",
        "Tablet",
        "Hand a fill or a customer to the tablet, see what it has, take it back",
        "tablet",
        False,
    )
    yield Command(
        "counter.label", "alt+g", "Label", "Print the label of this fill again", "label", False
    )


def _store() -> Iterator[Command]:
    yield Command(
        "store.read", "alt+r", "Read gauge", "Enter what a bank's gauge shows", "read_gauge"
    )
    yield Command(
        "store.calibrate", "alt+k", "Calibrate", "Enter that an analyser was set", "calibrate"
    )
    yield Command("store.add", "alt+n", "Add", "Add a supply or an analyser", "add")
    yield Command(
        "store.change",
        "alt+x",
        "Change",
        "Enter a swapped bottle, or what a compressor is made for",
        "change",
        False,
    )
    yield Command(
        "store.compressor", "alt+m", "Compressor", "Add a compressor", "compressor", False
    )
    yield Command(
        "store.price",
        "alt+w",
        "Price",
        "Set what gas of the marked supply costs (manager)",
        "price",
        False,
    )
    yield Command(
        "store.air",
        "alt+a",
        "Air test",
        "Enter a laboratory's report of the compressor's air",
        "air_test",
        False,
    )
    yield Command(
        "store.retire",
        "alt+j",
        "Retire",
        "Take a supply, an analyser or a compressor out of use",
        "retire",
        False,
    )
    yield Command(
        "store.gas",
        "alt+g",
        "Gas",
        "Gas in hand, when it runs out; take in or connect a delivery",
        "gas",
        False,
    )
    yield Command(
        "store.gear",
        "alt+e",
        "Equipment",
        "Gauges, whips, filters, cells: what was done, what to enter",
        "gear",
        False,
    )
    yield Command(
        "store.due", "alt+v", "Due", "List everything that falls due, soonest first", "due", False
    )
    yield Command(
        "store.care",
        "alt+i",
        "Care",
        "Care of the marked analyser: checks, cells, its certificate",
        "care",
        False,
    )
    yield Command(
        "store.suit",
        "alt+q",
        "Suit bottle",
        "Print the NOT BREATHABLE tag of a suit bottle of argon",
        "suit_bottle",
        False,
    )
    yield Command("store.open", "alt+d", "Open/close day", "Start or end the day, signed", "day")


def _book() -> Iterator[Command]:
    yield Command("book.jump", "alt+j", "Jump", "Jump to a date or a fill's number", "jump")
    yield Command(
        "book.export", "alt+x", "Export", "Export exactly what is shown, as CSV or PDF", "export"
    )
    yield Command("book.verify", "alt+v", "Verify", "Verify the whole record", "verify")
    yield Command(
        "book.label", "alt+g", "Label", "Print the label of this fill again", "label", False
    )
    yield Command(
        "book.papers",
        "alt+e",
        "Papers",
        "Print certificate, diver's card, receipt, labels on a sheet",
        "papers",
        False,
    )
    yield Command(
        "book.history",
        "alt+i",
        "History",
        "Show the history of this fill's cylinder, and print it",
        "history",
        False,
    )
    yield Command(
        "book.log",
        "alt+q",
        "Fill log",
        "Print the fill log of a cylinder, customer, blender or of days",
        "log",
        False,
    )
    yield Command(
        "book.amend",
        "alt+m",
        "Amend",
        "Amend what was entered wrongly with this fill (a manager signs)",
        "amend",
        False,
    )
    yield Command(
        "book.void",
        "alt+z",
        "Void",
        "Void a fill that was entered by mistake (a manager signs)",
        "void",
        False,
    )
    yield Command(
        "book.recall",
        "alt+r",
        "Recall",
        "List the cylinders a bad gas, lot or analyser concerns, and whom to call",
        "recall",
    )
    yield Command(
        "book.away",
        "alt+w",
        "Take away",
        "Write the journal with its verifier, or everything as tables, into a folder",
        "take_away",
        False,
    )
    yield Command("book.next", "alt+n", "Next", "Go to the next fill of the list", "step(1)", False)
    yield Command(
        "book.previous", "alt+k", "Previous", "Go to the fill before it", "step(-1)", False
    )


def _office() -> Iterator[Command]:
    yield Command(
        "office.next", "alt+n", "Next page", "Exceptions, due, people, rules, sets", "next_page"
    )
    yield Command("office.person", "alt+d", "Add staff", "Add a member of staff", "add_person")
    yield Command("office.customer", "alt+a", "Add customer", "Add a customer", "add_customer")
    yield Command("office.secret", "alt+k", "My secret", "Change your own secret", "change_secret")
    yield Command(
        "office.import",
        "alt+i",
        "Import",
        "Take over cylinders, customers or fills from a table: first a rehearsal",
        "import",
        False,
    )
    yield Command(
        "office.review",
        "alt+v",
        "Review",
        "Enter that the list of accounts was gone through (a manager signs)",
        "review",
        False,
    )
    yield Command(
        "office.charts",
        "alt+g",
        "Charts",
        "Charts of drift: what many fills say of gauges and the rest; correct a gauge",
        "charts",
        False,
    )
    yield Command(
        "office.audit",
        "alt+e",
        "Audit",
        "Go through a span of days as an inspector does; print it",
        "audit",
        False,
    )
    yield Command(
        "office.sites",
        "alt+w",
        "Stations",
        "All stations of the shop: how each stands, what goes between them",
        "sites",
        False,
    )
    yield Command("office.rule", "alt+x", "Rule", "Change a rule (manager)", "rule", False)
    yield Command(
        "office.reset",
        "alt+r",
        "Reset secret",
        "Give a member of staff a new secret (manager)",
        "reset",
        False,
    )


COMMANDS: tuple[Command, ...] = (
    *_everywhere(),
    *_counter(),
    *_panel(),
    *_store(),
    *_book(),
    *_office(),
)


def bindings(place: str) -> list[BindingType]:
    """Return what a place binds."""
    return [command.binding() for command in COMMANDS if command.place == place]


def at(place: str) -> list[Command]:
    """Return the commands that work in a place, its own first."""
    own = [command for command in COMMANDS if command.place == place]
    return own + [command for command in COMMANDS if command.place == "all"]


def clashes(keymap: Mapping[str, str]) -> list[str]:
    """Name every key that two commands of one place would answer to."""
    said = []
    for place in PLACES:
        taken: dict[str, str] = {}
        for command in at(place):
            here = keymap.get(command.ident, command.key).split(",")
            owners = {key: taken.setdefault(key, command.ident) for key in here}
            said += [
                f"{key} is both {owner} and {command.ident}"
                for key, owner in owners.items()
                if owner != command.ident
            ]
    return sorted(set(said))
