"""The stations of the shop, from the Office: how each stands, and what goes between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual import work

from blender.errors import InputError
from blender.record import news, parcel
from blender.record.text import clean_text
from blender.station import site_board, sites
from blender.station.site_answer import make_answer
from blender.station.site_news import receive
from blender.station.site_taking import sync, take_parcel
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import signature_fields
from tui.dialogs.page import Captioned, Page
from tui.dialogs.pick import Pick, Told
from tui.places.place import Place
from tui.plain import fit
from tui.widgets.roll import RollRow

if TYPE_CHECKING:
    from blender.station.actor import Actor
    from blender.station.desk import Station

Facts = dict[str, Any]
FOLDER = "parcels"  # beside the record
OFFERS = {
    "t": "take in from all places",
    "f": "take in a file",
    "s": "write a parcel",
    "r": "sign a root",
    "n": "add a station",
    "o": "name the office",
}
ADD, OFFICE, FILE = "Add a station of the shop", "Name the shop's office", "Take in a file"


class OfSites(Place):
    """A place at which the stations of the shop are looked after."""

    @work(group="dialog")
    async def action_sites(self) -> None:
        """List all stations; go on from there until it is left."""
        at = ""
        while True:
            now = self.terminal.house.clock()
            found = await self.look(site_board.board, now)
            own = await self.look(sites.identity)
            if found is None or own is None:
                return
            told = _told(found, own)
            pick = Pick("Stations of the shop", told, "all of it", OFFERS, at or own["station"])
            picked = await self.over(pick)
            if picked is None:
                return
            key, at = picked
            if not await self._do(key, at, found, own):
                return

    async def _do(self, key: str, at: str, found: Facts, own: Facts) -> bool:
        """Do what was pressed; False where the place says something that is to be read."""
        if key == "enter":
            return await self._open_site(at, found, own)
        done = {"t": self._take_all, "f": self._take_file, "s": self._send, "r": self._root,
                "n": self._add_site, "o": self._name_office}  # fmt: skip
        return await done[key]()

    async def _open_site(self, at: str, found: Facts, own: Facts) -> bool:
        one = next((one for one in found["sites"] if one["site"] == at), None)
        if one is not None:
            lines = [Captioned(*line) for line in site_board.detail_lines(one)]
            if one["is_here"]:
                lines = [Captioned("Public key", own["key"]), *lines]
            await self.over(Page(f"{one['site']}, {one['name']}", lines))
        return True

    async def _take_all(self) -> bool:
        made = await self.perform(_sync)
        if made is None:
            return False
        told = [f"{one['site']}: {one.get('error') or _new(one)}" for one in made]
        if any("error" in one for one in made) or not made:
            self.say("mind", "; ".join(told) or "No station's place is known; take in its file.")
            return False
        self.say("done", "; ".join(told))
        return True

    async def _take_file(self) -> bool:
        given = await self.over(file_form(self.terminal.drafts))
        if given is None:
            return True
        path, house = given["file"].strip(), self.terminal.house
        content = await self.look(lambda _: house.read_table(path))
        if content is None:
            return False
        made = await self.perform(_take, content)
        if made is None:
            return False
        self.terminal.drafts.pop(FILE, None)
        self.say("done", made)
        return False

    async def _send(self) -> bool:
        house = self.terminal.house

        def written(station: Station, _: Actor) -> str:
            header, rows = sites.pack(station.record, station.keys, station.clock())
            name = f"{header.station}-{header.after + 1}-{header.entries}.parcel"
            lines = parcel.spell(header, rows, station.keys)
            return f"{house.take_away(FOLDER, [(name, lines)])}/{name}"

        return self._written(await self.perform(written), "Parcel for the office")

    async def _root(self) -> bool:
        house = self.terminal.house

        def written(station: Station, _: Actor) -> str:
            content, told = make_answer(station)
            name = f"{station.record.station}-root-{told['number']}.answer"
            return f"{house.take_away(FOLDER, [(name, [content])])}/{name}"

        return self._written(await self.perform(written), "Answer for every station")

    def _written(self, path: str | None, what: str) -> bool:
        """Say where a file is; the list is left, for the path is to be read."""
        if path is not None:
            self.say("done", f"{what}: {path}")
        return False

    async def _add_site(self) -> bool:
        form = station_form(ADD, self.terminal.floor.actor, self.terminal.drafts, place=True)
        return await self._entered(ADD, form, sites.add_site, "site")

    async def _name_office(self) -> bool:
        form = station_form(OFFICE, self.terminal.floor.actor, self.terminal.drafts)
        return await self._entered(OFFICE, form, sites.name_office, "office")

    async def _entered(self, title: str, form: Form, use_case: Any, ident: str) -> bool:
        given = await self.over(form)
        if given is None:
            return True
        facts = {"name": given["name"], "key": given["key"], ident: given["ident"]}
        if "place" in given:
            facts["place"] = given["place"]
        made = await self.perform_signed(given, use_case, **facts)
        if made is None:
            return False
        self.terminal.drafts.pop(title, None)
        self.say("done", f"Entered: {made[ident]}, {made['name']}.")
        return True


def _sync(station: Station, _: Actor) -> list[dict[str, Any]]:
    return sync(station)


def _take(station: Station, _: Actor, content: bytes) -> str:
    """Take in a station's parcel, or the office's answer, whichever it is."""
    if news.is_answer(content):
        made = receive(station, content)
        if not made["new"]:
            return f"Root {made['number']} of {made['office']} is known here, or a later one."
        counts = (
            f"{made['cylinders']} cylinders, {made['fills']} fills, {made['analysed']} analyses"
        )
        return f"Witnessed root {made['number']} of {made['office']}; new: {counts}."
    made = take_parcel(station, content)
    return f"{made['site']}: {_new(made)}"


def _new(made: Facts) -> str:
    mind = f"; mind: {made['note']}" if made.get("note") else ""
    return f"{made['taken']} new entries, {made['entries']} in all, verified{mind}"


_HEADING = f"  {'station':12} {'name':15} {'heard from':11} open today week except due"


def _line(one: Facts) -> str:
    """Return how a station stands, in as many cells as the smallest terminal has."""
    heard = site_board.heard(one)
    heard = heard[5:] if one["heard_at"] else heard  # without the year
    who = f"{fit(one['site'], 12)} {fit(one['name'], 15)} {heard:11}"
    if one["error"] or one["mark"]:
        return f"{who} ! {one['mark'] or one['error']}"
    counts = f"{one['open_fills']:>4} {one['fills_today']:>5} {one['fills_week']:>4}"
    return f"{who} {counts} {one['exception_count']:>6} {one['due_count']:>3}"


def _told(found: Facts, own: Facts) -> Told:
    """Return the stations as lines, below a heading; the office and the root come last."""
    lines = [(RollRow("", _HEADING), "")]
    for one in found["sites"]:
        bad = bool(one["mark"]) or (bool(one["error"]) and one["entries"] > 0)
        lines.append((RollRow(one["site"], _line(one), bad), _whole(one)))
    office = own["office"]
    told = f"The office is {office['office']}, {office['name']}" if office else _unnamed(found)
    lines.append((RollRow("", told), told))
    if own["root"]:
        at = own["root"]["made_at"][:16].replace("T", " ")
        root = f"Root {own['root']['number']} of {own['root']['office']}, signed {at}"
        lines.append((RollRow("", root), own["root"]["text"]))
    return lines


def _unnamed(found: Facts) -> str:
    """Say what a station is that has no office: the office, once it knows any other."""
    if len(found["sites"]) > 1 or found["root"]:
        return f"This station, {found['sites'][0]['site']}, is the office of the shop"
    return "No office is named: this station is on its own"


def _whole(one: Facts) -> str:
    head = f"up to entry {one['entries']}" if one["entries"] else "nothing came from it yet"
    gas = ", ".join(f"{row['name']} {row['pressure_bar']:.0f} bar" for row in one["gas"]
                    if row["pressure_bar"] is not None)  # fmt: skip
    newest = one["exceptions"][0]["text"] if one["exceptions"] else "no exceptions in a week"
    newest = one["mark"] or newest
    return f"{one['site']}, {one['name']}: {head}\ngas in hand: {gas or 'none read'}\n{newest}"


def station_form(title: str, actor: Actor | None, drafts: Drafts, *, place: bool = False) -> Form:
    """Return the form of another station: id, name, and the key read off its own screen."""
    fields = [
        Field("ident", "Station's id", "as its own screen says, QUAY-2", "",
              lambda text: clean_text(text, "id", 32)),
        Field("name", "Its name", "as people call it", "",
              lambda text: clean_text(text, "name", 80)),
        Field("key", "Its public key", "64 hex digits, off its own screen or paper", "",
              sites.key_of,
              text="At the other station alt+w and Enter on its own line show it. Compare it by "
              "eye: all trust in what comes from there rests on it."),
    ]  # fmt: skip
    if place:
        fields.append(Field("place", "Where it can be read", "a path or URL; empty: files come", "",
                            lambda text: clean_text(text, "place", 400, empty=True)))  # fmt: skip
    return Form(title, [*fields, *signature_fields(actor)], drafts)


def file_form(drafts: Drafts) -> Form:
    """Return the form of which file is taken in."""
    text = "A parcel of another station, or the answer of the office: it is told by what is in it."
    return Form(FILE, [Field("file", "File", "its path", "", _path, text=text)], drafts)


def _path(text: str) -> None:
    if not text.strip():
        raise InputError("file", "nothing", "type the path of the file")
