"""The scenes of the day, one function each.

A scene acts through `Fill` and so through the use cases alone.  It yields the minutes it has
to wait; meanwhile other scenes go on.  No scene takes for granted what a use case will answer:
where one refuses, the story goes another way and says so.
"""

from __future__ import annotations

from blender.errors import RefusedError
from blender.station import ending
from demo import words
from demo.hands import Day
from demo.panel import REST_MIN, Fill, Waiting
from demo.station import (
    CLUB,
    DARK,
    DECO,
    GREASY,
    HASTY,
    HEARSAY,
    HOT,
    IMKE,
    INTAKE_OXYGEN,
    PLAIN,
    PURE,
    RICH,
    ROOM_AIR,
    RUBEN,
    SECOND,
    SECRETIVE,
    SET,
    STALE,
)

_PANEL_MAX = "232bar"
_CUT_MIN = 62.0


def plain_repeat(day: Day) -> Waiting:
    """A cylinder everybody knows: the plainest fill there is."""
    fill = Fill(day, PLAIN, RUBEN, "EAN32 to 230 bar")
    fill.check_in("230bar:EAN32")
    fill.analyse()
    fill.plan()
    fill.start()
    yield from fill.follow()
    fill.analyse()
    fill.accept()
    # Its owner is still at breakfast: label and cylinder wait on the counter.
    yield 45
    fill.paragraph()
    fill.say("Breakfast over.")
    fill.hand_over()


def hot_cylinder(day: Day) -> Waiting:
    """A cylinder out of a hot car: every stop at its own temperature; then a wrong label."""
    fill = Fill(day, HOT, IMKE, "a hot cylinder, EAN32 to 230 bar")
    fill.check_in("230bar:EAN32")
    fill.say("It had lain in the boot of a black car.")
    fill.analyse()
    fill.plan(temperature="30C,41C", limit=_PANEL_MAX)
    fill.start()
    yield from fill.follow()
    fill.analyse()
    fill.accept()
    others = [label for number, label in day.labels.items() if number != fill.number]
    if others and fill.state == "accepted":
        fill.say("Two labels lay on the counter, and the first one scanned was the other one.")
        fill.hand_over(label=others[-1])
        fill.say("Then the right one.")
    fill.hand_over()


def rebound(day: Day) -> Waiting:
    """Too rich to top: bled in a hurry, and the gauge climbs again."""
    fill = Fill(day, RICH, RUBEN, "from EAN40 down to EAN32, 200 bar")
    fill.check_in("200bar:EAN32")
    fill.analyse()
    fill.plan()
    fill.start()
    fill.say(f"{RUBEN.name.split()[0]} was in a hurry and opened the bleed wide.")
    yield from fill.follow(chilled_k=26.0)
    fill.analyse()
    fill.accept()
    fill.hand_over()


def trimix_set(day: Day) -> Waiting:
    """A twin-set, helium first, with nothing breathable in it for half an hour."""
    fill = Fill(day, SET, IMKE, "a twin-set, trimix 18/45 to 220 bar")
    fill.check_in("220bar:18/45")
    fill.analyse()
    fill.plan()
    fill.start(isolator="closed")
    if fill.state == "planned":
        fill.say("She opened it, and looked a second time.")
        fill.start(isolator="open")
    if fill.state == "filling":
        fill.say("The tag with the plan was hung on the manifold before a valve was opened.")
        day.papers.tag(day.station.record, fill.number)
    yield from fill.follow()
    left, right = SET.posts
    fill.analyse(post=left)
    if not fill.accept():
        fill.analyse(post=right)
        fill.accept()
    fill.hand_over()


def oxygen_purge(day: Day) -> Waiting:
    """A deco cylinder after its inspection, full of air: drained, purged, filled with oxygen."""
    fill = Fill(day, DECO, IMKE, "oxygen to 120 bar in a 7 L cylinder")
    fill.check_in("120bar:oxygen")
    fill.analyse()
    fill.plan()
    fill.start()
    yield from fill.follow()
    fill.analyse(PURE)
    fill.accept()
    fill.hand_over()


def continuous_flow(day: Day) -> Waiting:
    """A top-up by continuous flow in damp air, behind a meter that has drifted."""
    fill = Fill(day, CLUB, RUBEN, "EAN32 to 220 bar by continuous flow")
    fill.check_in("220bar:EAN32")
    fill.analyse()
    fill.say(f"Damp weather: {ROOM_AIR.replace('/', ' and ')} humidity at the intake.")
    flow = {"method": "continuous-flow", "intake_air": ROOM_AIR, "delivery": "200L/min"}
    fill.plan(rated_intake="40%", supply=(INTAKE_OXYGEN,), **flow)
    fill.start()
    day.world.intake_error = 0.05
    yield from fill.follow()
    fill.analyse()
    if fill.decision == "relabel":
        fill.paragraph(5)
        fill.say("The intake meter turned out to be the culprit: its cell was four years old.")
        fill.say(f"{CLUB.owner} would have the gas that was asked for.")
        fill.plan()
        fill.start()
        yield from fill.follow()
        fill.analyse()
    fill.accept()
    fill.hand_over()


def overshoot(day: Day) -> Waiting:
    """Oxygen past its stop: not hidden, left to mix, analysed, bled, and right in the end."""
    fill = Fill(day, HASTY, RUBEN, "EAN32 to 230 bar, with a detour")
    fill.check_in("230bar:EAN32")
    fill.analyse()
    fill.plan()
    fill.start()
    fill.say("The telephone rang.")
    yield from fill.follow(to_top=True, slip_bar=7.5)
    fill.say(f"{RUBEN.name.split()[0]} asked for a new plan on the spot.")
    if not fill.plan():
        fill.paragraph()
        if fill.hold("oxygen beyond its stop: left to mix before anything is let out"):
            day.papers.tag(day.station.record, fill.number)
        yield REST_MIN
        fill.paragraph()
        fill.analyse()
        fill.plan()
        fill.resume(HASTY.serial)
    yield from fill.follow()
    fill.analyse()
    fill.accept()
    fill.hand_over()


def power_cut(day: Day) -> Waiting:
    """The lights go out between oxygen and air; an hour later the fill goes on."""
    fill = Fill(day, DARK, IMKE, "EAN32 to 230 bar, and a power cut")
    fill.check_in("230bar:EAN32")
    fill.analyse()
    fill.plan()
    fill.start()
    yield from fill.follow(to_top=True)
    fill.paragraph()
    should_bar = fill.hold("the power failed along the whole shore")
    if should_bar is not None:
        day.papers.tag(day.station.record, fill.number)
        fill.say(
            "The desk has a battery, and the tag came out of the printer. The gauge ought to show "
            f"{should_bar:.1f} bar at 15 degC, if the night should come first."
        )
    yield _CUT_MIN
    day.world.room_c = 16.0
    day.world.rest(DARK.serial)
    fill.paragraph()
    fill.say("The lights came back. In the half-dark, somebody read the serial off another.")
    fill.resume(STALE.serial)
    fill.resume(DARK.serial)
    yield from fill.follow()
    fill.analyse()
    fill.accept()
    fill.hand_over()


def turned_away(day: Day) -> Waiting:
    """By lamplight at the counter: two cylinders that get no gas today."""
    fill = Fill(day, STALE, RUBEN, "out of test")
    fill.check_in("200bar:air", residual="stated")
    if not fill.plan():
        fill.reject("out of periodic test; sent to the test house, not filled")
    yield 4
    fill = Fill(day, GREASY, RUBEN, "EAN36 wanted, but not in this cylinder")
    fill.check_in("200bar:EAN36")
    fill.analyse()
    if not fill.plan():
        fill.reject("not clean for oxygen; to be cleaned first, not filled")


def quarantined(day: Day) -> Waiting:
    """A cylinder that should hold air and does not."""
    fill = Fill(day, SECRETIVE, RUBEN, "air to 200 bar, and a surprise")
    fill.check_in("200bar:air")
    yield 2
    fill.analyse()
    if fill.state != "quarantined":
        return
    fill.paragraph(2)
    fill.say(f"{SECRETIVE.owner} asked {RUBEN.name} to look away this once.")
    try:
        ending.release(day.station, fill.actor, fill.number, reason="owner says it is fine")
    except RefusedError as error:
        fill.say(words.capital(error.text), "It stays in the cage until a manager has looked.")


def hearsay(day: Day) -> Waiting:
    """What the owner said is not what was in it; and then his meter disagrees."""
    fill = Fill(day, HEARSAY, IMKE, "EAN32 to 210 bar, on hearsay")
    fill.check_in("210bar:EAN32", residual="stated")
    if not fill.plan():
        fill.say("So it was analysed.")
        fill.analyse()
        fill.plan()
    fill.start()
    yield from fill.follow()
    fill.analyse()
    # His own meter was set in the wind, on breath-damp air, and reads low.
    fill.accept(shown=round(day.world.oxygen(HEARSAY.serial) * 100.0 - 0.95, 1))
    if fill.state == "recheck":
        fill.paragraph(3)
        fill.say("The same meter again?")
        fill.analyse()
        fill.say("Then another.")
        fill.analyse(SECOND)
        fill.accept()
    fill.hand_over()


# When each scene begins; between its acts the others go on.
PROGRAMME = (
    ("07:50", plain_repeat),
    ("08:20", hot_cylinder),
    ("09:35", rebound),
    ("10:20", trimix_set),
    ("11:30", oxygen_purge),
    ("12:45", continuous_flow),
    ("13:20", overshoot),
    ("15:40", power_cut),
    ("16:15", turned_away),
    ("16:35", quarantined),
    ("17:20", hearsay),
)
