"""The exchange cut at every step, and done again: nothing is lost, nothing is taken twice."""

from __future__ import annotations

from typing import Any

import pytest

from blender.record import replica
from blender.record.journal import Record
from blender.record.unit import Unit, entry_at
from blender.record.verify import verify
from blender.station import site_source
from blender.station.site_answer import make_answer
from blender.station.site_news import receive
from tests.sites.shops import Site, take, take_at


class _CutError(Exception):
    pass


def kinds(site: Site) -> list[str]:
    with site.record.read() as conn:
        found = (entry_at(conn, site.ident, n) for n in range(1, site.record.head().seq + 1))
        return [entry.kind for entry in found if entry is not None]


def after(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str, times: int) -> None:
    """Have the n-th call of something fail once it has done its work, as a cut does."""
    real, left = getattr(owner, name), [times]

    def cut(*args: Any, **more: Any) -> Any:
        found = real(*args, **more)
        left[0] -= 1
        if left[0] == 0:
            raise _CutError
        return found

    monkeypatch.setattr(owner, name, cut)


@pytest.mark.parametrize("part", range(1, 7))
def test_taking_from_a_place_goes_on_where_it_was_cut(
    three: list[Site], part: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    office, quay, _ = three
    quay.work(9)
    monkeypatch.setattr(site_source, "_PART", 2)
    with monkeypatch.context() as cut:
        after(cut, replica.Replica, "keep", part)
        with pytest.raises(_CutError):
            take_at(office, quay)
    assert office.knows("QUAY-2").entries == 0
    made = take_at(office, quay)
    assert (made["entries"], made["entered"]) == (quay.record.head().seq, True)
    assert made["taken"] == quay.record.head().seq - 2 * part
    assert kinds(office).count("site.received") == 1


def test_cut_before_the_office_enters_it_the_next_time_enters_it(
    three: list[Site], monkeypatch: pytest.MonkeyPatch
) -> None:
    office, quay, _ = three
    content = quay.send()
    with monkeypatch.context() as cut:
        after(cut, replica.Replica, "keep", 1)
        with pytest.raises(_CutError):
            take(office, content)
    made = take(office, content)
    assert (made["taken"], made["entered"]) == (0, True)
    assert office.knows("QUAY-2").entries == quay.record.head().seq


@pytest.mark.parametrize("call", range(1, 4))
def test_a_part_is_kept_whole_or_not_at_all(
    three: list[Site], call: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cut within the transaction of the copy: of a parcel nothing is there."""
    office, quay, _ = three
    content = quay.send()
    with monkeypatch.context() as cut:
        projector = replica.station_projector()
        after(cut, projector, "apply", call)
        with pytest.raises(_CutError):
            take(office, content)
    made = take(office, content)
    assert made["taken"] == quay.record.head().seq


@pytest.mark.parametrize("call", range(1, 5))
def test_an_answer_is_entered_whole_or_not_at_all(
    three: list[Site], call: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    office, quay, _reef = three
    _cylinders(office, 90)
    take_at(office, quay)
    answer, _ = make_answer(office.station)
    before = quay.record.head()
    with monkeypatch.context() as cut:
        after(cut, Unit, "append", call)
        with pytest.raises(_CutError):
            receive(quay.station, answer)
    assert quay.record.head() == before
    assert receive(quay.station, answer)["cylinders"] == 90
    assert kinds(quay).count("root.witnessed") == 1
    assert verify(quay.place).ok


def test_a_root_cut_before_it_was_sent_is_sent_again(
    three: list[Site], monkeypatch: pytest.MonkeyPatch
) -> None:
    office, quay, _ = three
    take_at(office, quay)
    with monkeypatch.context() as cut:
        after(cut, Record, "write", 10**9)
        made, told = make_answer(office.station)
    again, told_again = make_answer(office.station)
    assert (told["new"], told_again["new"]) == (True, False)
    assert again == made


def _cylinders(site: Site, count: int) -> None:
    with site.record.write() as unit:
        for number in range(count):
            unit.append("cylinder.added", {
                "serial": f"C-{number}", "size_ml": 12000, "posts": 1, "size_typed": "12L",
                "wp_mbar": 232000, "tp_mbar": 348000, "tested": "2025-03",
                "inspected": "2026-02", "clean": True,
            }, at=site.clock())  # fmt: skip
