"""The invented station: its people, gases, meters, and the cylinders brought in on one day.

Nobody and nothing here is real.  What a cylinder *truly* holds stands beside what its owner
or its old label says; the station only ever learns what its instruments show.
"""

from __future__ import annotations

from dataclasses import dataclass

IDENT = "TARN-LEDGE-DEMO"
NAME = "Tarn Ledge fill station"
DAY = (2026, 6, 13)  # a Saturday
ZONE_MIN = 120
SEED = 1306


@dataclass(frozen=True, slots=True)
class Staff:
    """A member of staff, and the secret they sign with."""

    name: str
    role: str
    secret: str


MANAGER = Staff("Ottoline Brask", "manager", "heron-under-the-jetty")
RUBEN = Staff("Ruben Teasel", "blender", "seven-wet-gloves")
IMKE = Staff("Imke Holloway", "blender", "lamp-and-ladder")
STAFF = (MANAGER, RUBEN, IMKE)


@dataclass(frozen=True, slots=True)
class Bottle:
    """A cylinder as it is carried in.

    Parameters
    ----------
    serial, size, wp, tp, tested, inspected, clean : str
        As stamped, and as the station enters it.
    owner, certified : str
        Who brings it, and up to what they are certified.
    truly : str
        What it really holds: true pressure, gas temperature and gas.
    said : str
        The gas its old label or its owner says it holds.
    draws : bool
        Whether the owner signs with a pen; else by typing the name.
    """

    serial: str
    size: str
    owner: str
    truly: str
    said: str
    wp: str = "232bar"
    tp: str = "348bar"
    tested: str = "2024-04"
    inspected: str = "2026-02"
    clean: str = "yes"
    certified: str = "nitrox"
    draws: bool = True

    @property
    def posts(self) -> list[str]:
        """The serials stamped on it: one, or two of a set."""
        return self.serial.split("+")


PLAIN = Bottle("TL-2107", "12L", "Tamsin Oake", "59.6bar@19C:0.279/0", "EAN28")
HOT = Bottle("TL-0913", "12L", "Corwin Haddle", "60.3bar@33C:0.281/0", "EAN28", draws=False)
RICH = Bottle("KV-4471", "12L", "Lisbet Quarne", "180.4bar@18C:0.398/0", "EAN40")
SET = Bottle(
    "TW-118L+TW-118R",
    "2x12L",
    "Silvan Trask",
    "40.2bar@18C:0.212/0.348",
    "21/35",
    certified="trimix",
)
DECO = Bottle("DX-0702", "7L", "Silvan Trask", "10.1bar@19C:air", "air", certified="trimix")
CLUB = Bottle("MC-3310", "12L", "Marit Ellgood", "45.3bar@20C:air", "air", draws=False)
HASTY = Bottle("TL-3058", "12L", "Noor Fennimore", "60.2bar@20C:0.280/0", "EAN28")
DARK = Bottle("TL-1746", "12L", "Gustav Pellow", "58.9bar@20C:0.282/0", "EAN28")
STALE = Bottle("OB-0217", "12L", "Hal Overby", "35.0bar@20C:air", "air", tested="2021-03")
GREASY = Bottle("OB-5520", "10L", "Edda Marchbank", "90.0bar@20C:air", "air", clean="no")
SECRETIVE = Bottle("QR-6604", "12L", "Jory Wetherlow", "70.5bar@20C:0.331/0", "air", clean="no")
HEARSAY = Bottle("LN-8093", "12L", "Bastian Crewe", "50.4bar@20C:0.364/0", "EAN32")
BOTTLES = (
    *(PLAIN, HOT, RICH, SET, DECO, CLUB),
    *(HASTY, DARK, STALE, GREASY, SECRETIVE, HEARSAY),
)


@dataclass(frozen=True, slots=True)
class Source:
    """A supply as entered, and what it truly is: purer by a little, emptier by a little."""

    name: str
    gas: str
    true_gas: str
    size: str | None = None
    at: str | None = None
    true_at: str = ""


OXYGEN_LOW = Source("o1", "oxygen99.5", "oxygen99.6", "50L", "130bar", "129.3bar")
OXYGEN_HIGH = Source("o2", "oxygen99.5", "oxygen99.6", "50L", "190bar", "189.3bar")
HELIUM = Source("h1", "helium", "helium", "50L", "200bar", "199.2bar")
AIR = Source("air", "air", "air")
SOURCES = (OXYGEN_LOW, OXYGEN_HIGH, HELIUM, AIR)
# Oxygen for the compressor's intake comes at low pressure from a pallet of its own.
INTAKE_OXYGEN = "pallet=oxygen99.5"


@dataclass(frozen=True, slots=True)
class Meter:
    """An analyser: what it is set on, to what, and how far it truly errs.

    Parameters
    ----------
    gas, shown, air, true_gas : str
        The gas it is set on, what it is made to show, the state of the room's air if that
        is the gas, and the gas as it truly is where that differs.
    slope : float
        Its error of slope: points too much for each point above the setting [1].
    noise_points : float
        Standard deviation of one reading [percentage points].
    """

    name: str
    gas: str
    shown: str
    air: str = ""
    slope: float = 0.0
    noise_points: float = 0.05
    true_gas: str = ""


ROOM_AIR = "19C/65%"
BENCH = Meter("A1", "air", "20.9", ROOM_AIR, slope=0.006)
SECOND = Meter("A2", "air", "20.9", ROOM_AIR, slope=-0.004)
PURE = Meter("A3", "oxygen99.5", "99.5", noise_points=0.04, true_gas="oxygen99.6")
# The counter's meter is set on dry bottled air, so that a diver may take it at its word.
COUNTER = Meter("C1", "air", "20.9", slope=0.002, noise_points=0.06)
METERS = (BENCH, SECOND, PURE, COUNTER)
