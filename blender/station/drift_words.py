"""What the charts say, in plain sentences and drawn in characters."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

Facts = Mapping[str, Any]
WIDTH = 39  # cells a chart is drawn in: a line has 80, and its target is a cell


def alone(fill: int, points: float) -> str:
    """Return what an alarm of one fill says.

    Examples
    --------
    >>> alone(7, -2.3)
    'fill 7 alone came out 2.3 points below its plan: look at how it was made.'
    """
    side = "above" if points > 0.0 else "below"
    told = f"fill {fill} alone came out {abs(points):.1f} points {side} its plan"
    return f"{told}: look at how it was made."


def sentence(suspects: Sequence[Facts], serves: Mapping[str, str]) -> str:
    """Return what an alarm of many fills says: what is seen, since when, and what is likely off.

    Parameters
    ----------
    suspects : sequence of dict
        The likeliest cause first, with ``cause``, ``bias`` and ``since``.
    serves : mapping
        What each registered gauge serves.

    Examples
    --------
    >>> one = {"cause": "gauge G1", "bias": 1.3, "since": "2026-03-12"}
    >>> sentence([one], {"G1": "oxygen"})
    'oxygen stops read 1.3 bar low since 2026-03-12, likely gauge G1, the oxygen gauge.'
    """
    first, *others = suspects
    told = f"{_seen(first, serves)} since {first['since']}, likely {_called(first, serves)}"
    if not others:
        return f"{told}."
    named = " or ".join(_called(one, serves) for one in others[:3])
    return f"{told}; these fills can't tell it from {named}."


def _seen(one: Facts, serves: Mapping[str, str]) -> str:
    """Return what is seen, whatever the cause."""
    kind, _, name = one["cause"].partition(" ")
    size, more = abs(one["bias"]), one["bias"] > 0.0
    if kind == "gauge":
        stops = _stops(name, serves) or f"stops on gauge {name}"
        return f"{stops} read {size:.1f} bar {'low' if more else 'high'}"
    if kind == "supply":
        return (
            f"supply {name} has {size:.1f} points {'more' if more else 'less'} oxygen than called"
        )
    side = "high" if more else "low"
    if kind == "analyser":
        return f"analyser {name} reads {size:.1f} points {side}"
    return f"fills by {name} come out {size:.1f} points {side}"


def _stops(name: str, serves: Mapping[str, str]) -> str:
    """Return whose stops a gauge is read at, empty if that is not known."""
    if name.startswith("of "):
        return name.removeprefix("of ")
    gas = serves.get(name, "")
    return "" if gas in ("", "all") else f"{gas} stops"


def _called(one: Facts, serves: Mapping[str, str]) -> str:
    """Return a cause as people name it."""
    kind, _, name = one["cause"].partition(" ")
    if kind == "method":
        return f"the way of filling, {name}"
    if kind != "gauge":
        return str(one["cause"])
    of = _stops(name, serves).removesuffix(" stops")
    if name.startswith("of "):
        return f"the {of} gauge"
    return f"gauge {name}, the {of} gauge" if of else f"gauge {name}"


def lines(answer: Facts) -> list[str]:
    """Return what the charts say as lines for people."""
    told = [f"{answer['fills']} analysed fills on the charts"]
    for one in answer["standing"]:
        told += [f"ALARM: {one['text']}", f"  {one['evidence']}"]
    past = [one for one in answer["alarms"] if not one["standing"]]
    told += [f"earlier, {raised}: {one['text']}" for one, raised in [*in_a_row(past)][-5:]]
    told += [correction_line(one) for one in answer["corrections"]]
    return told + [chart_line(one) for one in answer["charts"]]


def in_a_row(alarms: Sequence[Facts]) -> Iterator[tuple[Facts, str]]:
    """Give alarms of one cause in a row as one, at its clearest, with when it was raised.

    An alarm near its limit comes and goes; what is off stays the same.
    """
    for _, row in groupby(alarms, key=_first_cause):
        of_one = list(row)
        raised = f"raised {of_one[0]['raised']}"
        if len(of_one) > 1:
            raised += f", {len(of_one)} times until {of_one[-1]['raised']}"
        yield max(of_one, key=_size), raised


def _first_cause(alarm: Facts) -> str:
    return str(alarm["suspects"][0]["cause"]) if alarm["suspects"] else f"fill {alarm['fill']}"


def _size(alarm: Facts) -> float:
    return abs(alarm["suspects"][0]["bias"]) if alarm["suspects"] else 0.0


def chart_line(one: Facts) -> str:
    """Return a chart's latest mean and its limits as a line."""
    beyond = "  BEYOND ITS LIMITS" if one["beyond"] else ""
    mean = f"{one['mean']:+.2f}, limits +-{one['half_width']:.2f} {one['unit']}"
    return f"{one['cause']:32} {one['fills']:>4} fills, mean {mean}{beyond}"


def correction_line(one: Facts) -> str:
    """Return a correction as a line, with who signed it and who ended it."""
    signed, ended = one["signed"], one["ended"]
    told = f"gauge {one['gauge']} corrected by {one['by_bar']:+.1f} bar from {one['since']}"
    told += f": {one['reason']} (signed {_by(signed)})"
    return told + (f"; ended {_by(ended)}: {ended['reason']}" if ended else "")


def _by(one: Facts) -> str:
    return f"{one['at'][:10]} by {one['by']}, entry {one['seq']}"


def chart_lines(answer: Facts, width: int = WIDTH) -> list[str]:
    """Return a chart as lines: each fill with its mean between the limits, drawn so wide."""
    points, unit = answer["points"], answer["unit"]
    most = 1.05 * max(max(abs(one["mean"]), one["upper"]) for one in points)
    told = [f"{answer['cause']}, {unit}; o the weighted mean, | its limits, . on target"]
    told.append(f"{'fill':>6} {'day':10} {'value':>7} {'':{width}} {'mean':>6}")
    told += [_point_line(one, most, width) for one in points]
    if single := answer["individuals"]:
        limits = f"{single['lower']:+.2f} to {single['upper']:+.2f} {unit}"
        told.append(
            f"single values: centre {single['centre']:+.2f}, limits {limits}, "
            f"{len(single['beyond'])} beyond"
        )
    return told + [correction_line(one) for one in answer["corrections"]]


def _point_line(one: Facts, most: float, width: int) -> str:
    told = f"{one['fill']:>6} {one['day']} {one['value']:+7.2f} {_drawn(one, most, width)}"
    return f"{told} {one['mean']:+6.2f}{' BEYOND' if one['beyond'] else ''}"


def _drawn(one: Facts, most: float, width: int) -> str:
    """Return one line of a chart drawn in characters."""
    row = [" "] * width
    for value, mark in ((0.0, "."), (one["lower"], "|"), (one["upper"], "|"), (one["mean"], "o")):
        share = (value / most + 1.0) / 2.0
        row[max(0, min(width - 1, round(share * (width - 1))))] = mark
    return "".join(row)
