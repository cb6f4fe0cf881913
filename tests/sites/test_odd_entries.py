"""A station that has gone wrong, with its own key: its entries verify, and say what cannot be."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blender.errors import FillwrightError
from blender.record import parcel
from blender.station import site_answer, site_board, sites
from blender.station.site_answer import make_answer
from blender.station.site_board import board, check
from blender.station.site_news import receive
from blender.station.site_source import record_at
from tests.sites.shops import Site, take, take_at
from tests.station.shop import Shop, cheap_secrets

ODD = [None, True, -1, 0, 2**53 - 1, "", "x", "\u00e9" * 300, "2025-13", [], [None], {}, {"a": []}]


class _Nothing:
    TABLES = ()

    def apply(self, *_: object) -> None:
        """Make nothing of it: the station itself would have refused it."""


@pytest.fixture(scope="module", name="kinds")
def _kinds(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, Any]]:
    """Every entry of a day's work, to be bent."""
    folder = tmp_path_factory.mktemp("worked")
    with pytest.MonkeyPatch.context() as patch:
        cheap_secrets(patch)
        for name in ("station.db", "station.keys"):
            shutil.copy2(founded / name, folder / name)
        worked = Shop.open(folder / "station.db")
        fill, label = worked.accepted()
        worked.collect(fill, label)
        worked.rested(cylinder="C-1003")
        worked.reject(worked.request(cylinder="D-7"))
        entries = [(one.kind, one.data) for one in worked.entries()[1:]]
        worked.station.record.close()
    return [one for one in entries if not one[0].startswith("person.")]


def bent(data: Any, draw: Any) -> Any:
    """The same facts with one of them, at whatever depth, another or missing."""
    if isinstance(data, dict) and data:
        name = draw(st.sampled_from(sorted(data)))
        how = draw(st.integers(0, 3))
        rest = {key: value for key, value in data.items() if key != name}
        if how == 0:
            return rest
        return {**rest, name: bent(data[name], draw) if how == 1 else draw(st.sampled_from(ODD))}
    if isinstance(data, list) and data and draw(st.booleans()):
        return [bent(data[0], draw), *data[1:]]
    return draw(st.sampled_from(ODD))


def work(site: Site, entries: Iterator[tuple[str, Any]]) -> None:
    with site.record.write() as unit:
        unit._projector = _Nothing()
        for kind, data in entries:
            unit.append(kind, data, at=site.clock())


def office_goes_on(office: Site, quay: Site) -> None:
    """Whatever came: refused in words, or kept; and what is asked of it afterwards is answered."""
    with contextlib.suppress(FillwrightError):
        take_at(office, quay)
    told = {one["site"]: one for one in board(office.record, office.clock())["sites"]}
    assert told["OFFICE-1"]["error"] is None
    check(office.record)


@settings(max_examples=12, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(data=st.data())
def test_the_office_goes_on(
    three: list[Site], kinds: list[tuple[str, Any]], data: st.DataObject
) -> None:
    office, quay, reef = three
    which = data.draw(st.integers(0, len(kinds) - 1))
    work(quay, ((kind, bent(facts, data.draw) if at == which else facts)
                for at, (kind, facts) in enumerate(kinds)))  # fmt: skip
    office_goes_on(office, quay)
    take_at(office, reef)
    answer, _ = make_answer(office.station)
    receive(reef.station, answer)


@pytest.mark.soak
@settings(max_examples=400, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(data=st.data())
def test_the_office_goes_on_for_long(
    three: list[Site], kinds: list[tuple[str, Any]], data: st.DataObject, tmp_path: Path
) -> None:
    """Each example at a station of its own."""
    office = three[0]
    which = data.draw(st.integers(0, len(kinds) - 1))
    ident = f"ODD-{len(list(tmp_path.iterdir()))}"
    odd = Site.found(tmp_path / ident, ident)
    sites.add_site(office.station, office.mara, site=ident, name="x", key=odd.key)
    work(odd, ((kind, bent(facts, data.draw) if at == which else facts)
               for at, (kind, facts) in enumerate(kinds)))  # fmt: skip
    with suppress(FillwrightError):
        take_at(office, odd)
    odd.close()
    row = office.knows(ident)
    if row.entries:
        site_board._of_copy(office.record, row, office.clock())
        site_answer._of(office.record, row)


DAMAGE = [
    "UPDATE e SET body = 'text'", "UPDATE e SET body = NULL", "UPDATE e SET body = x'00'",
    "UPDATE e SET prev = 5", "UPDATE e SET digest = 'x'", "UPDATE e SET seq = -seq",
    "UPDATE e SET seq = 'a'", "UPDATE e SET station = x'ff'", "UPDATE e SET station = 'A B'",
    "DELETE FROM e WHERE seq = 1", "DELETE FROM e WHERE seq = 2", "DELETE FROM e",
    "UPDATE e SET body = zeroblob(100000)", "UPDATE e SET step = 7",
    "UPDATE e SET body = CAST('{\"a\":' || body || '}' AS BLOB)",
]  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGE)
@pytest.mark.parametrize("only", ["", " AND seq = 1", " AND seq = (SELECT max(seq) FROM e)"])
def test_a_record_of_whatever_rows_is_refused_in_words(
    three: list[Site], damage: str, only: str
) -> None:
    office, quay, _ = three
    quay.work(2)
    quay.close()
    raw = sqlite3.connect(quay.place)
    raw.executescript("CREATE TABLE e AS SELECT * FROM entry; DROP TABLE entry;")
    where = f"{damage}{only}" if "WHERE" in damage else f"{damage} WHERE 1{only}"
    raw.execute(where)
    raw.execute("ALTER TABLE e RENAME TO entry")
    raw.commit()
    raw.close()
    before = office.record.head()
    try:
        take_at(office, quay)
    except FillwrightError:
        with pytest.raises(FillwrightError):
            take_at(office, quay)
    else:
        assert only  # a shorter record, of which nothing came before, or one as it was
        assert "DELETE" in damage
    assert office.record.head().seq - before.seq <= 1  # the refusal, once


def test_a_view_in_the_journals_place_is_not_read(three: list[Site]) -> None:
    office, quay, _ = three
    quay.close()
    raw = sqlite3.connect(quay.place)
    raw.executescript(
        "ALTER TABLE entry RENAME TO hidden; CREATE VIEW entry AS WITH RECURSIVE n(i) AS"
        " (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT 'QUAY-2' AS station, i AS seq,"
        " x'00' AS prev, x'00' AS digest, x'00' AS body, NULL AS step FROM n"
    )
    raw.close()
    with pytest.raises(FillwrightError, match="view"), record_at(str(quay.place)):
        pass
    assert office.knows("QUAY-2").entries == 0


def test_more_than_a_parcel_holds_goes_in_several(
    three: list[Site], monkeypatch: pytest.MonkeyPatch
) -> None:
    office, quay, _ = three
    quay.work(40)
    monkeypatch.setattr(parcel, "MOST_BYTES", 24_000)
    last, parcels = 0, 0
    while last < quay.record.head().seq:
        content = quay.send(after=last)
        assert len(content) <= 24_000
        last = take(office, content)["entries"]
        parcels += 1
    assert parcels > 1
    assert office.knows("QUAY-2").entries == quay.record.head().seq
