"""What the Panel asks where something was mistyped: a reading, an analysis, what was left."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from blender.errors import InputError
from blender.station import mending, slips
from blender.station.panel import PanelFill
from blender.station.wording import gas_typed
from blender.units import parse_gauge_pressure, parse_percent
from tui import shown
from tui.places.counter_typed import left
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.panel import Panel

_STAYS = "The mistaken one stays in the record, and a new entry corrects it."
_PRESSURE = re.compile(r"[\d.,]+\s*(bar|psi|mpa)\b.*", re.IGNORECASE)


def mending_ask(panel: Panel, fill: PanelFill) -> Ask | None:
    """Return what is asked to correct what was entered last, None where nothing can be."""
    if fill.can_correct:
        return _reading(panel, fill)
    if fill.mends == "analysis":
        return _analysis(panel, fill)
    return _residual(panel, fill) if fill.mends == "residual" else None


def _reading(panel: Panel, fill: PanelFill) -> Ask:
    units, kind = panel.terminal.units, panel.terminal.settings.kind

    def echo(text: str) -> str:
        return shown.echo(shown.reading(text, units, kind), units)

    async def enter(text: str) -> bool:
        typed = shown.reading(text, units, kind)
        facts = {"at": typed.at, "temperature": typed.temperature, "kind": typed.kind}
        return await panel.tell(await panel.perform(mending.correct_reading, fill.fill, **facts))

    last = f"{units.pressure(fill.gauge_bar)} {units.temperature(fill.gauge_c)}"
    prompt = f"Last reading {last} was mistyped; it was (Esc: leave it)"
    return Ask(f"mend-{fill.fill}", prompt, enter, echo, _STAYS)


def _analysis(panel: Panel, fill: PanelFill) -> Ask:
    def echo(text: str) -> str:
        if _is_pressure(text, fill):
            return f"left in it: {panel.terminal.units.pressure(_gauge_bar(text))}"
        o2, he = _percent(text)
        told = f", He {parse_percent(he, 'helium'):g} %" if he else ""
        return f"O2 {parse_percent(o2, 'reading'):g} %{told}"

    async def enter(text: str) -> bool:
        if _is_pressure(text, fill):
            have = "@".join(text.split())
            made = await panel.perform(slips.correct_residual, fill.fill, have=have)
            return await panel.tell(made)
        o2, he = _percent(text)
        facts = {"reading": o2, "helium": he or None}
        return await panel.tell(await panel.perform(slips.correct_analysis, fill.fill, **facts))

    such = panel.terminal.units.example("60bar 20C", "870psi 68F")
    before_gas = f" A pressure with its unit, {such}, corrects that instead." * _is_before(fill)
    return Ask(
        f"mend-{fill.fill}",
        f"{fill.serial}: the last analysis was mistyped; it was, in percent (Esc: leave it)",
        enter,
        echo,
        "What the analyser showed: 32.4, or 21.2 34.8 with helium. Only who entered it corrects "
        f"it.{before_gas} {_STAYS}",
    )


def _residual(panel: Panel, fill: PanelFill) -> Ask:
    units, analyser = panel.terminal.units, panel.terminal.settings.analyser
    gas = gas_typed(fill.have_typed)

    def understood(text: str) -> tuple[str, str]:
        found = left(text, units, gas, analyser)
        if found.is_analysed:
            told = "name its gas, such as 60 EAN28; alt+n enters an analysis"
            raise InputError("what is left", ascii(text[:40]), told)
        return found.have, found.source

    def echo(text: str) -> str:
        have, source = understood(text)
        return f"left in it: {have} ({source})"

    async def enter(text: str) -> bool:
        have, source = understood(text)
        facts = {"have": have, "residual": source}
        return await panel.tell(await panel.perform(slips.correct_residual, fill.fill, **facts))

    such = units.example("60 EAN28 label", "870 EAN28 label")
    return Ask(
        f"mend-{fill.fill}",
        f"{fill.serial}: what is left was mistyped; it was, such as {such} (Esc: leave it)",
        enter,
        echo,
        f"Pressure, its gas, and how that is known: label, stated or unknown. Only who took it "
        f"in corrects it. {_STAYS}",
    )


def _is_before(fill: PanelFill) -> bool:
    return fill.state in ("requested", "planned")


def _is_pressure(text: str, fill: PanelFill) -> bool:
    return _is_before(fill) and _PRESSURE.fullmatch(text.strip()) is not None


def _gauge_bar(text: str) -> float:
    return parse_gauge_pressure(text.split(maxsplit=1)[0], "pressure")


def _percent(text: str) -> tuple[str, str]:
    """Return oxygen and helium of what was typed, helium empty where it was not."""
    words = text.split()
    if not 1 <= len(words) <= 2:
        given = ascii(text[:40]) if words else "nothing"
        raise InputError("analysis", given, "type 32.4, or 21.2 34.8 with helium")
    return words[0], words[1] if len(words) == 2 else ""
