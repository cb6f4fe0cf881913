"""The invented divers of the year and their cylinders."""

from __future__ import annotations

import random
from dataclasses import dataclass

_FIRST = (
    *("Alwin", "Beate", "Cosmo", "Dorothea", "Edvin", "Floris", "Gudrun", "Hanno", "Ilse"),
    *("Joris", "Katla", "Lorcan", "Mirja", "Nando", "Odile", "Piet", "Quirin", "Runa"),
)
_LAST = (
    *("Aldersee", "Brackwater", "Crosskeel", "Dunmoor", "Eelgrass", "Fenwright", "Gullstone"),
    *("Harbeck", "Inchbrook", "Jettison", "Kelpmann", "Lowtide", "Marrow", "Netherby"),
)
_WANTS = ("EAN32", "EAN32", "EAN32", "EAN36", "EAN30", "EAN34")


@dataclass(frozen=True, slots=True)
class Diver:
    """A customer with one cylinder, and the mix they usually want."""

    name: str
    serial: str
    size: str
    want: str
    certified: str


def divers(chance: random.Random, count: int) -> list[Diver]:
    """Return so many divers, no two of one name; one in thirty holds only an air card."""
    names = [f"{first} {last}" for first in _FIRST for last in _LAST]
    chosen = chance.sample(names, count)
    return [
        Diver(
            name=name,
            serial=f"{chance.choice('BDFKM')}{chance.choice('RSTV')}-{2000 + 7 * place}",
            size=chance.choice(("10L", "12L", "12L", "15L")),
            want=chance.choice(_WANTS),
            certified="air" if place % 30 == 17 else "nitrox",
        )
        for place, name in enumerate(chosen)
    ]
