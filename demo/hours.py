"""Before the first customer and after the last: opening, closing, and the order of the day."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence

from blender.station import book
from blender.station.equipment import add_analyser, add_supply, calibrate
from blender.station.register import supplies
from demo.clock import minute_of
from demo.day import PROGRAMME
from demo.hands import Day, Hands
from demo.panel import Waiting
from demo.station import DAY, MANAGER, METERS, NAME, ROOM_AIR, SOURCES, STAFF, Meter
from demo.world import CHECK_IN

Scene = Callable[[Day], Waiting]


def foreword(day: Day) -> None:
    """Say what this is."""
    told = day.account.section(f"{NAME.upper()}, {day.now.local:%Y-%m-%d}")
    told.paragraph("")
    told.say(
        "One day at a fill station that does not exist. Names, serials and gases are invented; "
        "the figures are not: every plan, gate, reading and verdict below is what the program "
        "answered when it was asked, and what the gauges and cells showed comes from the gas "
        "that was really let in, not from the plan."
    )


def opening(day: Day) -> None:
    """Enter the supplies, and set every analyser before it is believed."""
    told, actor, clock = day.account.section("OPENING"), day.staff[MANAGER.name], day.clock
    told.paragraph(clock.time)
    names = [f"{person.name} ({person.role})" for person in STAFF]
    told.say(
        f"{MANAGER.name} unlocked the shed and began the record: nothing was in it before. "
        f"Signed in for the day: {', '.join(names)}."
    )
    for source in SOURCES:
        clock.wait(2)
        day.world.connect(source)
        data = add_supply(
            day.station, actor, name=source.name, gas=source.gas, size=source.size, at=source.at
        )
        if data["size_ml"]:
            told.say(
                f"{data['name']}: {data['gas_typed']}, {data['typed']['size']} at "
                f"{data['typed']['at']}."
            )
    told.paragraph(clock.time)
    told.say(f"The air in the shed was at {ROOM_AIR.replace('/', ', ')} humidity.")
    told.say(*(_set(day, meter) for meter in METERS))


def _set(day: Day, meter: Meter) -> str:
    """Set one analyser and enter it."""
    actor = day.staff[MANAGER.name]
    day.clock.wait(3)
    day.world.cells[meter.name].set_on_its_gas()
    add_analyser(day.station, actor, name=meter.name)
    data = calibrate(
        day.station, actor, name=meter.name, gas=meter.gas, reading=meter.shown, air=meter.air
    )
    on = "the damp air of the shed" if data["air_typed"] else f"dry {data['gas_typed']}"
    return f"{data['analyser']} was made to show {data['reading_typed']} on {on}."


def run(day: Day, programme: Sequence[tuple[str, Scene]] = PROGRAMME) -> None:
    """Let the scenes run, each as soon as it is due; the clock never goes back."""
    queue: list[tuple[float, int, Waiting | None]] = []
    for number, (time, _) in enumerate(programme):
        heapq.heappush(queue, (minute_of(time), number, None))
    while queue:
        due, number, going = heapq.heappop(queue)
        day.clock.until(due)
        scene = going or programme[number][1](day)
        wait = next(scene, None)
        if wait is not None:
            heapq.heappush(queue, (day.clock.minute + wait, number, scene))


def closing(day: Day) -> str:
    """Print the log, look at the bank, and hold what was made against what is true."""
    told = day.account.section("CLOSING")
    day.clock.until(minute_of("19:30"))
    told.paragraph(day.clock.time)
    rows = book.fills(day.station.record)["fills"]
    states = [row["state"] for row in rows]
    counted = ", ".join(f"{states.count(name)} {name}" for name in dict.fromkeys(states))
    told.say(f"{len(rows)} fills in the book: {counted}.")
    told.say(*_bank(day))
    told.paragraph(day.clock.time)
    told.say(
        "What was asked, what the plan promised, what the station's own analysis found - and "
        "what truly was in it, which no station can know and a demonstration can:"
    )
    told.tables += _table(day)
    day.clock.wait(5)
    stamp = "{}-{:02d}-{:02d}".format(*DAY)
    return day.papers.closing(day.station.record, stamp, day.now)


def _bank(day: Day) -> list[str]:
    """Compare each bottle's gauge with what the record says should be left."""
    left = {row["name"]: row["pressure_bar"] for row in supplies(day.station.record)["supplies"]}
    found = []
    for source in SOURCES:
        bottle, should = day.world.sources.get(source.name), left[source.name]
        if bottle is not None and should is not None:
            shown = CHECK_IN.shows(bottle.gauge_bar)
            found.append(f"{source.name} should show {should:.1f} bar and shows {shown:.1f}.")
    return found


def _table(day: Day) -> list[str]:
    """Return the fills that got a label, one a line."""
    rows = {row["fill"]: row for row in book.fills(day.station.record)["fills"]}
    head = f"       {'fill':>4}  {'asked':>9}  {'promised':>9}  {'analysed':>9}  {'truly':>9}"
    return ["", head, *(_row(fill, rows[fill.number]) for fill in day.fills if _made(fill))]


def _made(fill: Hands) -> bool:
    return fill.number in fill.day.labels and fill.promised is not None


def _row(fill: Hands, row: dict[str, object]) -> str:
    wanted, analysed = row["wanted"], row["analysed"]
    assert isinstance(wanted, dict)
    found = analysed["o2"] if isinstance(analysed, dict) else float("nan")
    truth = fill.day.world.oxygen(fill.bottle.serial)
    figures = (wanted["o2"], fill.promised or 0.0, found, truth)
    return f"       {fill.number:>4}" + "".join(f"  {100 * x:>7.2f} %" for x in figures)
