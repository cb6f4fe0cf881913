"""What a paper or a screen shows of a fill: plain facts, already decided, no behaviour.

Numbers are unrounded SI or trade units as named; whoever prints them rounds to the safe
side with the functions of `blender.depth`.
"""

from __future__ import annotations

from dataclasses import dataclass

from blender.gas import Mix
from blender.record.entry import Entry
from blender.record.moment import Moment


@dataclass(frozen=True, slots=True)
class Stamp:
    """A moment as the station's clock and zone had it.

    Parameters
    ----------
    us : int
        Microseconds since 1970-01-01 UTC.
    offset_min : int
        Zone offset from UTC [min].
    """

    us: int
    offset_min: int

    @classmethod
    def of(cls, at: Moment) -> Stamp:
        """Return the stamp of a moment of the record."""
        return cls(at.us, at.offset_min)


@dataclass(frozen=True, slots=True)
class Proof:
    """Where in the record a paper stands: the entry it states, and the digest it had.

    `anchor` is the one-line text of the QR code,
    ``FILLWRIGHT1 STATION INCARNATION SEQ HEAD``.
    """

    station: str
    incarnation: int
    seq: int
    head_hex: str
    anchor: str

    @classmethod
    def of(cls, entry: Entry) -> Proof:
        """Return where an entry stands."""
        anchor = entry.anchor
        return cls(entry.station, entry.incarnation, entry.seq, entry.digest.hex(), anchor.text)


@dataclass(frozen=True, slots=True)
class CylinderFacts:
    """A cylinder or set as its stamps and the record have it."""

    serial: str
    size_text: str
    working_pressure_bar: float
    tested: str
    inspected: str
    oxygen_clean: bool


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """One analysis: percent as read and corrected; `he_percent` None if not measured."""

    o2_percent: float
    he_percent: float | None
    analyser: str
    by: str
    at: Stamp


@dataclass(frozen=True, slots=True)
class PostFacts:
    """What was analysed at one post of a set, in percent; `he_percent` None if not measured."""

    serial: str
    o2_percent: float
    he_percent: float | None


@dataclass(frozen=True, slots=True)
class LabelView:
    """Everything a label states about one accepted fill.

    The depths are those that were signed for: the maximum operating depths from the highest
    valid oxygen reading, the floor from the lowest.
    """

    station_name: str
    fill: int
    cylinder: CylinderFacts
    analysed: Mix
    o2_percent: float
    he_percent: float | None
    pressure_bar: float
    pressure_temperature_c: float
    agreed_ppo2_bar: float
    mod_agreed_m: float
    mod_agreed_ft: float
    high_ppo2_bar: float
    mod_high_m: float
    mod_high_ft: float
    floor_m: float
    floor_ft: float
    hypoxic: bool
    staff: ReadingFacts
    diver: ReadingFacts
    accepted_by: str
    accepted_at: Stamp
    sealed_by: str
    filled_by: str
    filled_at: Stamp
    strokes: tuple[tuple[tuple[float, float], ...], ...]
    extra_lines: tuple[str, ...]
    imperial: bool
    copy_number: int
    proof: Proof
    copied_at: Stamp | None = None  # when this copy was made, None for the first print
    marks: tuple[str, ...] = ()  # that it is void or amended, and by which entry
    undone: str = ""  # why what was signed for does not hold any more
    posts: tuple[PostFacts, ...] = ()  # of a set, each post's own reading


@dataclass(frozen=True, slots=True)
class StopLine:
    """One line of a work tag: what to let in, to which gauge, and what it then holds.

    `action` is the plan step's action; `gas` its name, empty where none is let in.
    """

    number: int
    action: str
    gas: str
    supply: str
    from_bar: float | None
    to_bar: float | None
    temperature_c: float | None
    holds_o2: float
    holds_he: float
    note: str


@dataclass(frozen=True, slots=True)
class TagView:
    """The work tag hung on a cylinder from the first gas let in until acceptance."""

    station_name: str
    fill: int
    cylinder: CylinderFacts
    customer: str
    wanted: str
    wanted_bar: float
    settle_c: float
    method: str
    residual: str
    residual_source: str
    stops: tuple[StopLine, ...]
    state: str
    holds_now: str
    blender: str
    started_at: Stamp
    warnings: tuple[str, ...]
    imperial: bool
    proof: Proof


@dataclass(frozen=True, slots=True)
class LogLine:
    """One fill as a line of the fill log; None where the fill has not got that far."""

    fill: int
    requested_at: Stamp
    accepted_at: Stamp | None
    collected_at: Stamp | None
    state: str
    cylinder: str
    customer: str
    residual: str
    residual_source: str
    wanted: str
    method: str
    staff_o2_percent: float | None
    staff_he_percent: float | None
    diver_o2_percent: float | None
    diver_he_percent: float | None
    analyser: str
    pressure_bar: float | None
    temperature_c: float | None
    gauge: str
    supplies: str
    oxygen_mol: float
    helium_mol: float
    top_mol: float
    blender: str
    accepted_by: str
    exceptions: tuple[str, ...]
    seq: int
    marks: tuple[str, ...] = ()  # that it is void, amended or not ours, and by which entry
    filled_at: Stamp | None = None  # when the blender let in the last gas
    posts: tuple[PostFacts, ...] = ()  # of a set, the station's reading at each post
    pressures_bar: tuple[float, ...] = ()  # what its texts were rounded from


@dataclass(frozen=True, slots=True)
class LogView:
    """The fill log over a range of days, oldest first."""

    station_name: str
    first_day: str
    last_day: str
    lines: tuple[LogLine, ...]
    printed_at: Stamp
    imperial: bool
    proof: Proof
    selection: str = ""  # what was searched for, where it is not every fill of those days


@dataclass(frozen=True, slots=True)
class DayFill:
    """A fill that somebody still had to do something about when a day was closed."""

    fill: int
    cylinder: str
    customer: str
    wanted: str


@dataclass(frozen=True, slots=True)
class DayView:
    """A day at the station, for its closing sheet; `closed_at` is None while it is open.

    Everything counts from `since`, the closing before it (None on the first day), to its own.
    `checks` are what was asked, what was answered, and whether that was a yes; `waiting` the
    fills by what they wait for, with how many there were in all.
    """

    station_name: str
    day: str
    opened_by: str
    opened_at: Stamp
    closed_by: str
    closed_at: Stamp | None
    since: Stamp | None
    checks: tuple[tuple[str, str, bool], ...]
    banks: tuple[tuple[str, str], ...]
    analysers: tuple[str, ...]
    by_state: tuple[tuple[str, int], ...]
    waiting: tuple[tuple[str, int, tuple[DayFill, ...]], ...]
    exceptions: tuple[str, ...]
    oxygen_mol: float
    helium_mol: float
    top_mol: float
    notes: tuple[str, ...]
    printed_at: Stamp
    imperial: bool
    proof: Proof
    root: str = ""  # over all stations of the shop, as witnessed last


@dataclass(frozen=True, slots=True)
class BatchLine:
    """A cylinder of a batch whose diver has not yet read and signed.

    `holds` is what it is calculated or was analysed to hold, and `unsafe` whether nobody may
    breathe that.
    """

    fill: int
    serial: str
    customer: str
    wanted: str
    state: str
    holds: str
    unsafe: bool


@dataclass(frozen=True, slots=True)
class BatchView:
    """A batch with what no diver has analysed yet; `cylinders` is how many it has in all."""

    station_name: str
    batch: int
    wanted: str
    cylinders: int
    lines: tuple[BatchLine, ...]
    printed_at: Stamp
    proof: Proof
