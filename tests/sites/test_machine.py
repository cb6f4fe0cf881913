"""Two sites and an office in any order of work, exchange, cut, loss and restored copies."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from blender.errors import InputError, RecordError, RefusedError
from blender.record import replica, shop
from blender.record.anchor import Anchor
from blender.record.unit import entry_at
from blender.record.verify import verify
from blender.record.witness import held_against_roots, kept
from blender.station.site_answer import make_answer
from blender.station.site_news import receive
from tests.sites.conftest import STATIONS
from tests.sites.shops import Site, take, take_at

SITES = st.sampled_from(["quay", "reef"])


_KEEP = replica.Replica.keep


class _CutError(Exception):
    pass


class Shop(RuleBasedStateMachine):
    """What the machine knows: which heads the office was told of, which roots who witnessed."""

    folder: Path

    def __init__(self) -> None:
        super().__init__()
        self.here = Path(tempfile.mkdtemp(prefix="shop-", dir=self.folder.parent))
        self.sites: dict[str, Site] = {}
        for name in STATIONS:
            shutil.copytree(self.folder / name, self.here / name)
            self.sites[name] = Site.open(self.here / name / "station.db")
            self.sites[name].record.beside = self.here / name / "station.db"
        self.office = self.sites["office"]
        self.parcels: list[tuple[str, bytes]] = []
        self.answers: list[bytes] = []
        self.told: dict[str, Anchor] = {}
        self.backup: dict[str, bytes] = {}
        self.gone_back: set[str] = set()

    def teardown(self) -> None:
        try:
            assert all(verify(one.place).ok for one in self.sites.values())
        finally:
            for one in self.sites.values():
                one.close()
            shutil.rmtree(self.here)

    @rule(name=SITES, count=st.integers(1, 4))
    def work(self, name: str, count: int) -> None:
        self.sites[name].work(count)

    @rule(name=SITES)
    def send(self, name: str) -> None:
        self.sites[name].clock.turn(1)
        with suppress(InputError):  # nothing is new
            self.parcels.append((name, self.sites[name].send()))

    @rule(data=st.data())
    def a_parcel_arrives(self, data: st.DataObject) -> None:
        """Any that was ever sent, once or again, cut short or whole."""
        if not self.parcels:
            return
        name, content = data.draw(st.sampled_from(self.parcels))
        if data.draw(st.booleans()):
            content = content[: data.draw(st.integers(0, len(content) - 2))]
        try:
            take(self.office, content)
        except InputError:
            return  # cut short, or begins too late: it is sent again
        except RefusedError:
            assert name in self.gone_back
            return
        self._note(name)

    @rule(name=SITES, cut=st.booleans())
    def the_office_reads_it(self, name: str, cut: bool) -> None:
        """In parts, and cut once the first is kept."""
        replica.Replica.keep = _cut if cut else _KEEP
        try:
            take_at(self.office, self.sites[name])
        except _CutError:
            return
        except RefusedError:
            assert name in self.gone_back
            return
        finally:
            replica.Replica.keep = _KEEP
        assert not self._is_behind(name)
        self._note(name)

    @rule()
    def root(self) -> None:
        if not self.told:
            return
        content, told = make_answer(self.office.station)
        self.answers.append(content)
        named = {head.split()[1]: head for head in told["heads"]}
        for name, head in self.told.items():
            assert named[self.sites[name].ident] == head.text

    @rule(name=SITES, data=st.data())
    def an_answer_arrives(self, name: str, data: st.DataObject) -> None:
        """Any of them, the newest or an old one, twice."""
        if not self.answers:
            return
        content = data.draw(st.sampled_from(self.answers))
        before = self.sites[name].record.head()
        try:
            receive(self.sites[name].station, content)
        except InputError:  # from before this one was among them
            assert self.sites[name].record.head() == before
        except RecordError:
            assert name in self.gone_back
            assert self.sites[name].record.head() == before

    @rule(name=SITES)
    def back_up(self, name: str) -> None:
        self.backup[name] = self.sites[name].place.read_bytes()

    @rule(name=SITES)
    def put_back(self, name: str) -> None:
        """An older copy in the record's place, unsaid: what all this is there to find."""
        site = self.sites[name]
        if name not in self.backup:
            return
        if self.backup[name] == site.place.read_bytes():
            return
        site.close()
        site.place.write_bytes(self.backup[name])
        self.sites[name] = Site.open(site.place, site.clock)
        self.sites[name].record.beside = site.place
        self.sites[name].work(1)
        self.gone_back.add(name)

    @rule()
    def the_office_loses_its_copies(self) -> None:
        shutil.rmtree(self.office.place.with_name("station.db.sites"), ignore_errors=True)

    # -- what always holds ---------------------------------------------------------------------

    @invariant()
    def nobody_who_went_on_honestly_is_refused(self) -> None:
        said = " ".join(self.office.exceptions("site-refused"))
        for name in ("quay", "reef"):
            if name not in self.gone_back:
                assert self.sites[name].ident not in said

    @invariant()
    def the_office_has_only_what_was_there(self) -> None:
        for name, head in self.told.items():
            row = self.office.knows(self.sites[name].ident)
            assert (row.entries, row.head) == (head.seq, head.head.hex())

    @invariant()
    def a_record_behind_a_root_it_witnessed_is_found(self) -> None:
        for name in ("quay", "reef"):
            site = self.sites[name]
            known = kept(site.place, site.station.keys.public)
            with site.record.read() as conn:
                lost = any(_entry(conn, site, one) != one.head for one in known)
                assert bool(held_against_roots(conn, site.ident, known)) == lost

    def _is_behind(self, name: str) -> bool:
        """Whether the site has lost a head the office was told of."""
        head = self.told.get(name)
        if head is None:
            return False
        with self.sites[name].record.read() as conn:
            return _entry(conn, self.sites[name], head) != head.head

    def _note(self, name: str) -> None:
        row = self.office.knows(self.sites[name].ident)
        if row.entries:
            before, now = self.told.get(name), shop.head_of(row)
            assert before is None or now.seq >= before.seq
            self.told[name] = now


def _entry(conn: object, site: Site, head: Anchor) -> bytes | None:
    found = entry_at(conn, site.ident, head.seq)
    return found.digest if found else None


def _cut(self: replica.Replica, rows: list) -> None:
    _KEEP(self, rows)
    raise _CutError


def run(folder: Path, examples: int, steps: int) -> None:
    machine = type("Here", (Shop,), {"folder": folder})
    checks = [HealthCheck.too_slow, HealthCheck.data_too_large]
    run_state_machine_as_test(
        machine,
        settings=settings(max_examples=examples, stateful_step_count=steps, deadline=None,
                          suppress_health_check=checks),
    )  # fmt: skip


def test_in_any_order_nothing_is_lost_and_no_change_goes_unseen(shop_folder: Path) -> None:
    run(shop_folder, 4, 15)


@pytest.mark.soak
def test_in_any_order_for_long(shop_folder: Path) -> None:
    run(shop_folder, 150, 40)
