"""A cylinder filled at QUAY-1 that is brought to REEF-3: what the tests of it do."""

from __future__ import annotations

from blender.station import analysing, bringing
from blender.station.answer import Answer
from tests.sites.shops import Site, exchange
from tests.station.shop import Shop

NAMES = ("quay", "reef", "office")
Two = tuple[Shop, Site, Site]


OTHERS = (("reef", "REEF-3"), ("office", "OFFICE-1"))
THEIRS = 1  # the fill at QUAY-1


def bring(reef: Site, fill: int, customer: str = "Kai Diver", *, at_hand: bool = False) -> Answer:
    return bringing.bring(reef.station, reef.mara, site="QUAY-1", number=fill, customer=customer,
                          at_hand=at_hand)  # fmt: skip


def analyse(reef: Site, fill: int, reading: str = "32.1") -> Answer:
    return analysing.analyse(reef.station, reef.mara, fill, serial="C-1001", analyser="R1",
                             reading=reading)  # fmt: skip


def shared(shop_: Shop, reef: Site, office: Site) -> None:
    exchange(office, Site(shop_.station, shop_.mara, shop_.clock, shop_.path), reef)
