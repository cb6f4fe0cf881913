"""The focused fill, large: what it is, what it holds, and the next stop in big digits."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Digits, Static

from blender.station.panel import PanelFill, PlanLine
from tui.plain import plain
from tui.saying import said
from tui.shown import Units, short_gas
from tui.widgets.fitted import Fitted
from tui.widgets.rack import tail

MINUTE_US = 60_000_000


class StopBoard(Vertical):
    """What the hands at the valve need to know."""

    DEFAULT_CSS = """
    StopBoard { width: 1fr; height: 1fr; padding: 0 1; }
    StopBoard #what { height: auto; }
    StopBoard #stop { height: 3; }
    StopBoard Digits { width: auto; text-style: bold; }
    StopBoard #unit { width: 1fr; height: 3; padding: 0 1; }
    StopBoard #then { height: 1fr; min-height: 1; }
    """

    def __init__(self) -> None:
        super().__init__(id="board")

    def compose(self) -> ComposeResult:
        """What it is, the stop, what then."""
        yield Static("", id="what")
        with Horizontal(id="stop"):
            yield Digits("", id="digits")
            yield Static("", id="unit")
        yield Fitted("then")

    def show(self, fill: PanelFill | None, units: Units, now_us: int) -> None:
        """Show a fill, or nothing."""
        stop = fill.stop if fill is not None and fill.state == "filling" else None
        roomy = self.size.height > 24
        then = _then(fill, units, now_us, roomy=roomy) if fill is not None else Content("")
        self.query_one("#stop").display = stop is not None
        self.query_one("#what", Static).update(_what(fill, units) if fill else "")
        self.query_one("#then", Static).update(then)
        if stop is not None:
            gauge = units.pressure(stop.shown_bar)
            weighs = gauge if stop.scale_g is None else units.mass(stop.scale_g)
            number, _, unit = weighs.partition(" ")
            self.query_one("#digits", Digits).update(number)
            at = units.temperature(stop.here_c)
            below = [f"at {at}"] if stop.scale_g is None else ["gauge about", gauge]
            if stop.dial_bar is not None and stop.scale_g is None:
                below.append(f"on the dial, counts as {units.pressure(stop.here_bar)}")
            beside = Content("\n").join(plain(line) for line in (unit, *below))
            self.query_one("#unit", Static).update(beside)


def _what(fill: PanelFill, units: Units) -> Content:
    want = f"{fill.want_text} to {units.pressure(fill.want_bar, 0)}"
    lines = [
        Content.assemble(
            plain(f" {tail(fill.serial)} ", "bold reverse"), plain(f" fill {fill.fill}"),
            plain(f" {fill.customer}"),
        ),
        Content.assemble(plain(want, "bold"), plain(f" {fill.state}")),
        plain(f"holds {said(fill.holds, units, fill)}"),
    ]  # fmt: skip
    if fill.do_not_breathe:
        lines.append(Content.styled(" ! DO NOT BREATHE ", "bold reverse $warning"))
    if fill.state in ("requested", "planned"):
        lines.append(plain(f"left in it: {said(fill.residual_text, units, fill)}"))
    lines.append(plain(_action(fill, units), "bold"))
    return Content("\n").join(lines)


def _action(fill: PanelFill, units: Units) -> str:
    stop = fill.stop
    if fill.state in ("planned", "correcting") and fill.plan:
        first = next((line for line in fill.plan if line.mark == "now"), fill.plan[0])
        return f"First: {first.words}{_to(first, units)}"
    if fill.is_lost:
        return f"{said(fill.next_text, units, fill)} alt+j rejects it, alt+m corrects the reading."
    if fill.state != "filling" or stop is None:
        return said(fill.next_text, units, fill)
    source = f" from {stop.supply}" if stop.supply not in ("", "top", stop.gas) else ""
    source += " through the booster" if stop.boosted else ""
    to = "to" if stop.scale_g is None else "until the scale reads"
    gas = "air with helium and oxygen" if " and " in stop.source else "air with oxygen"
    words = {
        "add": f"Let in {stop.gas}{source} {to}",
        "flow": f"Let in {gas} to",
        "drain": "Drain slowly to",
        "purge": f"Purge: {stop.gas}{source} in to",
    }[stop.action]
    if stop.vent_to_bar is not None:
        words += f" the stop, mix, vent to {units.pressure(stop.vent_to_bar)}:"
    return words


_MARKS = {"done": "✓", "now": "▶", "later": "·"}


def _plan(line: PlanLine, units: Units) -> Content:
    return plain(
        f"{_MARKS[line.mark]} {line.words}{_to(line, units)}", "bold" if line.mark == "now" else ""
    )


def _to(line: PlanLine, units: Units) -> str:
    if line.scale_g is not None:
        return f" to {units.mass(line.scale_g)} on the scale"
    return f" to {units.pressure(line.to_bar)}" if line.to_bar is not None else ""


def _stops(plan: Sequence[PlanLine], units: Units) -> str:
    """Return every stop of a plan in as few words as a small screen has room for."""
    told = []
    for line in plan:
        if line.to_bar is not None:
            number = units.pressure(line.to_bar).partition(" ")[0]
            told.append(f"{short_gas(line.words.removeprefix('add '))} to {number}")
    return ", ".join(told) + f" {units.unit}" if told else "none"


def _then(fill: PanelFill, units: Units, now_us: int, *, roomy: bool) -> Content:
    lines: list[Content] = []
    stop, pace = fill.stop, fill.pace
    if stop is not None and fill.state == "filling":
        settled = units.pressure(stop.settled_bar)
        lines.append(plain(f"settled {settled} at {units.temperature(stop.settled_c)}"))
        lines += [plain(said(note, units)) for note in stop.notes]
        if abs(stop.here_c - stop.planned_c) > 0.05 and stop.planned_c != stop.settled_c:
            planned = units.pressure(stop.planned_bar)
            lines.append(plain(f"planned {planned} at {units.temperature(stop.planned_c)}"))
        if pace.least_minutes is not None:
            lines.append(plain(f"slowly: at least {pace.least_minutes:.0f} min"))
        if pace.rate_bar_min is not None:
            lines.append(plain(_coming(fill, units, now_us)))
    if fill.leads_to and fill.state in ("planned", "filling", "held", "correcting"):
        lines.append(plain(f"makes {fill.leads_to}"))
    is_ahead = fill.plan and fill.state in ("planned", "correcting")
    if is_ahead and not roomy:
        lines.append(plain(f"stops: {_stops(fill.plan, units)}"))
    # Before the plan: what the end of a small screen cuts off is no caution.
    lines += [_caution(said(text, units, fill)) for text in fill.warnings]
    if stop is not None and fill.state == "filling":
        lines += [plain(said(text, units)) for text in stop.falls]
    if fill.plan and roomy:
        lines += [Content(""), plain("Plan", "bold"), *(_plan(line, units) for line in fill.plan)]
    return Content("\n").join(lines)


def _caution(text: str) -> Content:
    return Content.assemble(("! ", "bold $warning"), plain(text))


def _coming(fill: PanelFill, units: Units, now_us: int) -> str:
    rate = f"{units.pressure(abs(fill.pace.rate_bar_min or 0.0))}/min"
    if not fill.pace.stop_us:
        return f"at {rate}"
    left_s = max(fill.pace.stop_us - now_us, 0) // 1_000_000
    return f"{rate}: stop in {left_s // 60}:{left_s % 60:02d}"
