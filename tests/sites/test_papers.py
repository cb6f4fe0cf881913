"""Papers of the shop held against a record: another station's label, the root of a day's sheet."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.record import shop
from blender.station.paper_check import Paper, check_paper, root_named
from tests.sites.shops import Site, exchange


def only(paper: Paper) -> str:
    (found,) = paper.report.problems
    return found.text


def test_the_root_of_a_days_sheet_is_checked(three: list[Site]) -> None:
    exchange(*three)
    three[1].work(2)
    exchange(*three)
    quay = three[1]
    with quay.record.read() as conn:
        line = shop.root_text(conn, quay.record.head().seq)
    for text in (line, line.partition(";")[0]):
        found = check_paper(quay.place, text)
        assert (found.report.ok, found.is_checked) == (True, True)
        assert found.text.startswith("It is root 2 of OFFICE-1, witnessed with entry ")
        assert check_paper(three[0].place, text).is_checked  # and at the office
    later = line.replace("OFFICE-1 1 2", "OFFICE-1 1 7")
    found = check_paper(quay.place, later)
    assert (found.report.ok, found.is_checked) == (False, False)
    assert "did not witness root 7 of OFFICE-1" in only(found)
    other = line.replace("OFFICE-1 1 2", "OFFICE-1 1 1")
    found = check_paper(quay.place, other)
    assert [one.kind for one in found.report.problems] == ["paper"]


@pytest.mark.parametrize(
    "line", ["FILLWRIGHT-ROOT1", "FILLWRIGHT-ROOT1 A 1 2 3", "FILLWRIGHT-ROOT1 A 1 x 3 AAAA"]
)
def test_what_is_no_root_is_said(line: str) -> None:
    with pytest.raises(InputError, match="the line is 'FILLWRIGHT-ROOT1 OFFICE"):
        root_named(line)


def test_another_stations_paper_is_held_against_the_offices_copy(three: list[Site]) -> None:
    office, quay, reef = three
    quay.work(2)
    exchange(*three)
    line = quay.record.head().text
    found = check_paper(office.place, line)  # it came with the exchange but for the root's entry
    assert (found.report.ok, found.is_checked) == (False, False)
    assert "the copy of it here ends with entry" in only(found)
    exchange(*three)
    found = check_paper(office.place, line)
    assert (found.report.ok, found.is_checked) == (True, True)
    assert "of the copy of QUAY-2 here, which is whole" in found.text
    forged = line[:-2] + ("A" if line[-2] != "A" else "B") + line[-1]
    problems = check_paper(office.place, forged).report.problems
    assert [one.kind for one in problems] == ["paper"]
    assert problems[0].text.startswith("in the copy of QUAY-2: the entry is not the one")
    found = check_paper(reef.place, line)
    assert (found.report.ok, found.is_checked) == (False, False)
    assert "it cannot be checked here" in only(found)
    assert found.whole_but == "the paper could not be checked with it"
