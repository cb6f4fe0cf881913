"""What a person set and finds again: theme, units, keys, and how long the terminal stays open."""

from __future__ import annotations

import json
import tomllib
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from blender.errors import InputError
from tui.house import House
from tui.keys import COMMANDS, clashes

SETTINGS, KEYMAP = "settings.json", "keys.toml"
THEMES = ("night", "day", "terminal")


@dataclass(frozen=True, slots=True)
class Settings:
    """The terminal's settings; each can be changed on the spot.

    Parameters
    ----------
    theme : str
        ``night``, ``day`` or ``terminal`` (the terminal's own sixteen colours).
    imperial : bool
        Whether pressures, temperatures and depths are shown in psi, degF and ft.
    idle_minutes : int
        After this without a key the terminal locks [min].
    analyser : str
        The analyser used last at this terminal.
    kind : str
        What the temperature typed with a reading is of: ``gas``, ``wall`` or ``room``.
    """

    theme: str = "night"
    imperial: bool = False
    idle_minutes: int = 10
    analyser: str = ""
    kind: str = "gas"


def load(house: House) -> tuple[Settings, str]:
    """Return the settings, and what to say of those that could not be used."""
    try:
        text = house.load_settings(SETTINGS)
        found = json.loads(text) if text.strip() else {}
        kept = {f.name: found[f.name] for f in fields(Settings) if _fits(f.name, found)}
        return replace(Settings(), **kept), ""
    except (InputError, ValueError, TypeError, AttributeError) as error:
        return Settings(), f"The settings could not be read and start anew: {error}"


def _fits(name: str, found: dict[str, Any]) -> bool:
    default = getattr(Settings(), name)
    if name not in found or type(found[name]) is not type(default):
        return False
    if name == "theme":
        return found[name] in THEMES
    if name == "kind":
        return found[name] in ("gas", "wall", "room")
    return not (name == "idle_minutes" and not 1 <= found[name] <= 240)


def save(house: House, settings: Settings) -> None:
    """Keep the settings.

    Raises
    ------
    InputError
        If the place does not take them.
    """
    house.save_settings(SETTINGS, json.dumps(asdict(settings), indent=1) + "\n")


def keymap(house: House) -> tuple[dict[str, str], list[str]]:
    """Return which keys a person gave to which command, and what is wrong in their file.

    A file ``keys.toml`` has lines such as ``"panel.hold" = "alt+z"``; a command that is
    not named keeps its key.
    """
    try:
        found = tomllib.loads(house.load_settings(KEYMAP))
    except (InputError, tomllib.TOMLDecodeError) as error:
        return {}, [f"{KEYMAP}: {error}; the usual keys are in force"]
    known = {command.ident for command in COMMANDS}
    said, kept = [], {}
    for ident, keys in found.items():
        if ident not in known:
            said.append(f"{KEYMAP}: {ident!a} is no command; F1 lists them")
        elif not isinstance(keys, str) or not keys.strip():
            said.append(f"{KEYMAP}: {ident}: write the key as text, such as alt+z")
        else:
            kept[ident] = ",".join(part.strip() for part in keys.split(","))
    said += [f"{KEYMAP}: {text}" for text in clashes(kept)]
    return kept, said
