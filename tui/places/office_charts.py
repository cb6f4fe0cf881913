"""What many fills together say, from the Office: alarms, charts, and corrections of gauges."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from textual import work

from blender.record.text import clean_text
from blender.station import correcting, drift_words, drifting
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.manager import reason_field, signature_fields
from tui.dialogs.page import Page
from tui.dialogs.pick import Pick, Told
from tui.places.place import Place
from tui.plain import fit
from tui.widgets.roll import RollRow

if TYPE_CHECKING:
    from blender.station.actor import Actor

Facts = Mapping[str, Any]
_GAUGE = "gauge "
_OF_TEXT = 46  # cells of a chart's line that are figures, and the page's edges
_LEAST, _MOST = 21, 61  # cells a chart is drawn in
_EARLIER = 10  # alarms that ended, the latest
_FIRST = (
    "A correction is added to what the gauge shows, from now on. Have the gauge compared with a "
    "known one first: what many fills say is likely, not measured."
)


class Charts(Place):
    """A place at which the charts are read and gauges are corrected."""

    @work(group="dialog")
    async def action_charts(self) -> None:
        """List alarms, corrections and charts; go on from there until it is left."""
        at = ""
        while True:
            found = await self.look(drifting.show)
            if found is None:
                return
            title = f"What {found['fills']} analysed fills say together"
            chosen = "its chart, and what can be done"
            picked = await self.over(Pick(title, _told(found), chosen, at=at))
            if picked is None:
                return
            at = picked[1]
            if not await self._open_chart(at, found):
                return

    async def _open_chart(self, key: str, found: Facts) -> bool:
        """Show a chart and do what is pressed; False where it was refused."""
        kind, _, which = key.partition("/")
        alarm = found["alarms"][int(which)] if kind == "alarm" else None
        cause = _cause_of(alarm) if alarm else which
        said = [alarm["text"], alarm["evidence"], ""] if alarm else []
        if not cause:
            await self.over(Page("An alarm of one fill", said))
            return True
        chart = await self.look(drifting.chart, cause)
        if chart is None:
            return False
        standing = next((one for one in chart["corrections"] if not one["ended"]), None)
        page = Page(f"Chart of {cause}", [*said, *self._drawn(chart)], _offers(cause, standing))
        pressed = await self.over(page)
        if pressed is None:
            return True
        gauge = cause.removeprefix(_GAUGE)
        if pressed == "c":
            return await self._correct(gauge, alarm)
        return await self._end(gauge)

    def _drawn(self, chart: Facts) -> list[str]:
        room = min(self.size.width, Page.WIDEST) - _OF_TEXT
        return drift_words.chart_lines(chart, min(max(room, _LEAST), _MOST))

    async def _correct(self, gauge: str, alarm: Facts | None) -> bool:
        form = correct_form(gauge, alarm, self.terminal.floor.actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return True
        facts = {name: given[name] for name in ("by", "since", "reason")}
        made = await self.perform_signed(given, correcting.correct, gauge, **facts)
        return self._corrected(correct_title(gauge), made)

    async def _end(self, gauge: str) -> bool:
        form = end_form(gauge, self.terminal.floor.actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return True
        made = await self.perform_signed(given, correcting.end, gauge, reason=given["reason"])
        return self._corrected(end_title(gauge), made)

    def _corrected(self, title: str, made: Facts | None) -> bool:
        if made is None:
            return False
        self.terminal.drafts.pop(title, None)
        self.say("done", f"{made['text']}.")
        self.renew()
        return True


def _cause_of(alarm: Facts) -> str:
    return str(alarm["suspects"][0]["cause"]) if alarm["suspects"] else ""


def _offers(cause: str, standing: Facts | None) -> dict[str, str]:
    """Return what can be done about a cause: only a registered gauge is corrected."""
    if not cause.startswith(_GAUGE) or cause.startswith(f"{_GAUGE}of "):
        return {}
    if standing:
        return {"e": "end its correction (a manager signs)"}
    return {"c": "correct it (a manager signs)"}


def _told(found: Facts) -> Told:
    """Return alarms, corrections and charts as lines."""
    rows: list[tuple[RollRow, str]] = []
    alarms = list(enumerate(found["alarms"]))
    standing = [(at, one) for at, one in alarms if one["standing"]]
    rows += _alarms("Alarms that stand", standing or [], minds=True)
    if not standing:
        rows.append((RollRow("", "  none"), ""))
    past = [(at, one) for at, one in reversed(alarms) if not one["standing"]][:_EARLIER]
    rows.append((RollRow("", "Corrections in force"), ""))
    for one in found["corrections"]:
        text = drift_words.correction_line(one)
        rows.append((RollRow(f"chart/{_GAUGE}{one['gauge']}", text), text))
    if not found["corrections"]:
        rows.append((RollRow("", "  none"), ""))
    rows.append((RollRow("", "Charts: fills on each, the latest mean and its limits"), ""))
    for one in found["charts"]:
        row = RollRow(f"chart/{one['cause']}", _charted(one), bool(one["beyond"]))
        rows.append((row, " ".join(drift_words.chart_line(one).split())))
    if not found["charts"]:
        rows.append((RollRow("", "  none before a fill is planned, filled and analysed here"), ""))
    return rows + _alarms("Alarms that ended", past, minds=False)


def _charted(one: Facts) -> str:
    """Return a chart's latest mean in a line of eighty columns."""
    mean = f"{one['mean']:+.2f} within ±{one['half_width']:.2f} {one['unit']}"
    beyond = mean.replace("within", "BEYOND")
    return f"{fit(one['cause'], 28)} {one['fills']:>4}  {beyond if one['beyond'] else mean}"


def _alarms(
    heading: str, alarms: list[tuple[int, Facts]], *, minds: bool
) -> list[tuple[RollRow, str]]:
    made: list[tuple[RollRow, str]] = [(RollRow("", heading), "")] if alarms or minds else []
    for at, one in alarms:
        words = f"{one['raised']}  {one['text']}"
        made.append((RollRow(f"alarm/{at}", words, minds), f"{one['text']}\n{one['evidence']}"))
    return made


# -- forms ---------------------------------------------------------------------------------


def correct_title(gauge: str) -> str:
    """Return the title of the form of a correction."""
    return f"Correct gauge {gauge}"


def correct_form(gauge: str, alarm: Facts | None, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of a correction, with what an alarm of that gauge proposes."""
    by, since = _proposed(gauge, alarm)
    return Form(
        correct_title(gauge),
        [
            Field("by", "Add to what it shows", "1.3bar; -0.5bar where it shows too much", by,
                  lambda text: clean_text(text, "correction", 40), text=_FIRST),
            Field("since", "From this day on", "2026-03-12", since, _day,
                  text="From that day on charts take off what the correction explains."),
            reason_field("compared with a known gauge", 200),
            *signature_fields(actor),
        ],
        drafts,
    )  # fmt: skip


def _proposed(gauge: str, alarm: Facts | None) -> tuple[str, str]:
    if alarm is None or _cause_of(alarm) != f"{_GAUGE}{gauge}":
        return "", ""
    first = alarm["suspects"][0]
    return f"{first['bias']:.1f}bar", str(first["since"])


def end_title(gauge: str) -> str:
    """Return the title of the form that ends a correction."""
    return f"End the correction of gauge {gauge}"


def end_form(gauge: str, actor: Actor | None, drafts: Drafts) -> Form:
    """Return the form of why a correction ends, which a manager signs."""
    fields = [reason_field("another gauge was fitted", 200), *signature_fields(actor)]
    return Form(end_title(gauge), fields, drafts)


def _day(text: str) -> None:
    from blender.station.privacy import date_of

    date_of(text, "day")
