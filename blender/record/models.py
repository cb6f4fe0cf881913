"""The read models: what the record says now, one table an idea.

Everything here can be dropped and filled again from the journal and the private rows
(`blender.record.rebuild`), so a change of these tables is a rebuild, never a migration.
Numbers are the journal's integers: mbar gauge, mK, ppm, mL, umol, microseconds UTC.
Columns that hold lists hold compact JSON text.
"""

from __future__ import annotations

from sqlalchemy import Boolean, Index, Integer
from sqlmodel import Field, SQLModel

from blender.record.dialect import TEXT, WHOLE
from blender.record.models_of_shop import OF_SHOP


class StationRow(SQLModel, table=True):
    """The one station of this chain."""

    __tablename__ = "station"
    station: str = Field(primary_key=True)
    name: str
    incarnation: int
    key: str
    founded_us: int
    seq: int


class PersonRow(SQLModel, table=True):
    """Staff and customers; `name` is None once the person was erased."""

    __tablename__ = "person"
    person: str = Field(primary_key=True)
    name: str | None = Field(index=True)
    role: str
    qualified: str
    certified: str
    key: str
    seq: int


class CylinderRow(SQLModel, table=True):
    """A cylinder or set by its serial, with its stamps."""

    __tablename__ = "cylinder"
    serial: str = Field(primary_key=True)
    size_ml: int
    posts: int
    size_typed: str
    wp_mbar: int
    tp_mbar: int
    tested: str
    inspected: str
    clean: bool
    seq: int


class SupplyRow(SQLModel, table=True):
    """A gas the station can let in; `size_ml` 0 means never runs out.

    `read_us` is when its gauge was last read, 0 for never; a retired one is not planned with.
    `delivery` is the number of the delivery its bottle came with, 0 if nobody said.
    """

    __tablename__ = "supply"
    name: str = Field(primary_key=True)
    gas_typed: str
    o2_ppm: int
    he_ppm: int
    size_ml: int
    content_umol: int
    read_us: int
    retired: bool
    lot: str
    certificate: str
    delivery: int
    seq: int


class PriceRow(SQLModel, table=True):
    """What a cubic metre of free gas from a supply costs, in millionths of the shop's money."""

    __tablename__ = "price"
    supply: str = Field(primary_key=True)
    m3_micro: int
    seq: int


class CompressorRow(SQLModel, table=True):
    """A compressor of the station; `rated_ppm` is dry oxygen, -1 of the others is not known.

    `retired` is why it was taken out of use, empty while it is in use.
    """

    __tablename__ = "compressor"
    name: str = Field(primary_key=True)
    rated_ppm: int
    max_mbar: int
    delivery_ml_min: int
    retired: str
    seq: int


class AnalyserRow(SQLModel, table=True):
    """An analyser and its last calibration; `calibrated_us` 0 means never.

    `retired` is why it was taken out of use, empty while it is in use.
    """

    __tablename__ = "analyser"
    name: str = Field(primary_key=True)
    calibrated_us: int
    gas_typed: str
    reading_typed: str
    ambient_typed: str
    air_typed: str
    calibrated_by: str
    retired: str
    seq: int


class RuleRow(SQLModel, table=True):
    """One change of a rule of the station; the last of a rule is in force."""

    __tablename__ = "rule"
    seq: int = Field(primary_key=True)
    rule: str = Field(index=True)
    new: str
    old_text: str
    new_text: str
    reason: str
    person: str
    at_us: int
    offset_min: int


class FillRow(SQLModel, table=True):
    """One fill, where it stands and what is calculated to be in the cylinder.

    `amended_by` is the last entry that amended it, 0 for none.
    """

    __tablename__ = "fill"
    __table_args__ = (
        Index("fill_when", "requested_us", "offset_min"),
        Index("fill_wanted", "want_o2_ppm", "want_he_ppm"),
        Index("fill_analysed", "o2_ppm", "he_ppm"),
    )
    fill: int = Field(primary_key=True)
    state: str = Field(index=True)
    resumes_to: str
    serial: str = Field(index=True)
    customer: str = Field(index=True)
    requested_by: str
    blender: str = Field(index=True)
    have_typed: str
    residual: str
    want_typed: str
    want_mbar: int
    want_o2_ppm: int
    want_he_ppm: int
    settle_mk: int
    method: str
    ambient_typed: str
    warnings: str
    step: int
    contents_umol: str
    gauge_mbar: int
    temp_mk: int
    temp_kind: str
    gauge: str
    has_gas: bool
    has_helium: bool
    requested_us: int
    started_us: int
    accepted_us: int
    collected_us: int
    offset_min: int
    o2_ppm: int
    he_ppm: int
    decision: str
    accepted_name: str | None
    accepted_seq: int
    batch: int = Field(index=True)
    amended_by: int
    seq: int


class StepRow(SQLModel, table=True):
    """One step of the plan in force for a fill; -1 where a number does not apply.

    `more` has what only some recipes need (draws, scale, whip, booster, helium at the intake)
    as a JSON object, under the names and in the whole numbers of the entry.
    """

    __tablename__ = "fill_step"
    fill: int = Field(primary_key=True)
    number: int = Field(primary_key=True)
    action: str
    supply: str
    gas: str
    from_mbar: int
    to_mbar: int
    temp_mk: int
    amount_umol: int
    holds_o2_ppm: int
    holds_he_ppm: int
    intake_ppm: int
    reading_ppm: int
    more: str
    seq: int


class ReadingRow(SQLModel, table=True):
    """A gauge reading as typed and as understood.

    `taken_umol` is what its supply was known to have of `drawn_umol`; `also` has the same of
    further supplies, as a JSON list of name, drawn and taken.  `corrected_by` is the entry that
    stands in its place, 0 where it stands.
    """

    __tablename__ = "reading"
    seq: int = Field(primary_key=True)
    fill: int = Field(index=True)
    number: int
    gauge_mbar: int
    temp_mk: int
    kind: str
    gauge: str
    typed_at: str
    typed_temperature: str
    closes: bool
    supply: str
    added_umol: str
    drawn_umol: int
    taken_umol: int
    also: str
    corrected_by: int
    person: str
    at_us: int


class AnalysisRow(SQLModel, table=True):
    """One analysis; `he_ppm` is -1 where helium was not measured."""

    __tablename__ = "analysis"
    __table_args__ = (Index("analysis_of", "analyser", "fill"),)
    seq: int = Field(primary_key=True)
    fill: int = Field(index=True)
    party: str
    serial: str
    analyser: str
    typed_reading: str
    typed_helium: str
    o2_ppm: int
    he_ppm: int
    o2_u_ppm: int
    decision: str
    valid: bool
    person: str
    at_us: int
    offset_min: int


class ExceptionRow(SQLModel, table=True):
    """Whatever a manager looks for: refusals, what was allowed, holds, disputes, misses."""

    __tablename__ = "exception"
    seq: int = Field(primary_key=True)
    fill: int = Field(index=True)
    kind: str = Field(primary_key=True)
    text: str
    person: str
    at_us: int = Field(index=True)


class FillEntryRow(SQLModel, table=True):
    """Which entries of the journal belong to a fill."""

    __tablename__ = "fill_entry"
    __table_args__ = {"sqlite_with_rowid": False}
    fill: int = Field(primary_key=True)
    seq: int = Field(primary_key=True)


class DayRow(SQLModel, table=True):
    """The opening or closing of a day at the station; `text` is JSON of what was entered."""

    __tablename__ = "day"
    seq: int = Field(primary_key=True)
    kind: str
    day: str = Field(index=True)
    at_us: int
    offset_min: int
    person: str
    text: str


class CopyRow(SQLModel, table=True):
    """A copy of the record that was made and verified; `away` where it left this machine."""

    __tablename__ = "copy"
    seq: int = Field(primary_key=True)
    copied_seq: int
    sha256: str
    away: bool
    at_us: int
    offset_min: int


class FindingRow(SQLModel, table=True):
    """What was looked at or measured, and how it was found; `fill` is 0 where it is of none.

    `what` is what was looked at (``outside``, ``supply-gas``, ``co`` ...) and `about` whose;
    `value` is a whole number in the unit of `what`, `text` what was said of it.
    """

    __tablename__ = "finding"
    __table_args__ = (Index("finding_about", "what", "about"),)
    seq: int = Field(primary_key=True)
    what: str = Field(primary_key=True)
    about: str
    fill: int = Field(index=True)
    ok: bool
    value: int
    text: str
    person: str
    at_us: int
    offset_min: int


class DeliveryRow(SQLModel, table=True):
    """Bottles that were delivered; `remaining` are still in the store, not yet connected.

    `mbar` is the gauge pressure at 20 degC they came with, -1 if nobody said.
    """

    __tablename__ = "delivery"
    delivery: int = Field(primary_key=True)
    gas_typed: str
    o2_ppm: int
    he_ppm: int
    size_ml: int
    mbar: int
    bottles: int
    remaining: int
    lot: str
    certificate: str
    supplier: str
    day: str
    seq: int


class EquipmentRow(SQLModel, table=True):
    """An item of equipment that is neither cylinder, supply, compressor nor analyser.

    `facts` is a JSON object of what its kind has (class and scale of a gauge, rated hours of a
    filter); `retired` is why it was taken out of use, empty while it is in use.
    """

    __tablename__ = "equipment"
    kind: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    facts: str
    day: str
    retired: str
    seq: int


class EquipmentActRow(SQLModel, table=True):
    """What was done to an item of equipment, a compressor or an analyser, and on which day.

    `facts` is a JSON object of the act's own (hours run, how far off, which other item); `ok`
    is False where something was found wrong.
    """

    __tablename__ = "equipment_act"
    __table_args__ = (Index("equipment_act_of", "kind", "name"),)
    seq: int = Field(primary_key=True)
    kind: str
    name: str
    act: str
    day: str
    ok: bool
    facts: str
    person: str
    at_us: int
    offset_min: int


class DepartureRow(SQLModel, table=True):
    """How far an analysed fill came out from what was predicted of it.

    `sigma_ppm` is the standard uncertainty of that difference; `effects` a JSON object of what
    one unit of each cause moves it by, in millionths of a point.
    """

    __tablename__ = "departure"
    seq: int = Field(primary_key=True)
    fill: int = Field(index=True)
    predicted_ppm: int
    departs_ppm: int
    sigma_ppm: int
    effects: str
    at_us: int
    offset_min: int


class AccessRow(SQLModel, table=True):
    """Tries at a sign-in that failed since the last that did not.

    `who` is a person's id, or the mark of a name nobody has; `wait_s` counts from `at_us`.
    """

    __tablename__ = "access"
    who: str = Field(primary_key=True)
    tries: int
    wait_s: int
    at_us: int
    seq: int


ALL = (
    StationRow,
    PersonRow,
    CylinderRow,
    SupplyRow,
    AnalyserRow,
    FillRow,
    StepRow,
    ReadingRow,
    AnalysisRow,
    ExceptionRow,
    DayRow,
    FillEntryRow,
    RuleRow,
    CopyRow,
    CompressorRow,
    PriceRow,
    FindingRow,
    DeliveryRow,
    EquipmentRow,
    EquipmentActRow,
    DepartureRow,
    AccessRow,
    *OF_SHOP,
)


def _same_on_every_engine(model: type[SQLModel]) -> None:
    """Give a table's columns types that hold and compare the same wherever it stands."""
    for column in model.__table__.columns:  # type: ignore[attr-defined]  # sqlmodel adds it unseen
        if isinstance(column.type, Integer):
            column.type = WHOLE
            column.autoincrement = False  # every number comes from an entry
        elif not isinstance(column.type, Boolean):
            column.type = TEXT


for _model in ALL:
    _same_on_every_engine(_model)
