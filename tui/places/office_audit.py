"""The audit of a span of days, from the Office: shown, and printed for an inspector."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from textual import work

from blender.errors import InputError
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.verify import verify
from blender.station.audit import AuditView, audit
from blender.station.privacy import date_of
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.page import Captioned, Page
from tui.places.place import Place

AUDIT = "Go through a span of days"


class Auditing(Place):
    """A place at which a span of days is gone through."""

    @work(group="dialog")
    async def action_audit(self) -> None:
        """Go through a span of days for what is out of the usual; print the report."""
        from reports.audit import audit_pdf, lines

        now = self.terminal.house.clock()
        form = audit_form(now, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return
        self.say("note", "The whole record is verified and the days are gone through ...")
        view = await self.look(_audit, given["first"].strip(), given["last"].strip(), now)
        if view is None:
            return
        view = replace(view, imperial=self.terminal.units.imperial)
        self.say("note", "")
        self.terminal.drafts.pop(AUDIT, None)
        told = [Captioned(*fact) for fact in lines(view)]
        title = f"Audit of {view.first_day} to {view.last_day}, {view.station_name}"
        if await self.over(Page(title, told, {"p": "print it"})) != "p":
            return
        name = f"audit-{view.proof.station}-{view.first_day}-{view.last_day}.pdf"
        if path := await self.put(name, partial(audit_pdf, view)):
            self.say("done", f"Report: {path}")


def _audit(record: Record, first: str, last: str, now: Moment) -> AuditView:
    return audit(record, first, last, now, verify(record.location))


def audit_form(now: Moment, drafts: Drafts) -> Form:
    """Return the form of the days that are gone through: this year unless others are typed."""
    today = now.local.date()
    return Form(
        AUDIT,
        [
            Field("first", "First day", "2026-01-01", today.replace(month=1, day=1).isoformat(),
                  lambda text: date_of(text, "first day")),
            Field("last", "Last day", "2026-12-31", today.isoformat(),
                  lambda text: date_of(text, "last day")),
        ],
        drafts,
        _in_order,
    )  # fmt: skip


def _in_order(given: dict[str, str]) -> None:
    if given["last"].strip() < given["first"].strip():
        raise InputError("last day", given["last"].strip(), "it is not before the first")
