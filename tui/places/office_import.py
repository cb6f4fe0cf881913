"""Taking over what the shop has from a table: first a rehearsal, then all of it or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from textual import work

from blender.errors import InputError
from blender.station import importing
from blender.station.csv_rows import DELIMITERS, ENCODINGS
from blender.station.takeover import KINDS
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import signature_fields
from tui.dialogs.page import Page
from tui.places.place import Place

IMPORT = "Take over a table"
MOST_TOLD = 2000  # bad cells listed on a screen; `import --dry-run` names every one


class Importing(Place):
    """A place at which tables are taken over."""

    @work(group="dialog")
    async def action_import(self) -> None:
        """Rehearse taking a table over, show what would come of it, and do it if it is signed."""
        given = await self.over(import_form(self.terminal.drafts))
        if given is None:
            return
        house, what = self.terminal.house, given["what"].strip().lower()
        content = await self.look(lambda _: house.read_table(given["file"].strip()))
        if content is None:
            return
        how = {name: given[name].strip().lower() for name in ("encoding", "delimiter")}
        found = await self.look(importing.rehearse, what, content, house.clock(), **how)
        if found is None:
            return
        offers = {} if found["bad"] or found["repeated"] else {"t": "take all of it over"}
        page = Page(_heading(given["file"], found), _lines(found), offers)
        if await self.over(page) == "t":
            await self._take_over(what, content, how)

    async def _take_over(self, what: str, content: bytes, how: dict[str, str]) -> None:
        """Let a manager sign it; what was rehearsed is what is entered, though the file changed."""
        title = f"Sign for taking over {what}"
        fields = signature_fields(self.terminal.floor.actor)
        given = await self.over(Form(title, fields, self.terminal.drafts))
        if given is None:
            self.say("note", "Nothing was entered.")
            return
        made = await self.perform_signed(given, importing.bring_in, what, content, **how)
        if made is None:
            return
        if made["bad"]:  # somebody entered one of them meanwhile
            self.say("refused", f"Nothing was entered: {made['told'][0]}")
            return
        for kept in (IMPORT, title):
            self.terminal.drafts.pop(kept, None)
        self.say("done", f"{made['rows']} {what} taken over (entry {made['seq']}).")
        self.renew()


def import_form(drafts: Drafts) -> Form:
    """Return the form of which table is taken over, and how it is written."""
    columns = "; ".join(f"{name}: {', '.join(kind.columns)}" for name, kind in KINDS.items())
    return Form(
        IMPORT,
        [
            Field("what", "What is in it", " or ".join(KINDS), "", _one_of("what", tuple(KINDS)),
                  text=f"The first line names the columns. {columns}. Fills taken over are marked "
                  "imported and unsigned for ever."),
            Field("file", "File", "its path, such as cylinders.csv", "", _path),
            Field("encoding", "Encoding", " or ".join(ENCODINGS), "utf-8",
                  _one_of("encoding", ENCODINGS)),
            Field("delimiter", "Between cells", ", or ; empty: as the heading has it", "",
                  _one_of("between cells", ("", *DELIMITERS))),
        ],
        drafts,
    )  # fmt: skip


def _one_of(field: str, allowed: tuple[str, ...]) -> Any:
    def check(text: str) -> None:
        if text.strip().lower() not in allowed:
            raise InputError(field, ascii(text[:40]), f"type {' or '.join(filter(None, allowed))}")

    return check


def _path(text: str) -> None:
    if not text.strip():
        raise InputError("file", "nothing", "type the path of the table")


def _heading(file: str, found: Mapping[str, Any]) -> str:
    if found["repeated"]:
        return f"{file}: taken over before"
    if found["bad"]:
        return f"{file}: NOTHING can be taken over, {len(found['bad'])} bad cells"
    return f"{file}: all {found['rows']} {found['what']} can be taken over"


def _lines(found: Mapping[str, Any]) -> list[str]:
    """Return what a rehearsal found: every bad cell with what is allowed there."""
    if found["repeated"]:
        return [f"It is entry {found['seq']}: taking it over again enters nothing."]
    if not found["bad"]:
        return ["Nothing was entered yet. All of it is taken over, or nothing; a manager signs."]
    told = list(found["told"][:MOST_TOLD])
    if len(found["told"]) > MOST_TOLD:
        told.append(f"... and {len(found['told']) - MOST_TOLD} more: 'fillwright import --dry-run'")
    return [*told, "", "Put the file right and take it over again: nothing was entered."]
