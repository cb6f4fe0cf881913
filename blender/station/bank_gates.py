"""Do the banks still hold what a plan takes from them?  Other fills drew from them since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sqlalchemy import Connection

from blender.record import search
from blender.record.models import StepRow
from blender.station.gates import PASS, STOP, Gate
from blender.station.numbers import bar
from blender.station.planning import supply_of
from blender.station.steps import more_of

_ROUNDING_BAR = 1.0  # gas of the stop's temperature against bottles at 20 degC


def bank_gate(conn: Connection, steps: Sequence[StepRow], *, at_hand: bool) -> Gate:
    """Ask whether every bank reaches the stops it is to be opened to.

    With somebody at the Panel it stops; a script that enters what was done elsewhere is told.
    """
    short = [text for step in steps for text in _short(conn, step)]
    if not short:
        return Gate("banks", PASS, "the banks hold what the plan takes from them")
    told = f"{'; '.join(short)}: plan again"
    return Gate("banks", STOP if at_hand else PASS, told, caution=not at_hand)


def _short(conn: Connection, step: StepRow) -> Iterator[str]:
    more = more_of(step)
    if step.action != "add" or more.boosted:
        return
    for name, before_bar, after_bar in more.bottles:
        row = search.supply(conn, name)
        now_bar = supply_of(row).gauge_bar if row is not None else None
        if now_bar is None or now_bar >= before_bar - _ROUNDING_BAR:
            continue
        left_bar, stop_bar = now_bar - (before_bar - after_bar), bar(step.to_mbar)
        if left_bar < stop_bar - _ROUNDING_BAR:
            yield (
                f"since the plan was made other fills drew from {name}: it should show"
                f" {now_bar:.1f} bar now, not {before_bar:.1f}, and does not reach"
                f" {stop_bar:.1f} bar any more"
            )
