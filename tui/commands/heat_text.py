"""What `fillwright heat` says to people: its lines, and its warnings."""

from __future__ import annotations

from typing import Any

from blender.heat.fitting import FIRST_GUESS_W_K
from blender.planning.cautions import HYPOXIC_O2, OXYGEN_SERVICE_O2
from tui.commands.plan import CAUTION

# Cylinders are made for service up to 65 degC (the temperature their developed pressure counts at).
HOTTEST_WALL_C = 65.0
# Readings scattered wider than this say that the model does not follow them [K, or bar].
WIDE_SCATTER = 3.0
_LUMPED = (
    "an estimate: gas and metal are each taken to have one temperature. Let the cylinder rest, "
    "read it again, and trust that reading"
)
_ASSUMED = (
    f"the conductances are not this station's: inside {FIRST_GUESS_W_K[0]:g} W/K and outside "
    f"{FIRST_GUESS_W_K[1]:g} W/K are assumed where none was given. Find them with --readings"
)


def lines(found: dict[str, Any]) -> list[str]:
    """Write out where to shut it, how warm it is, and when it is at rest."""
    stop, result, asked = found["stop"], found["result"], found["request"]
    helium = f", He {result['he']:.2%}" if result["he"] > 5e-5 else ""
    told = [
        f"Shut at {stop['pressure_bar']:.1f} bar, {asked['minutes']:g} min after the start: it "
        f"settles at {result['pressure_bar']:.1f} bar at {result['settled_temperature_c']:.0f} "
        f"degC, O2 {result['o2']:.2%}{helium}.",
        *_sure(stop),
        f"   Then gas {stop['gas_c']:.0f} degC, metal {stop['wall_c']:.0f} degC; "
        f"{stop['amount_mol']:.2f} mol ({stop['mass_g']:.0f} g) let in.",
        *_early(found),
        *_bounds(found["bounds"]),
        _cooling(found["cooling"]),
        "On the way: " + ", ".join(_point(point) for point in found["curve"]) + ".",
        *_fit(found),
    ]
    return [*told, *(f"! {warning['text']}" for warning in found["warnings"]), CAUTION]


def _sure(stop: dict[str, float]) -> list[str]:
    if "pressure_uncertainty_bar" not in stop:
        return []
    off_bar = stop["pressure_uncertainty_bar"]
    return [
        f"   The stop is sure to +- {off_bar:.1f} bar (k = 2) as far as the fitted conductances go."
    ]


def _early(found: dict[str, Any]) -> list[str]:
    if "shut_at_want" not in found:
        return []
    settles_bar = found["shut_at_want"]["settles_bar"]
    want_bar = found["request"]["want_bar"]
    return [f"   Shut at {want_bar:.1f} bar, it would settle at {settles_bar:.1f} bar."]


def _bounds(bounds: dict[str, float]) -> list[str]:
    words = {
        "wall_as_warm_as_gas_bar": "if the metal were always as warm as the gas",
        "no_heat_to_wall_bar": "if it took no heat",
    }
    said = [f"{bounds[name]:.1f} bar {word}" for name, word in words.items() if name in bounds]
    return [f"   The stop would be {', '.join(said)}."] if said else []


def _cooling(cooling: dict[str, float]) -> str:
    ends = f"{cooling['ends_bar']:.1f} bar in a room of {cooling['room_c']:.0f} degC"
    if "minutes" not in cooling:
        return f"At rest it shows {ends}; with these conductances that takes more than two days."
    return f"Within 1 bar of rest, {ends}, {cooling['minutes']:.0f} min after it is shut."


def _point(point: dict[str, float]) -> str:
    return f"{point['pressure_bar']:.0f} bar {point['gas_c']:.0f} degC"


def _fit(found: dict[str, Any]) -> list[str]:
    if "fit" not in found:
        return []
    fit = found["fit"]
    return [
        f"From {fit['compared']} values read: inside {fit['inside_w_k']:.1f} +- "
        f"{fit['inside_standard_uncertainty_w_k']:.1f} W/K, outside {fit['outside_w_k']:.2f} +- "
        f"{fit['outside_standard_uncertainty_w_k']:.2f} W/K (k = 1); they lie "
        f"{fit['scatter']:.1f} K or bar from the model."
    ]


def warnings(found: dict[str, Any]) -> list[dict[str, str]]:
    """Return what must be known besides the figures, most urgent first."""
    asked, stop, result = found["request"], found["stop"], found["result"]
    richest = max(asked["fill_gas"]["o2"], result["o2"])
    told = []
    if result["o2"] < HYPOXIC_O2 - 1e-9:
        text = f"DO NOT BREATHE at the surface: it holds only {result['o2']:.1%} oxygen"
        told.append(("hypoxic", text))
    if richest > OXYGEN_SERVICE_O2:
        text = (
            f"gas with {richest:.1%} oxygen grows hot in there: only into a cylinder, valve and "
            "whip that are clean for oxygen, slowly"
        )
        told.append(("oxygen-service", text))
    if stop["pressure_bar"] > asked["want_bar"] + 1e-6:
        text = (
            f"the stop is {stop['pressure_bar'] - asked['want_bar']:.1f} bar above what it settles "
            "at: only if cylinder, valve, whip and panel are made for that; filling more slowly "
            "brings it down"
        )
        told.append(("hot-stop", text))
    if max(point["wall_c"] for point in found["curve"]) > HOTTEST_WALL_C:
        text = (
            f"the metal passes {HOTTEST_WALL_C:g} degC, which no cylinder is made for: fill slower"
        )
        told.append(("hot-wall", text))
    if found.get("fit", {}).get("scatter", 0.0) > WIDE_SCATTER:
        told.append(("poor-fit", "the readings do not follow the model: read another fill"))
    if asked["conductances"] == "assumed":
        told.append(("assumed-conductances", _ASSUMED))
    told.append(("lumped", _LUMPED))
    return [{"code": code, "text": text} for code, text in told]
