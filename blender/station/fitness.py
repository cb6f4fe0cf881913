"""Gates about what somebody looked at or measured: the cylinder, the air, the supplies, the staff.

What is known to be wrong stops, whatever the rules.  What was never looked at only cautions
until a station makes a rule of it: then a manager is asked, or it stops where it could burn.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from blender.gas import Mix, name_of
from blender.station.gates import ASK, PASS, STOP, Gate
from blender.station.rules import Rules

LOOKS = {
    "outside": "external-look",
    "valve": "valve",
    "marking": "marking",
    "inside": "internal-look",
}
_MENDABLE = "marking"  # a label can be put right on the spot: a manager decides


def looked(what: str, ok: bool | None, note: str, *, is_rule: bool) -> Gate:
    """Was this part of the cylinder looked at, and found sound?

    Parameters
    ----------
    what : str
        One of `LOOKS`.
    ok : bool or None
        What was found; None if nobody looked.
    note : str
        What was said of it.
    is_rule : bool
        Whether the station asks for it.
    """
    name = LOOKS[what]
    if ok is None:
        return _missing(name, f"nobody looked at it: {what}", is_rule=is_rule)
    if ok:
        return Gate(name, PASS, f"{what} looked at: {note or 'sound'}")
    return Gate(name, ASK if what == _MENDABLE else STOP, f"{what} found not right: {note}")


def _missing(name: str, told: str, *, is_rule: bool, answer: str = ASK) -> Gate:
    return Gate(name, answer, told) if is_rule else Gate(name, PASS, told, caution=True)


def no_pressure(gauge_bar: float, ok: bool | None, note: str, rules: Rules) -> Gate:
    """Was a cylinder that came without pressure looked into, for water and rust?"""
    if gauge_bar >= rules.empty_bar and ok is None:
        return Gate("internal-look", PASS, f"came with {gauge_bar:.1f} bar: nothing got in")
    if ok is None:
        told = f"came with {gauge_bar:.1f} bar, water may have got in: look inside"
        return _missing("internal-look", told, is_rule=rules.inside_look == "yes")
    return looked("inside", ok, note, is_rule=True)


def rich_unclean(source: str, *, clean: bool, left: Mix, gauge_bar: float, rules: Rules) -> Gate:
    """Is rich gas said to be in a cylinder that is not in oxygen service?"""
    gas = f"{name_of(left, 1)} ({source})"
    if clean or left.o2 <= rules.clean_above_o2 or gauge_bar < rules.empty_bar:
        return Gate("residual-rich", PASS, f"{gas} suits the cylinder's service")
    told = f"{gas} in a cylinder not clean for oxygen: analyse it; found so, it is quarantined"
    return Gate("residual-rich", ASK, told)


@dataclass(frozen=True, slots=True)
class AirTest:
    """What the last test of the compressor's air found, and how old it is.

    Parameters
    ----------
    months : float
        Since the sample was taken [months].
    co_ppm, co2_ppm : float
        Carbon monoxide and dioxide [ppm].
    oil_mg, water_mg : float
        Oil and water [mg/m3].
    """

    months: float
    co_ppm: float
    co2_ppm: float
    oil_mg: float
    water_mg: float

    def over(self, rules: Rules) -> list[str]:
        """Return what is above the limits of breathing air."""
        found = (
            ("CO", self.co_ppm, rules.co_ppm, "ppm"),
            ("CO2", self.co2_ppm, rules.co2_ppm, "ppm"),
            ("oil", self.oil_mg, rules.oil_mg, "mg/m3"),
            ("water", self.water_mg, rules.water_mg, "mg/m3"),
        )
        return [f"{what} {is_:g} {unit}, limit {most:g}" for what, is_, most, unit in found
                if is_ > most]  # fmt: skip

    def is_compatible(self, rules: Rules) -> bool:
        """Whether it is clean enough to meet pure oxygen."""
        return self.oil_mg <= rules.compatible_oil_mg


def air_test(test: AirTest | None, rules: Rules) -> Gate:
    """Is the compressor's air tested, and fit to breathe?"""
    is_rule = rules.air_test_months > 0
    if test is None:
        return _missing("air-test", "no test of the compressor's air on record", is_rule=is_rule)
    if over := test.over(rules):
        return Gate("air-test", STOP, f"tested air is not fit to breathe: {'; '.join(over)}")
    if is_rule and test.months > rules.air_test_months:
        told = f"tested {test.months:.1f} months ago, interval {rules.air_test_months} months"
        return Gate("air-test", ASK, f"{told}: overdue")
    return Gate("air-test", PASS, f"tested {test.months:.1f} months ago, within the limits")


def carbon_monoxide(ppm: float | None, hours: float | None, rules: Rules) -> Gate:
    """Was the air's carbon monoxide read, and is it low enough?"""
    is_rule, name = rules.co_hours > 0, "carbon-monoxide"
    if ppm is None or hours is None:
        return _missing(name, "no reading of the air's carbon monoxide", is_rule=is_rule)
    fact = f"air read {ppm:g} ppm CO {hours:.1f} h ago, limit {rules.co_ppm:g} ppm"
    if ppm > rules.co_ppm:
        return Gate(name, STOP, f"{fact}: stop the compressor, find the source")
    if is_rule and hours > rules.co_hours:
        return Gate(name, ASK, f"{fact}: read it every {rules.co_hours} h")
    return Gate(name, PASS, fact)


def top_air(test: AirTest | None, *, clean: bool, rich: bool, rules: Rules) -> Gate:
    """Is the air clean enough for a cylinder in oxygen service?

    Parameters
    ----------
    test : AirTest or None
        The last test of that air.
    clean : bool
        Whether the cylinder is in oxygen service.
    rich : bool
        Whether the recipe lets in gas that needs oxygen service.
    rules : Rules
        The station's.
    """
    if not clean:
        return Gate("top-air", PASS, "cylinder is not in oxygen service")
    if test is None:
        told = "nobody tested whether the air is oxygen-compatible"
        is_rule = rules.compatible_air == "yes"
        return _missing("top-air", told, is_rule=is_rule, answer=STOP)
    limit = f"{rules.compatible_oil_mg:g} mg/m3"
    if test.is_compatible(rules):
        told = f"air has {test.oil_mg:g} mg/m3 oil, oxygen-compatible to {limit}"
        return Gate("top-air", PASS, told)
    told = f"ordinary air: {test.oil_mg:g} mg/m3 oil, oxygen-compatible to {limit}"
    if rich:
        return Gate("top-air", STOP, f"{told}; it must not meet oxygen")
    return Gate("top-air", PASS, f"{told}; it ends the cylinder's oxygen service", caution=True)


def supply_gas(name: str, measured_o2: float | None, named: Mix, rules: Rules) -> Gate:
    """Was what is in a supply analysed before it is drawn from, and is it what it is called?"""
    gate = "supply-gas"
    if measured_o2 is None:
        is_rule = rules.supply_analysis == "yes"
        return _missing(gate, f"{name} was not analysed since it was connected", is_rule=is_rule)
    fact = f"{name} analysed {measured_o2:.1%} O2, called {name_of(named, 1)}"
    if abs(measured_o2 - named.o2) * 100.0 > rules.supply_points + 1e-9:
        return Gate(gate, STOP, f"{fact}: not the gas it is called")
    return Gate(gate, PASS, fact)


def qualified(name: str, methods: Collection[str], method: str, rules: Rules) -> Gate:
    """Is whoever fills qualified for the method?"""
    if method in methods:
        return Gate("qualified", PASS, f"{name} is qualified for {method}")
    if methods:
        told = f"{name} is qualified for {', '.join(sorted(methods))}, not for {method}"
        return Gate("qualified", ASK, told)
    told = f"no qualification of {name} on record"
    return _missing("qualified", told, is_rule=rules.qualified == "yes")


def undertaken(name: str, *, has: bool, rules: Rules) -> Gate:
    """Has the signer signed what signing means?"""
    if has:
        return Gate("undertaking", PASS, f"{name} has signed what signing means")
    told = f"{name} has not yet signed what signing means: `person undertake`"
    return _missing("undertaking", told, is_rule=rules.undertaking == "yes", answer=STOP)


def drift(name: str, off_points: float | None, rules: Rules) -> Gate:
    """Did the analyser show a known gas rightly, where that was tried since it was set?"""
    if off_points is None:
        return Gate("drift", PASS, f"{name}: no check on a known gas since it was set")
    fact = f"{name} was off by {off_points:+.1f} points, at most {rules.drift_points:g}"
    if abs(off_points) > rules.drift_points + 1e-9:
        return Gate("drift", STOP, f"{fact}: calibrate it afresh")
    return Gate("drift", PASS, fact)


def straight(name: str, off_points: float | None, rules: Rules) -> Gate:
    """Does the analyser read straight, where that was tried on two gases?"""
    if off_points is None:
        return Gate("linearity", PASS, f"{name}: not tried on a second gas")
    fact = f"{name} is off by {off_points:+.1f} points at 40 %, at most {rules.drift_points:g}"
    if abs(off_points) > rules.drift_points + 1e-9:
        return Gate("linearity", STOP, f"{fact}: it does not read straight; change its cell")
    return Gate("linearity", PASS, fact)


HELIUM_POINTS = 2.0  # how far off on a known helium is still believed; common practice, no source


def knows_helium(name: str, off_points: float | None) -> Gate:
    """Was the analyser ever tried on a known helium, whose reading is now believed?"""
    if off_points is None:
        told = f"{name} was never tried on a known helium: its helium reading is not checked"
        return _missing("helium-known", told, is_rule=False)
    fact = f"{name} showed a known helium off by {off_points:+.1f} points"
    if abs(off_points) > HELIUM_POINTS + 1e-9:
        return Gate("helium-known", STOP, f"{fact}, at most {HELIUM_POINTS:g}: set it on helium")
    return Gate("helium-known", PASS, fact)


def two_parties(customer: Collection[str], staff: Collection[str], rules: Rules) -> Gate:
    """Is the customer who signs somebody else than those who filled, analysed and hand over?"""
    same = {plain_name(name) for name in customer} & {plain_name(name) for name in staff}
    if not same:
        return Gate("two-parties", PASS, "customer and staff are different people")
    told = "the customer who signs is also the one who filled, analysed or hands over"
    return Gate("two-parties", ASK if rules.one_person == "yes" else STOP, told)


def plain_name(name: str) -> str:
    """Return a name without regard to its letters' size and its blanks."""
    return " ".join(name.casefold().split())
