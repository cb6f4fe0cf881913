"""How far the instruments of a fill may be off: gauge, temperature, analysis."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from blender.analysis import STATED_CLASS_POINTS
from blender.errors import InputError
from blender.gas import Mix
from blender.units import parse_gauge_pressure, parse_number

# Scale ends of EN 837-1 [bar] (from memory).
SCALES_BAR = (60.0, 100.0, 160.0, 250.0, 400.0, 600.0, 1000.0)
UNSTATED_CLASS = 1.0  # of a gauge nobody described; common practice, no source
READ_TO_BAR = 1.0  # what a person reads off a dial; common practice, no source
# How far the gas's temperature may be off [K], by what was measured.  The gas of a cylinder that
# is being filled is hotter than its wall by some 25 K; common practice, no source.
TEMPERATURE_K = {"gas": 2.0, "wall": 10.0, "room": 15.0}
# What is known of a residual's gas by analysis; helium by common practice, no source.
ANALYSED_O2, ANALYSED_HE = STATED_CLASS_POINTS / 100.0, 0.010
MAIN_PART = 0.5  # from here on a gas is led through the gauge of its main part
_CLASS_RANGE = (0.05, 4.0)
_GAUGE = re.compile(r"\s*([\d.,]+)\s*@([^/]+)(?:/(.+))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Gauge:
    """A pressure gauge.

    Parameters
    ----------
    class_percent : float
        Accuracy class: the most it may be off, of its whole scale [%] (EN 837-1).
    scale_bar : float
        End of its scale [bar].
    step_bar : float
        Smallest difference that is read off it [bar].
    name : str
        Which it is, where a station has it on record.

    Examples
    --------
    >>> Gauge(1.6, 400.0).error_bar
    6.4
    """

    class_percent: float
    scale_bar: float
    step_bar: float = READ_TO_BAR
    name: str = ""

    @property
    def error_bar(self) -> float:
        """The most it may be off [bar]."""
        return self.class_percent * self.scale_bar / 100.0

    def __str__(self) -> str:
        """Return it as words name it."""
        which = f" ({self.name})" if self.name else ""
        return f"class {self.class_percent:.1f} gauge of {self.scale_bar:g} bar{which}"


@dataclass(frozen=True, slots=True)
class Doubts:
    """How far what is read for a fill may be off.

    Parameters
    ----------
    gauge : Gauge or None
        The gauge the stops are read on; None if nobody said which.
    panel : tuple of (str, Gauge)
        The gauges a station has on record: what each serves (``oxygen``, ``helium``, ``top`` or
        ``all``), and the gauge; they count where nobody said which.
    temperature_kind : str
        What the temperatures at the stops are of: ``gas`` (estimated), ``wall`` or ``room``.
    residual_o2, residual_he : float
        How far the residual's gas may be off, either way [1].

    Examples
    --------
    >>> Doubts(temperature_kind="wall").temperature_k
    10.0
    """

    gauge: Gauge | None = None
    temperature_kind: str = "gas"
    residual_o2: float = ANALYSED_O2
    residual_he: float = ANALYSED_HE
    panel: tuple[tuple[str, Gauge], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a kind of temperature that is not known."""
        if self.temperature_kind not in TEMPERATURE_K:
            allowed = f"the kinds are {', '.join(TEMPERATURE_K)}"
            raise InputError("--temperature-kind", repr(self.temperature_kind), allowed)

    @property
    def temperature_k(self) -> float:
        """How far the gas's temperature at a stop may be off, either way [K]."""
        return TEMPERATURE_K[self.temperature_kind]

    def gauge_for(self, highest_bar: float) -> Gauge:
        """Return the gauge, or what is taken for one that nobody described.

        Parameters
        ----------
        highest_bar : float
            The highest stop [bar].

        Returns
        -------
        Gauge
            If none is stated, one of class 1.0 whose scale just holds the highest stop.

        Raises
        ------
        InputError
            If the stated gauge's scale ends below the highest stop.
        """
        if self.gauge is None:
            fitting = (scale for scale in SCALES_BAR if scale >= highest_bar)
            return Gauge(UNSTATED_CLASS, next(fitting, SCALES_BAR[-1]))
        if self.gauge.scale_bar < highest_bar:
            given = f"a scale to {self.gauge.scale_bar:g} bar"
            raise InputError("--gauge", given, f"this fill is read up to {highest_bar:.1f} bar")
        return self.gauge

    def on_record(self, serves: str) -> Gauge | None:
        """Return the gauge on record for the stops of a gas; None if there is none, or no need."""
        known = {} if self.gauge is not None else dict(self.panel)
        return known.get(serves, known.get("all"))

    def gauge_at(self, serves: str, read_bar: float, highest_bar: float) -> Gauge:
        """Return the gauge a stop is read on.

        Parameters
        ----------
        serves : str
            What it is a stop of, see `serving`.
        read_bar, highest_bar : float
            What is read there, and the highest stop of the fill [bar].

        Returns
        -------
        Gauge
            As stated; else the one on record, if its scale holds the stop; else as `gauge_for`.
        """
        known = self.on_record(serves)
        if known is not None and known.scale_bar >= read_bar:
            return known
        return self.gauge_for(highest_bar)

    def as_dict(self) -> dict[str, Any]:
        """What was stated or is on record, JSON-ready."""
        found: dict[str, Any] = {"temperature_kind": self.temperature_kind}
        if self.gauge is not None:
            found["gauge"] = _facts(self.gauge)
        elif self.panel:
            found["gauges"] = [
                {"serves": serves, "name": gauge.name} | _facts(gauge)
                for serves, gauge in self.panel
            ]
        return found


def _facts(gauge: Gauge) -> dict[str, float]:
    return {
        "class_percent": gauge.class_percent,
        "scale_bar": gauge.scale_bar,
        "step_bar": gauge.step_bar,
    }


def serving(action: str, gas: Mix | None) -> str:
    """Return what a step's stop is a stop of: ``oxygen``, ``helium`` or ``top``.

    A gas of more than half oxygen or helium is led through that gas's gauge.
    """
    if action != "add" or gas is None:
        return "top"
    if gas.he > MAIN_PART:
        return "helium"
    return "oxygen" if gas.o2 > MAIN_PART else "top"


def parse_gauge(text: str, field: str = "--gauge") -> Gauge:
    """Read a gauge: its class, the end of its scale, and what is read off it.

    Parameters
    ----------
    text : str
        ``1.6@400bar``, or with the smallest step that is read ``1.0@250bar/0.5bar``.
    field : str
        The field's name, for the error message.

    Returns
    -------
    Gauge
        What was understood.

    Raises
    ------
    InputError
        If it cannot be read, or no gauge is like that.

    Examples
    --------
    >>> parse_gauge("1.0@250bar/0.5bar").step_bar
    0.5
    """
    found = _GAUGE.fullmatch(text) if len(text) <= 60 else None
    if found is None:
        raise InputError(field, repr(text[:60]), "give CLASS@SCALE, such as 1.6@400bar")
    accuracy = parse_number(found[1], field)
    scale_bar = parse_gauge_pressure(found[2], field)
    step_bar = parse_gauge_pressure(found[3], field) if found[3] else READ_TO_BAR
    low, high = _CLASS_RANGE
    if not low <= accuracy <= high:
        raise InputError(field, f"class {accuracy:g}", f"a class from {low:g} to {high:g}")
    if not 10.0 <= scale_bar <= SCALES_BAR[-1] or not 0.0 < step_bar <= scale_bar / 10.0:
        allowed = "a scale to 10-1000 bar, read to a tenth of it or less"
        raise InputError(field, repr(text), allowed)
    return Gauge(accuracy, scale_bar, step_bar)
