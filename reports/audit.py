"""The report of an audit: all that was out of the usual, what is due, the charts, the balance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from blender.station.audit import AuditView, Noted
from blender.units import bar_to_psi
from reports.chart import Chart, Plotted, draw_chart
from reports.column import Fact, listed
from reports.in_units import Exact, exact, in_units
from reports.letter import END, LEFT, RIGHT, TOP, Letter, letter_pdf
from reports.page import Page
from reports.totals import amount_text, volumes
from reports.wording import FIXED, day_text, given, in_fours, tenths, time_text

_PER_PAGE = 4
_GROUPS = (
    ("overrides", "Overrides"),
    ("undone", "Amended, voided"),
    ("access", "The record"),
    ("exceptions", "Exceptions"),
)


def audit_pdf(view: AuditView, paper: str = "a4") -> bytes:
    """Return the report of an audit as a PDF, its charts on pages of their own.

    Parameters
    ----------
    view : AuditView
        What was found.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    """
    letter = Letter(
        title="Audit",
        aside=f"{view.first_day} to {view.last_day}",
        subject="What was out of the usual, what is due, charts, gas balance, verification",
        station_name=view.station_name,
        printed_at=view.printed_at,
        proof=view.proof,
        legend=f"{volumes(view.imperial)}. Uncertainties are expanded, k = 2.",
    )
    charts = [_chart(one, view.imperial) for one in view.charts]
    pages = [charts[at : at + _PER_PAGE] for at in range(0, len(charts), _PER_PAGE)]
    return letter_pdf(letter, lines(view), paper, [partial(_charts, charts=one) for one in pages])


def lines(view: AuditView) -> Iterator[Fact]:
    """Give captions and texts of the report, which the command line prints too."""
    yield "Verified", _verified(view), not view.verified.ok
    for problem in view.verified.problems[:20]:
        yield "", f"entry {problem.seq}: {problem.text}", True
    if view.key:
        yield "Station's key", in_fours(view.key), False
    yield from listed("Shop's root", view.root.split("; ")) if view.root else ()
    states = ", ".join(f"{count} {state}" for state, count in view.by_state)
    yield "Fills", f"{view.fills}" + (f": {states}" if states else ""), False
    gases = (("Oxygen let in", "O2"), ("Helium let in", "He"), ("Top gas let in", ""))
    for (caption, gas), amount in zip(gases, view.let_in_mol, strict=True):
        yield caption, amount_text(amount, gas, imperial=view.imperial), False
    yield "Printed again", f"{view.copies} as copies (labels, certificates, receipts)", False
    for name, caption in _GROUPS:
        found = view.noted[name]
        yield caption, _counted(found), False
        for one in found:
            yield "", _noted(one, view.imperial), False
    yield from listed("Not signed for", view.unsigned, bold=bool(view.unsigned))
    yield from listed("Gas balance", [_balance(one.as_dict()) for one in view.balances])
    told = [
        in_units(f"{one.text} ({one.evidence})", view.imperial, Exact(one.biases_bar))
        for one in view.alarms
    ]
    yield from listed("Drift", told, bold=bool(told))
    yield from listed("Corrections", [_correction(one, view.imperial) for one in view.corrections])
    yield "Due", _due(view), False
    for text in view.due:
        yield "", in_units(text, view.imperial), False
    yield from listed("Accounts", view.accounts)


def _verified(view: AuditView) -> str:
    told = f"{view.verified.entries} entries, incarnation {view.verified.incarnation}"
    if view.verified.ok:
        return f"the chain is whole and every signature holds: {told}"
    return f"NOT WHOLE: {len(view.verified.problems)} problems in {told}"


def _due(view: AuditView) -> str:
    """Return the heading of what was due: how much, and as of which day."""
    since = (
        "" if view.due_on == day_text(view.printed_at) else "; what was seen to since is left out"
    )
    return f"{len(view.due) or 'nothing'} as of {view.due_on}{since}"


def _counted(found: tuple[Noted, ...]) -> str:
    """Return how many there are of each kind."""
    if not found:
        return "none"
    kinds = dict.fromkeys(one.kind for one in found)
    told = ", ".join(f"{sum(one.kind == kind for one in found)} {kind}" for kind in kinds)
    return f"{len(found)}: {told}"


def _noted(one: Noted, imperial: bool) -> str:
    fill = f"fill {one.fill}, " if one.fill else ""
    told = in_units(one.text, imperial, exact(one.known))
    return f"{time_text(one.at)}, {fill}{one.kind}: {told} ({given(one.by)}, entry {one.seq})"


def _balance(one: Mapping[str, Any]) -> str:
    """Return a balance as a sum that can be added up, and what its readings say of it."""

    def of(name: str) -> str:
        return f"{tenths(one[name], 'amount')}{FIXED}mol"

    came = f"at first {of('first_mol')} + connected {of('connected_mol')}"
    went = f"drawn {of('drawn_mol')} + left with bottles {of('removed_mol')}"
    told = f"{one['supply']}: {came} = {went} + in hand {of('in_hand_mol')}"
    told += _signed("missing", -one["unexplained_mol"])
    told += _signed("voided, corrected, or beyond what was known", one["booked_mol"])
    if not one["readings"]:
        return f"{told}; its gauge was not read"
    over = f"{one['unexplained_mol']:+.1f}{FIXED}mol"
    sure = f"± {tenths(one['uncertainty_mol'], 'uncertainty')}{FIXED}mol"
    verdict = "closes" if one["closes"] else "DOES NOT CLOSE"
    return f"{told}; {one['readings']} readings find {over} {sure}: {verdict}"


def _signed(what: str, amount_mol: float) -> str:
    """Return a summand with its sign, nothing where it rounds to 0."""
    if abs(amount_mol) < 0.05:
        return ""
    return f" {'+' if amount_mol > 0.0 else '-'} {what} {abs(amount_mol):.1f}{FIXED}mol"


def _correction(one: Mapping[str, Any], imperial: bool) -> str:
    signed = one["signed"]
    by = in_units(f"{one['by_bar']:+.1f} bar", imperial, exact(one))
    told = f"gauge {one['gauge']} by {by} from {one['since']}"
    return f"{told}: {one['reason']} (signed {signed['at'][:10]} by {signed['by']})"


def _chart(facts: Mapping[str, Any], imperial: bool) -> Chart:
    """Return a chart; a gauge's is in psi where that is wanted, drawn from the exact values."""
    is_psi = imperial and facts["unit"] == "bar"
    scale = bar_to_psi(1.0) if is_psi else 1.0
    points = tuple(
        Plotted(
            one["fill"],
            one["day"],
            one["value"] * scale,
            one["mean"] * scale,
            one["upper"] * scale,
            one["beyond"],
        )
        for one in facts["points"]
    )
    beyond = sum(one.beyond for one in points)
    said = f"{beyond} of {len(points)} means beyond" if beyond else "within its limits"
    return Chart(facts["cause"], "psi" if is_psi else facts["unit"], points, said)


def _charts(page: Page, charts: list[Chart]) -> None:
    height = (END - TOP - 10.0) / _PER_PAGE
    legend = "dots: single fills; line: their weighted mean; dashes: its limits; square: beyond"
    page.line(LEFT, TOP + 2.0, legend, 7)
    for place, one in enumerate(charts):
        draw_chart(page, one, LEFT, TOP + 6.0 + place * height, RIGHT - LEFT, height - 4.0)
