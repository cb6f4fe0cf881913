"""A gauge reading as typed, and as understood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.numbers import mbar, millikelvin
from blender.units import parse_gauge_pressure, parse_temperature

KINDS = ("gas", "wall", "room")


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """A gauge reading as typed and as understood.

    Parameters
    ----------
    at, temperature : str
        As typed, with their units.
    kind : str
        Whether that temperature is of the ``gas``, the ``wall`` or the ``room``.
    gauge : str
        Which gauge, if it was named.
    gauge_bar : float
        Gauge pressure [bar].
    temperature_c : float
        Temperature [degC].
    """

    at: str
    temperature: str
    kind: str
    gauge: str
    gauge_bar: float
    temperature_c: float

    def facts(self) -> dict[str, Any]:
        """The reading in the journal's integers, with what was typed."""
        return {
            "gauge_mbar": mbar(self.gauge_bar),
            "temp_mk": millikelvin(self.temperature_c),
            "kind": self.kind,
            "gauge": self.gauge,
            "typed": {"at": self.at, "temperature": self.temperature},
        }


def typed_reading(at: str, temperature: str, kind: str = "gas", gauge: str = "") -> GaugeReading:
    """Understand a gauge reading as it was typed.

    Raises
    ------
    InputError
        If a value cannot be read.
    """
    if kind not in KINDS:
        raise InputError("--kind", repr(kind), "temperature of the gas, wall or room")
    return GaugeReading(
        at=at.strip(),
        temperature=temperature.strip(),
        kind=kind,
        gauge=clean_text(gauge, "--gauge", 40, empty=True),
        gauge_bar=parse_gauge_pressure(at, "--at"),
        temperature_c=parse_temperature(temperature, "--temperature"),
    )
