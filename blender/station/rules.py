"""The station's settings: limits, tolerances and intervals, strictest by default.

Local codes and the cylinder's own marking come first; these are what the station adds.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from sqlalchemy import Connection

from blender.record import search
from blender.record.kept import once
from blender.record.models import RuleRow
from blender.record.projection import table

USUAL_REST_MINUTES = 10  # common practice, no source


@dataclass(frozen=True, slots=True)
class Rules:
    """One station's rule set.

    Parameters
    ----------
    name : str
        Name of the rule set, shown beside every refusal.
    reference_c : float
        Gas temperature at which working pressure counts [degC].
    hot_c : float
        Gas temperature at which the developed pressure must stay within test
        pressure [degC].
    clean_above_o2 : float
        A gas richer than this [1] goes only into a cylinder in oxygen service.
    test_years : int
        Interval of the periodic (hydrostatic) test [years].
    inspection_months : int
        Interval of the visual inspection [months].
    agreed_ppo2_bar, high_ppo2_bar : float
        Oxygen partial pressures the label states its depths for [bar].
    floor_ppo2_bar : float
        Oxygen partial pressure below which a mix is hypoxic [bar].
    pressure_tolerance_bar : float
        How far a reading may lie from a stop and still close its step [bar].
    leak_tolerance_bar : float
        How far a reading on resuming may lie from what it should be [bar], a class 1.0
        gauge on a 250 bar scale.
    bank_tolerance_bar : float
        How far a bank's gauge may lie from what the record expects before it is an exception
        [bar]; a class 1.6 gauge on a 315 bar scale, own choice.
    rating_tolerance_bar : float
        Rounding allowed over the working pressure [bar].
    settle_minutes : int
        After gas was let in, how long a wall or room temperature is not the gas's [min].
    rest_minutes : int
        How long a drained cylinder rests before its second reading counts, and a filled one
        before it is analysed [min]; 0 only cautions, and 10 is common practice, no source.
    empty_bar : float
        Below this gauge pressure what was left cannot matter to the mix [bar].
    oxygen_minimum : float
        What a request for oxygen must reach [1].
    calibration_hours : int
        After this a calibration is named as old [h].
    calculated_points : float
        How far an analysis may lie from the calculated oxygen before a manager is asked
        [percentage points]; twice what a class 1.6 gauge can do, own choice.
    oxygen_rate_bar_min : float
        Highest rate at which oxygen is let in [bar/min]; common practice, no source.
    gas_order : str
        Which goes in first where both do: ``either``, ``helium first`` or ``oxygen first``.
    look, inside_look : str
        ``yes``: every cylinder is looked at from outside, with valve and marking, before its plan;
        one that came without pressure also inside.  ``no`` only cautions.
    supply_analysis : str
        ``yes``: no supply is drawn from before its gas was analysed; ``no`` only cautions.
    supply_points : float
        How far a supply's analysis may lie from what it is called [percentage points].
    co_hours, air_test_months : int
        A carbon-monoxide reading of the air, and a test of the compressor's air, are good so long
        [h], [months]; 0 only cautions.
    co_ppm, co2_ppm, oil_mg, water_mg : float
        What breathing air has at most: carbon monoxide and dioxide [ppm], oil and water [mg/m3].
    compatible_oil_mg : float
        Oil that air for a cylinder in oxygen service has at most [mg/m3].
    compatible_air : str
        ``yes``: air known to be that clean is needed there; ``no`` only cautions.
    qualified : str
        ``yes``: whoever fills has the method among their qualifications; ``no`` only cautions
        where none were entered.
    drift_points : float
        How far an analyser checked on a known gas may be off [percentage points].
    one_person : str
        ``yes``: whoever filled may sign as the customer too, each time as an exception.
    undertaking : str
        ``yes``: nobody signs before they signed what signing means; ``no`` only cautions.
    allow_reason : str
        ``yes``: a manager allows nothing without a reason; ``no`` notes that none was given.
    sign_each : str
        ``yes``: at a terminal the secret is asked for again at each signature; ``no`` once, until
        it locks or somebody else signs in.
    review_months : int
        The list of accounts is gone through so often [months]; 0 is no such rule.
    air_first_bar : float
        Least gauge pressure in the cylinder before oxygen is let in [bar]; 0 is no such rule,
        100 psi is US Navy practice (from memory).
    least_step_bar : float
        A gas that would raise the gauge by less is left out of a plan where the mix lands within
        half a point without it [bar]; 0 leaves nothing out.
    copy_folder : str
        Where copies of the record are made by themselves; empty is nowhere.
    copy_minutes : int
        How often, if anything was entered since [min]; 0 is never.
    copies_kept : int
        How many of them are kept.
    disk_least_mb : int
        With less room on the record's disk, everybody is warned [MB]; own choice.
    paper, label_stock : str
        The sheet of every printed paper and the stock of a label, unless another is asked for.
    units : str
        ``bar`` or ``psi``: what papers state pressures in, with the rest.  A paper of one fill
        keeps the units of its request until this rule was set.
    """

    name: str = "station default (EN style intervals, strictest oxygen rule)"
    reference_c: float = 15.0
    hot_c: float = 65.0
    clean_above_o2: float = 0.22
    test_years: int = 5
    inspection_months: int = 12
    agreed_ppo2_bar: float = 1.4
    high_ppo2_bar: float = 1.6
    floor_ppo2_bar: float = 0.18
    pressure_tolerance_bar: float = 1.0
    leak_tolerance_bar: float = 2.5
    bank_tolerance_bar: float = 5.0
    rating_tolerance_bar: float = 0.05
    settle_minutes: int = 30
    rest_minutes: int = 0
    empty_bar: float = 1.0
    oxygen_minimum: float = 0.99
    calibration_hours: int = 24
    calculated_points: float = 5.0
    oxygen_rate_bar_min: float = 4.0
    gas_order: str = "either"
    air_first_bar: float = 0.0
    least_step_bar: float = 0.0
    copy_folder: str = ""
    copy_minutes: int = 0
    copies_kept: int = 30
    disk_least_mb: int = 200
    paper: str = "a4"
    label_stock: str = "roll-100x62"
    units: str = "bar"
    look: str = "no"
    inside_look: str = "no"
    supply_analysis: str = "no"
    supply_points: float = 1.0
    co_hours: int = 0
    co_ppm: float = 2.0
    co2_ppm: float = 500.0
    oil_mg: float = 0.5
    water_mg: float = 35.0
    compatible_oil_mg: float = 0.1
    compatible_air: str = "no"
    air_test_months: int = 0
    qualified: str = "no"
    drift_points: float = 1.0
    one_person: str = "no"
    undertaking: str = "no"
    allow_reason: str = "no"
    sign_each: str = "no"
    review_months: int = 0

    @property
    def advised_rest_minutes(self) -> int:
        """How long to let a cylinder rest [min]: the rule, else the usual caution."""
        return self.rest_minutes or USUAL_REST_MINUTES


def in_force(conn: Connection) -> Rules:
    """Return the rules a station works by: the usual ones, with what a manager changed."""
    return once(conn, table(RuleRow).name, "in force", lambda: _in_force(conn))


def _in_force(conn: Connection) -> Rules:
    kinds = {one.name: one.type for one in fields(Rules)}
    of_kind = {"int": int, "float": float, "str": str}
    changed = {row.rule: row.new for row in search.rule_changes(conn) if row.rule in kinds}
    return replace(Rules(), **{name: of_kind[str(kinds[name])](v) for name, v in changed.items()})
