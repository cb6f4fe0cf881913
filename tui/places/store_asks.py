"""What the Store's one field asks of the marked line: a bank's gauge, an analyser's setting."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Any

from blender.errors import FillwrightError, InputError
from blender.gas import parse_gas
from blender.humidity import parse_air_state
from blender.station import compressors, equipment
from blender.station import supplies as banks
from blender.units import parse_ambient, parse_gauge_pressure, parse_percent, parse_temperature
from tui.places.store_lines import around
from tui.saying import said
from tui.shown import Units
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.store import Store

AMBIENT = "1.01325bar"
_IS_AMBIENT = re.compile(r"[\d.,]+(bar|mbar|hpa|kpa|pa|psi|mmhg|atm)", re.IGNORECASE)
_GAUGE_TEXT = (
    "What the bank's own gauge shows, and the temperature of its gas; without one 20 °C. What "
    "it holds from now on comes from this. alt+x enters another bottle, alt+j takes it out of use."
)
_SETTING_TEXT = (
    "What the analyser was set to, on which gas (air if not said), at which ambient pressure and "
    "in which air, such as: 20.9  or  99.5 oxygen 1013mbar 21C/45%. Readings are believed for as "
    "long as the rules say."
)


def gauge(text: str, units: Units) -> tuple[str, str]:
    """Return a bank's pressure and temperature as typed, with their units.

    Raises
    ------
    InputError
        If it cannot be read so.
    """
    words = text.split()
    if not 1 <= len(words) <= 2:
        how = units.example("180 15", "2600 60")
        raise InputError("gauge", ascii(text[:40]), f"type pressure and temperature: {how}")
    at = units.typed_pressure(words[0])
    warmth = units.typed_temperature(words[1]) if len(words) == 2 else "20C"
    parse_gauge_pressure(at, "pressure")
    parse_temperature(warmth, "temperature")
    return at, warmth


def gauge_echo(name: str, text: str, units: Units) -> str:
    """Return how a bank's reading is understood."""
    at, warmth = gauge(text, units)
    pressure = units.pressure(parse_gauge_pressure(at))
    return f"{name}: {pressure} at {units.temperature(parse_temperature(warmth))}"


def setting(text: str) -> dict[str, str]:
    """Return what an analyser was set to as typed: reading, gas, ambient, air.

    Raises
    ------
    InputError
        If a part cannot be read.

    Examples
    --------
    >>> setting("99.5 oxygen 1013mbar")["gas"], setting("20,9")["gas"]
    ('oxygen', 'air')
    """
    words = text.replace("%%", "%").split()
    if not words:
        raise InputError("reading", "nothing", "type what it was set to, such as 20.9")
    facts = {"reading": words[0].removesuffix("%"), "ambient": AMBIENT, "air": ""}
    gas = []
    for word in words[1:]:
        if "/" in word and word.endswith("%"):
            facts["air"] = word
        elif _IS_AMBIENT.fullmatch(word):
            facts["ambient"] = word
        else:
            gas.append(word)
    facts["gas"] = " ".join(gas) or "air"
    parse_percent(facts["reading"], "reading")
    parse_gas(facts["gas"], "gas")
    parse_ambient(facts["ambient"], "ambient")
    if facts["air"]:
        parse_air_state(facts["air"], "air")
    return facts


def setting_echo(name: str, text: str, units: Units) -> str:
    """Return how a setting is understood, with what was not said."""
    facts = setting(text)
    reading = parse_percent(facts["reading"], "reading")
    air = f", air {facts['air']}" if facts["air"] else ""
    return f"{name}: {reading:g} % on {facts['gas']} at {around(facts['ambient'], units)}{air}"


def caught(
    store: Store, enter: Callable[[str], Awaitable[bool]]
) -> Callable[[str], Awaitable[bool]]:
    """Return what takes typed text and says it where that cannot be read."""

    async def guarded(text: str) -> bool:
        try:
            return await enter(text)
        except FillwrightError as error:
            store.say("refused", error.text)
            return False

    return guarded


def bank_words(made: Mapping[str, Any], units: Units) -> str:
    """Return what a bank's reading means: by how much it may differ, and what it is if it does."""
    shown = f"{units.pressure(made['pressure_bar'])} at {units.temperature(made['temperature_c'])}"
    expected = f"{units.pressure(made['expected_bar'])} ± {units.pressure(made['uncertainty_bar'])}"
    told = f"{made['name']}: {shown}; by the record {expected}."
    if made["outside"]:
        told += f" It is {made['meaning']}."
    elif made["far"]:
        told += " Further off than the station's rule allows, yet a gauge alone could do it."
    return f"{told} It is an exception now." if made["far"] else told


def ask_gauge(store: Store, name: str) -> Ask:
    """Ask what a bank's gauge shows."""
    units = store.terminal.units

    async def enter(text: str) -> bool:
        at, warmth = gauge(text, units)
        made = await store.perform(banks.read_supply, name, at=at, temperature=warmth)
        if made is None:
            return False
        minds = made["far"] or made["outside"]
        return await store.done(bank_words(made, units), "mind" if minds else "done")

    example = units.example("180 15", "2600 60")
    return Ask(
        f"gauge-{name}", f"{name}: gauge and its temperature now, such as {example}",
        caught(store, enter), lambda text: gauge_echo(name, text, units), said(_GAUGE_TEXT, units),
    )  # fmt: skip


def ask_setting(store: Store, name: str) -> Ask:
    """Ask what an analyser was set to."""

    async def enter(text: str) -> bool:
        made = await store.perform(equipment.calibrate, name=name, **setting(text))
        return made is not None and await store.done(
            f"Set: {setting_echo(name, text, store.terminal.units)}."
        )

    return Ask(
        f"set-{name}", f"{name}: what it was set to, on air, such as 20.9",
        caught(store, enter), lambda text: setting_echo(name, text, store.terminal.units),
        _SETTING_TEXT,
    )  # fmt: skip


_RETIRE: dict[str, Callable[..., object]] = {
    "analyser": equipment.retire_analyser,
    "compressor": compressors.retire_compressor,
    "supply": banks.retire_supply,
}


def ask_retire(store: Store, kind: str, name: str) -> Ask:
    """Ask why a supply, an analyser or a compressor goes out of use."""

    async def enter(text: str) -> bool:
        retire = _RETIRE[kind]
        made = await store.perform(retire, name=name, reason=text)
        return made is not None and await store.done(f"{name} is out of use.")

    return Ask(
        f"retire-{kind}-{name}", f"Why is {name} taken out of use? Esc: it is not",
        caught(store, enter), None,
        "Out of use is for good: it stays in the record, but nothing is planned with it or "
        "analysed on it any more. A manager does this; the reason stands beside your name.",
    )  # fmt: skip
