"""Read models of the other stations of a shop: what the office knows, what it told the rest.

As those of the station's own, they follow from the journal alone.
"""

from __future__ import annotations

from sqlmodel import Field, SQLModel


class SiteRow(SQLModel, table=True):
    """Another station of the shop, at its office, and how far its record has come here.

    `place` is where its record can be read, empty if only parcels come; `life` the incarnation
    its replica was begun in, `entries` 0 while nothing came.
    """

    __tablename__ = "site"
    site: str = Field(primary_key=True)
    name: str
    key: str
    place: str
    life: int
    incarnation: int
    entries: int
    head: str
    heard_us: int
    offset_min: int
    seq: int


class OfficeRow(SQLModel, table=True):
    """The station that is the shop's office, as this one was told; the newest counts."""

    __tablename__ = "office"
    seq: int = Field(primary_key=True)
    office: str
    name: str
    key: str


class ShopRootRow(SQLModel, table=True):
    """A root over the heads of all stations, signed by the office and witnessed here.

    `life` is the incarnation of the office's record, in which it is root `number`.
    `own_seq` is the entry of this record that it holds, `size` how many stations.
    """

    __tablename__ = "shop_root"
    seq: int = Field(primary_key=True)
    office: str
    key: str
    life: int
    number: int
    root: str
    size: int
    own_incarnation: int
    own_seq: int
    own_head: str
    made_us: int
    at_us: int
    offset_min: int


class SiteCylinderRow(SQLModel, table=True):
    """A cylinder another station knows; `hold` is why nobody is to fill it, empty if nothing is.

    `o2_ppm` is what it was last analysed to hold there, -1 if it was not.
    """

    __tablename__ = "site_cylinder"
    site: str = Field(primary_key=True)
    serial: str = Field(primary_key=True, index=True)
    size_ml: int
    posts: int
    size_typed: str
    wp_mbar: int
    tp_mbar: int
    tested: str
    inspected: str
    clean: bool
    o2_ppm: int
    he_ppm: int
    analysed_us: int
    hold: str
    seq: int


class SiteFillRow(SQLModel, table=True):
    """A fill of another station whose gas nobody has signed for; `facts` is JSON of the rest."""

    __tablename__ = "site_fill"
    site: str = Field(primary_key=True)
    fill: int = Field(primary_key=True)
    serial: str = Field(index=True)
    state: str
    want_typed: str
    facts: str
    seq: int


class BroughtRow(SQLModel, table=True):
    """Where a fill's gas was let in, if that was at another station: its fill, and its entry."""

    __tablename__ = "brought"
    fill: int = Field(primary_key=True)
    site: str
    site_name: str
    site_fill: int
    site_seq: int
    site_digest: str
    filled_by: str
    filled_us: int
    offset_min: int
    seq: int


class AnalysedAwayRow(SQLModel, table=True):
    """An analysis of a fill of ours at another station: its fill there, and its entry."""

    __tablename__ = "analysed_away"
    fill: int = Field(primary_key=True)
    site: str = Field(primary_key=True)
    site_seq: int = Field(primary_key=True)
    site_fill: int
    site_digest: str
    state: str
    o2_ppm: int
    he_ppm: int
    at_us: int
    seq: int


OF_SHOP = (
    SiteRow,
    OfficeRow,
    ShopRootRow,
    SiteCylinderRow,
    SiteFillRow,
    BroughtRow,
    AnalysedAwayRow,
)
