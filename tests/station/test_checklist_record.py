"""What is asked of electronic records and signatures, one test an item, as far as entries go.

The items are those of 21 CFR 11 (11.10, 11.50, 11.70), ALCOA+ and ISO/IEC 17025 7.5.1, read in
reprints or from memory; none of them binds a fill station, they are the yardstick.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from blender.record.build import digest_of, program_build
from blender.record.entry import Entry
from blender.record.moment import Moment
from blender.record.signature import SEAL, SIG, holds
from blender.record.verify import verify
from blender.station import batch, book, certificate, day, export, papers, privacy, watch
from blender.station.batch_papers import batch_view
from blender.station.day_papers import day_view
from blender.station.person_page import person_view
from blender.station.takeaway import TABLES
from reports.batch_sheet import batch_sheet_pdf
from reports.certificate import certificate_pdf
from reports.day_sheet import day_sheet_pdf
from reports.diver_card import diver_card_pdf
from reports.fill_log import fill_log_pdf
from reports.label import label_pdf
from reports.person_page import person_page_pdf
from reports.tag import tag_pdf
from tests.reports.paper import texts
from tests.station.shop import Shop
from tests.station.test_walk import Walk

HOUR_US, DAY_US = 3_600_000_000, 86_400_000_000
JO, MARA, KAI = "Jo Blend", "Mara Linde", "Kai Diver"


# -- A3: order by seq, whatever the clock says ---------------------------------------------


@pytest.mark.parametrize("back_us", [HOUR_US, DAY_US])
@pytest.mark.parametrize("after", ["request", "plan", "start", "reading", "analyse", "accept"])
def test_a3_a_clock_set_back_keeps_order_and_refuses_nothing(
    shop: Shop, back_us: int, after: str
) -> None:
    fill, anchor = 0, ""
    acts: dict[str, Any] = {
        "plan": lambda: shop.plan(fill),
        "start": lambda: shop.start(fill),
        "reading": lambda: (shop.reading(fill, "84.425bar"), shop.reading(fill, "230bar")),
        "analyse": lambda: shop.analyse(fill, "32.1"),
    }
    fill = shop.request()
    first = shop.seq()
    for name in ("request", *acts):
        if name in acts:
            acts[name]()
        if name == after:
            shop.clock.us -= back_us
    anchor = str(shop.accept(fill, "31.8").facts["anchor"])
    if after == "accept":
        shop.clock.us -= back_us
    assert shop.collect(fill, anchor).state == "collected"
    made = shop.entries()
    assert [entry.seq for entry in made] == list(range(1, len(made) + 1))
    steps = [entry for entry in made[first:] if entry.kind == "clock.stepped"]
    assert len(steps) == 1
    assert back_us <= steps[0].data["was_us"] - steps[0].at.us + 1000 <= back_us + 1000
    assert "fill.refused" not in [entry.kind for entry in made]
    assert "clock" in [row["kind"] for row in exceptions(shop)]
    assert verify(shop.path).problems == []


def test_a3_a_clock_at_1970_loses_nothing_and_is_told(shop: Shop) -> None:
    """What goes into the record goes in; a stamp that lies in the clock's future is still asked
    for at the gates, for nobody can tell with such a clock whether it has run out.
    """
    fill = shop.filling()
    first = shop.seq()
    shop.clock.us = 1_000_000
    assert shop.reading(fill, "84.425bar").done
    assert shop.reading(fill, "230bar").state == "resting"
    assert shop.analyse(fill, "32.1").state == "analysed"
    refused = shop.accept(fill, "31.8")
    stops = {gate.gate for gate in refused.gates if gate.answer == "stop"}
    assert stops == {"periodic-test", "visual-inspection"}
    shop.clock.us = shop.entries()[first - 1].at.us + HOUR_US
    assert shop.accept(fill, "31.8").state == "accepted"
    kinds = [entry.kind for entry in shop.entries()[first:]]
    assert kinds == ["clock.stepped", "fill.reading", "fill.reading", "fill.analysed",
                     "fill.refused", "fill.accepted"]  # fmt: skip
    assert verify(shop.path).problems == []


def exceptions(shop: Shop) -> list[dict[str, Any]]:
    return watch.exceptions(shop.station.record)


# -- B1: name, time and meaning wherever a signature stands ----------------------------------


def time_of(at: Moment) -> str:
    """A time as papers have it, by other means than theirs."""
    return at.local.strftime("%Y-%m-%d %H:%M") + " +01:00"


@pytest.fixture(name="worked")
def _worked(shop: Shop) -> tuple[Shop, int, dict[str, str]]:
    """A day with one fill in it, minutes apart, and when each thing was signed for."""
    at: dict[str, str] = {}

    def did(what: str) -> None:
        at[what] = time_of(shop.last().at)
        shop.clock.turn(3)

    day.open_day(shop.station, shop.jo, gauges_zero=True, room="yes", intake="yes")
    did("opened")
    fill = shop.filling()
    did("started")
    shop.hold(fill)
    did("held")
    assert shop.resume(fill, "60bar").done
    shop.reading(fill, "84.425bar")
    shop.reading(fill, "230bar")
    did("filled")
    shop.analyse(fill, "32.1")
    did("analysed")
    shop.accept(fill, "31.8")
    did("accepted")
    day.close_day(shop.station, shop.mara)
    did("closed")
    assert len(set(at.values())) == len(at)
    return shop, fill, at


def test_b1_every_paper_bears_name_time_and_meaning_of_every_signature(
    worked: tuple[Shop, int, dict[str, str]],
) -> None:
    shop, fill, at = worked
    record, now = shop.station.record, shop.clock()
    label = papers.label_view(record, fill)
    said = {
        label_pdf(label): [
            f"Filled {at['filled']} by {JO}",
            f"analysed by {JO} with A1",
            f"Analysed O₂ 32.1 % He not measured {at['analysed']}",
            f"Accepted {KAI} {at['accepted']}",
            f"sealed by {JO}",  # in the same entry: at the time of the acceptance
        ],
        certificate_pdf(certificate.certificate_view(record, fill)): [
            f"Filled {at['filled']} by {JO}",
            f"Station, {at['analysed']}, {JO} with A1",
            f"{JO}, blender, {at['started']}: filled",
            f"{JO}, blender, {at['analysed']}: analysed",
            f"{JO}, blender, {at['accepted']}: handed over for signature",
            f"accepted by {KAI}, {at['accepted']}",
            f"sealed by {JO} for the station",
        ],
        day_sheet_pdf(day_view(record, now)): [
            f"Opened {at['opened']} by {JO}",
            f"Closed {at['closed']} by {MARA}",
            f"held: power cut ({JO}, {at['held'].removesuffix(' +01:00')})",
        ],
        fill_log_pdf(export.log_view(record, "2026-11-01", "2026-11-30", now)): [
            f"{JO} filled {at['filled']}",
            f"{at['accepted']} — C-1001 {KAI} {KAI}",  # requested, accepted, collected; by whom
        ],
    }
    for pdf, signed in said.items():
        text = " ".join(texts(pdf))
        assert [one for one in signed if one not in text] == [], text


def test_b1_a_tag_and_what_was_erased_say_who_when_and_what(shop: Shop) -> None:
    fill = shop.filling()
    at = time_of(shop.last().at)
    text = " ".join(texts(tag_pdf(papers.tag_view(shop.station.record, fill))))
    assert f"Started {at} by {JO}" in text
    shop.reject(fill)
    privacy.erase(shop.station, shop.mara, KAI, reason="asked in writing")
    at, ident = time_of(shop.last().at), shop.last().data["person"]
    page = person_page_pdf(person_view(shop.station.record, ident, shop.clock()))
    assert f"{at} by {MARA}: asked in writing" in " ".join(texts(page))


def test_b1_no_other_paper_names_anybody_who_signs(
    worked: tuple[Shop, int, dict[str, str]],
) -> None:
    """A card teaches, a sheet waits for signatures: neither bears one of staff."""
    shop, fill, _ = worked
    view = papers.label_view(shop.station.record, fill)
    one = batch.BatchCylinder("C-1003", "0bar:air", "unknown")
    batch.request_batch(shop.station, shop.jo, cylinders=[one], customer=KAI, want="200bar:EAN32")
    for pdf in (
        diver_card_pdf(view),
        batch_sheet_pdf(batch_view(shop.station.record, 1, shop.clock())),
    ):
        text = " ".join(texts(pdf))
        assert JO not in text
        assert MARA not in text


def test_b1_every_entry_taken_away_or_shown_bears_them(
    worked: tuple[Shop, int, dict[str, str]],
) -> None:
    shop, fill, _ = worked
    table = next(one for one in TABLES if one.name == "entries")
    rows = [
        dict(zip(table.columns, row, strict=True))
        for row in table.rows(shop.station.record, shop.clock())
    ]
    signed = {entry.seq: entry for entry in shop.entries() if entry.sig}
    assert len(signed) > 20
    for row in rows:
        if row["seq"] in signed:
            sig = signed[row["seq"]].sig or {}
            found = (row["signed_by"], row["meaning"], row["role"])
            assert found == (sig["name"], sig["meaning"], sig["role"])
            assert all(found) and row["at"] == signed[row["seq"]].at.iso
    lines = "\n".join(book.story_lines(book.story(shop.station.record, fill)))
    assert f"{JO}, blender: analysed" in lines


# -- B2: a signature cannot be moved -----------------------------------------------------------


def test_b2_a_thousand_signatures_moved_verify_nowhere(shop: Shop) -> None:
    """Value alone, and the whole signature, onto entries of the same and of other kinds."""
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    signed = [entry for entry in shop.entries() if entry.sig]
    assert all(holds(entry.prev, entry.content, SIG) for entry in signed)
    moved = list(itertools.permutations(signed, 2))
    assert 2 * len(moved) >= 1000
    assert not any(holds(to.prev, other, SIG) for a, to in moved for other in grafted(a, to))


def grafted(donor: Entry, to: Entry) -> Iterator[dict[str, Any]]:
    assert donor.sig is not None
    assert to.sig is not None
    yield {**to.content, SIG: {**to.sig, "value": donor.sig["value"]}}
    yield {**to.content, SIG: dict(donor.sig)}


# -- B5: no more is claimed than holds -----------------------------------------------------------


def test_b5_whoever_is_said_to_sign_does_so_with_a_key_of_their_own(shop: Shop) -> None:
    """Staff have a key each, and the station's is called a seal; a diver's acceptance is not
    called a signature with a key: it is sealed by the member of staff who took it.
    """
    fill, _ = shop.accepted()
    seals = {entry.seal["key"] for entry in shop.entries() if entry.seal}
    keys: dict[str, set[str]] = {}
    for entry in shop.entries():
        if entry.sig:
            keys.setdefault(entry.sig["person"], set()).add(entry.sig["key"])
    assert len(seals) == 1
    assert all(len(own) == 1 for own in keys.values())
    assert len(set().union(*keys.values())) == len(keys)
    assert not seals & set().union(*keys.values())
    accepted = next(e for e in shop.entries() if e.kind == "fill.accepted")
    assert (accepted.sig or {})["name"] == JO
    assert SEAL in accepted.content
    text = " ".join(texts(certificate_pdf(certificate.certificate_view(
        shop.station.record, fill))))  # fmt: skip
    assert f"sealed by {JO} for the station" in text


@pytest.mark.parametrize("word", ["advanced electronic signature", "qualified signature", "eIDAS"])
def test_b5_nothing_printed_or_documented_claims_more(word: str) -> None:
    root = Path(__file__).parents[2]
    read = [root / "README.md", *(root / "reports").rglob("*.py"), *(root / "tui").rglob("*.py")]
    assert [str(one) for one in read if word.lower() in one.read_text("utf-8").lower()] == []


# -- C3: what changes is entered, what is entered changed something --------------------------------


def changes(shop: Shop, seed: int, acts: int) -> None:
    walk = Walk(shop, seed)
    walk.request()
    entered = 0
    for _ in range(acts):
        shop.clock.turn(walk.dice.choice((0, 1, 5, 40)))
        before = states(shop)
        seq = shop.seq()
        walk.act()
        now, new = states(shop), shop.entries_from(seq)
        entered += len(new)
        changed = [fill for fill in now if now[fill] != before.get(fill)]
        moving = [e for e in new if e.data.get("state") or e.kind in MOVES]
        assert {e.data["fill"] for e in moving} >= set(changed), (changed, [e.kind for e in new])
        assert len(changed) <= len(moving)
    head = shop.seq()
    assert verify(shop.path).entries == head
    assert entered >= acts // 2


MOVES = frozenset(
    f"fill.{one}"
    for one in ("requested", "started", "held", "disputed", "accepted", "collected", "rejected",
                "quarantined", "voided")
)  # fmt: skip


def states(shop: Shop) -> dict[int, str]:
    with shop.station.record.read() as conn:
        rows = conn.exec_driver_sql("SELECT fill, state FROM fill").all()
    return dict(tuple(row) for row in rows)


def test_c3_every_change_of_state_has_its_entry(shop: Shop) -> None:
    changes(shop, 5, 150)


@pytest.mark.soak
@pytest.mark.parametrize("part", range(200))
def test_c3_over_a_hundred_thousand_steps(shop: Shop, part: int) -> None:
    changes(shop, 1000 + part, 500)


# -- D6: which program wrote it ------------------------------------------------------------------


def test_d6_every_entry_says_which_program_wrote_it(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    assert {entry.build for entry in shop.entries()} == {program_build()}
    version, _, build = program_build().partition("+")
    assert version and len(build) == 16


def test_d6_a_build_is_its_files(tmp_path: Path) -> None:
    """One letter more, another name, or a file moved: each is another build."""
    room = tmp_path / "blender"
    room.mkdir()
    file = room / "gas.py"
    file.write_text("AIR = 0.20946\n")
    seen = [digest_of(tmp_path)]
    file.write_text("AIR = 0.20947\n")
    seen.append(digest_of(tmp_path))
    file.rename(room / "mix.py")
    seen.append(digest_of(tmp_path))
    (room / "notes.txt").write_text("no part of the program")
    assert digest_of(tmp_path) == seen[-1]
    assert len(set(seen)) == 3
