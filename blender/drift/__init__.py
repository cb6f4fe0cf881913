"""What a long row of fills says of the instruments: charts, alarms, the likeliest cause.

Each analysed fill departs from what its plan predicted.  One departure says little; many in
one direction say that a gauge, an analyser, a gas or a way of filling is off.
"""

from blender.drift.departure import Departure
from blender.drift.ewma import Ewma, limit_for, mean_run
from blender.drift.family import Alarm, Family, watched
from blender.drift.individuals import Individuals, individuals

__all__ = [
    "Alarm",
    "Departure",
    "Ewma",
    "Family",
    "Individuals",
    "individuals",
    "limit_for",
    "mean_run",
    "watched",
]
