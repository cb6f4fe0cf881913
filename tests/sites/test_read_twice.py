"""One fill read at two stations that do not agree: both are told, and it is asked at hand-over."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from blender.record.verify import verify
from blender.station import equipment, people
from blender.station.gates_asked import unchecked
from tests.sites.away import THEIRS, Two, analyse, bring, shared
from tests.sites.shops import Site, exchange, introduce
from tests.sites.test_holds import collect, sign
from tests.station.shop import Shop, gate

Four = tuple[Shop, Site, Site, Site]


@pytest.fixture(name="four")
def _four(two: Two, tmp_path: Path) -> Iterator[Four]:
    """One more station that may take it in, after an exchange."""
    quay, reef, office = two
    pier = Site.found(tmp_path / "pier", "PIER-4")
    pier.clock.us = quay.clock.us
    introduce(office, pier)
    people.add_person(pier.station, pier.mara, name="Kai Diver", role="customer",
                      certified="nitrox")  # fmt: skip
    equipment.add_analyser(pier.station, pier.mara, name="R1")
    equipment.calibrate(pier.station, pier.mara, name="R1", gas="air", reading="20.9")
    everyone(quay, reef, pier, office)
    yield quay, reef, pier, office
    pier.close()


def everyone(quay: Shop, reef: Site, pier: Site, office: Site) -> None:
    exchange(office, Site(quay.station, quay.mara, quay.clock, quay.path), reef, pier)


def test_both_that_took_it_in_are_told_and_asked_before_handing_over(four: Four) -> None:
    _quay, reef, pier, _office = four
    ours, theirs = bring(reef, THEIRS).fill, bring(pier, THEIRS).fill
    analyse(reef, ours, "32.1")
    analyse(pier, theirs, "34.7")
    everyone(*four)
    apart = "2.6 points apart, more than 0.5"
    for one in (reef, pier):
        (told,) = one.exceptions("analysed-elsewhere")
        assert apart in told
        assert verify(one.place).ok
    refused = sign(reef, ours, at_hand=True)
    assert gate(refused, "read-elsewhere") == (
        "stop",
        f"here O2 32.1 % was read, at PIER-4 34.7 %: {apart}; analyse it again at both, "
        "on freshly set analysers",
    )
    signed = sign(reef, ours)  # a script is told
    assert signed.done
    assert apart in unchecked(signed.gates, {"read-elsewhere"})
    assert not collect(reef, signed, at_hand=True).done
    analyse(pier, theirs, "32.2")
    everyone(*four)
    assert collect(reef, signed, at_hand=True).done


def test_signed_for_at_one_it_stays_open_at_the_other_and_says_so(four: Four) -> None:
    _quay, reef, pier, _office = four
    ours, theirs = bring(reef, THEIRS).fill, bring(pier, THEIRS).fill
    analyse(reef, ours)
    sign(reef, ours)
    analyse(pier, theirs)
    everyone(*four)
    signed = sign(pier, theirs, at_hand=True)
    assert signed.done
    assert gate(signed, "read-elsewhere")[1] == "it was signed for at REEF-3 as its fill 1, too"


def test_what_was_analysed_before_is_said_when_it_is_taken_in(four: Four) -> None:
    _quay, reef, pier, _office = four
    analyse(reef, bring(reef, THEIRS).fill, "34.7")
    everyone(*four)
    made = bring(pier, THEIRS, at_hand=True)
    assert made.done
    assert "it was analysed before, at REEF-3 as fill 1 (O2 34." in made.text
    assert len(pier.exceptions("analysed-elsewhere")) == 1
    analyse(pier, made.fill, "32.1")
    assert gate(sign(pier, made.fill, at_hand=True), "read-elsewhere")[0] == "stop"
    everyone(*four)
    assert len(pier.exceptions("analysed-elsewhere")) == 1  # known already


def test_its_own_station_reads_it_too(two: Two) -> None:
    quay, reef, office = two
    ours = bring(reef, THEIRS).fill
    analyse(reef, ours, "34.7")
    quay.analyse(THEIRS, "32.1")
    shared(quay, reef, office)
    assert "2.6 points apart" in quay.exceptions(THEIRS)[-1].text
    (told,) = reef.exceptions("analysed-elsewhere")
    assert "analysed at QUAY-1 as its fill 1" in told
    assert "2.6 points apart" in told
