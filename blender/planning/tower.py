"""A compressor's filter tower: a gas space between compressor and cylinder that stands full."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blender.errors import InputError
from blender.gas import Mix, parse_gas
from blender.planning.supplies import check_argon
from blender.units import parse_gauge_pressure, parse_size, parse_temperature
from blender.vessel import Contents, contents_at

TOWER_NAME = "tower"
_HELP = "give VOLUME@PRESSURE:GAS such as 3L@150bar:air: its volume and what stands in it"


@dataclass(frozen=True, slots=True)
class Tower:
    """A filter tower and what stands in it.

    Parameters
    ----------
    volume_m3 : float
        Its free volume [m3].
    gauge_bar : float
        Gauge pressure it stands at [bar].
    mix : Mix
        The gas in it.
    temperature_c : float or None
        Temperature of that gas [degC]; None if not given.

    Examples
    --------
    >>> parse_tower("3L@150bar:air").gauge_bar
    150.0
    """

    volume_m3: float
    gauge_bar: float
    mix: Mix
    temperature_c: float | None = None

    def contents(self, else_c: float, ambient_bar: float, pairs: str) -> Contents:
        """What it holds.

        Parameters
        ----------
        else_c : float
            Temperature of its gas where none was given [degC].
        ambient_bar : float
            Ambient (absolute) pressure [bar].
        pairs : str
            Name of the set of pair parameters of the equation of state.

        Returns
        -------
        Contents
            The amounts.
        """
        at_c = else_c if self.temperature_c is None else self.temperature_c
        return contents_at(self.mix, self.gauge_bar, at_c, self.volume_m3, ambient_bar, pairs)

    def as_dict(self) -> dict[str, Any]:
        """The tower as understood, JSON-ready."""
        described: dict[str, Any] = {
            "volume_l": self.volume_m3 * 1000.0,
            "pressure_bar": self.gauge_bar,
            "gas": self.mix.as_dict(),
        }
        if self.temperature_c is not None:
            described["temperature_c"] = self.temperature_c
        return described


def parse_tower(text: str, field: str = "--tower") -> Tower:
    """Read a tower as typed: ``3L@150bar:air``, or ``3L@150bar@30C:air``.

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        The field's name, for the error message.

    Returns
    -------
    Tower
        What was understood.

    Raises
    ------
    InputError
        If it cannot be read.

    Examples
    --------
    >>> parse_tower("3L@150bar@30C:EAN32").temperature_c
    30.0
    """
    size, at, rest = text.partition("@")
    stands, colon, gas_text = rest.partition(":")
    if not at or not colon or len(text) > 120:
        raise InputError(field, repr(text[:120]), _HELP)
    pressure, warm, temperature = stands.partition("@")
    gas = parse_gas(gas_text, field)
    check_argon(gas, text, field)
    return Tower(
        parse_size(size, field).volume_m3,
        parse_gauge_pressure(pressure, field),
        gas,
        parse_temperature(temperature, field) if warm else None,
    )
