"""Amended and voided fills: the old stays, the new says who and why, and every paper tells."""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import book, equipment, export, papers, supplies
from blender.station.recomputing import recompute
from tests.station.shop import Shop, gate


def whole(shop: Shop) -> None:
    """The record verifies, and its read models are what its journal makes of them."""
    tables = shop.tables()
    assert verify(shop.path).problems == []
    rebuild(shop.station.record)
    assert shop.tables() == tables


def test_c1_an_amendment_keeps_old_and_new_who_and_why(shop: Shop) -> None:
    fill, _ = shop.accepted()
    before = {entry.seq: entry.body for entry in shop.entries()}
    answer = shop.amend(fill, "reading", "33.1", "two digits swapped")
    entry = shop.last()
    assert entry.seq == answer.facts["seq"]
    assert (entry.data["old"], entry.data["new"]) == ("32.1", "33.1")
    assert entry.data["reason"] == "two digits swapped"
    assert (entry.sig or {})["name"] == "Mara Linde"
    assert {e.seq: e.body for e in shop.entries() if e.seq in before} == before
    old, diver, new = book.story(shop.station.record, fill)["analyses"]
    assert (old["typed"], old["stands"]) == ("32.1", False)
    assert (new["typed"], new["stands"], new["seq"]) == ("33.1", True, entry.seq)
    assert diver["party"] == "customer"
    assert new["o2"] - old["o2"] == pytest.approx(0.01)  # the same analyser, set as it was then
    whole(shop)


@pytest.mark.parametrize("reason", ["", "   ", "\x1b[2J"])
def test_c1_without_a_reason_nothing_is_amended_or_voided(shop: Shop, reason: str) -> None:
    fill = shop.request()
    count = shop.seq()
    with pytest.raises(InputError, match="--reason"):
        shop.amend(fill, reason=reason)
    with pytest.raises(InputError, match="--reason"):
        shop.void(fill, reason)
    assert shop.seq() == count


def test_c2_every_view_and_reprint_names_the_entry(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    assert shop.collect(fill, anchor).done
    seq = shop.amend(fill, "reading", "33.6", "misread").facts["seq"]
    said = f"AMENDED by entry {seq}"
    record = shop.station.record
    story = book.story(record, fill)
    assert said in "\n".join(book.story_lines(story))
    (line,) = book.fills(record)["fills"]
    assert line["amended_by"] == seq
    assert said in book.fill_line(line)
    label = papers.label_view(record, fill)
    assert any(said in mark and "32.1 -> 33.6" in mark for mark in label.marks)
    assert label.o2_percent == pytest.approx(32.1)  # what was signed stays
    log = export.log_view(record, "2026-11-01", "2026-11-30", shop.clock())
    assert any(said in mark for mark in log.lines[0].marks)
    assert "TOO DEEP" in " ".join(label.marks)
    assert label.undone == "ANALYSIS AMENDED"


@pytest.mark.parametrize(("to", "state"), [("33.6", "recheck"), ("32.0", "analysed")])
def test_what_was_signed_for_another_analysis_is_not_handed_over(
    shop: Shop, to: str, state: str
) -> None:
    fill, anchor = shop.accepted()
    answer = shop.amend(fill, "reading", to, "misread")
    assert answer.state == shop.row(fill).state == state
    refused = shop.collect(fill, anchor)
    assert gate(refused, "order")[0] == "stop"
    with pytest.raises(RefusedError, match="signed for"):
        papers.label_view(shop.station.record, fill)
    if state == "recheck":
        assert shop.analyse(fill, to, analyser="A2").state == "analysed"
    assert shop.accept(fill, to).state == "accepted"
    assert gate(shop.collect(fill, anchor), "label")[0] == "stop"  # the old label
    label = papers.label_view(shop.station.record, fill)
    assert label.undone == ""
    assert label.o2_percent >= float(to) - 0.05
    assert not any(mark.startswith("MIND") for mark in label.marks)
    assert any("AMENDED" in mark for mark in label.marks)
    assert shop.collect(fill, label.proof.anchor).done
    whole(shop)


def test_c2_a_voided_fill_says_so_everywhere(shop: Shop) -> None:
    fill, _ = shop.accepted()
    seq = shop.void(fill).facts["seq"]
    said = f"VOID by entry {seq}"
    record = shop.station.record
    assert said in "\n".join(book.story_lines(book.story(record, fill)))
    (line,) = book.fills(record)["fills"]
    assert line["state"] == "voided"
    assert "voided" in book.fill_line(line)
    assert said in papers.label_view(record, fill).marks[0]
    log = export.log_view(record, "2026-11-01", "2026-11-30", shop.clock())
    assert said in log.lines[0].marks[0]
    assert log.lines[0].oxygen_mol == 0.0
    whole(shop)


def test_voiding_gives_the_bank_back_what_was_never_drawn(shop: Shop) -> None:
    bank = _bank(shop)
    full = _left(shop, bank)
    fill = shop.request()
    shop.plan(fill, supply=(bank,))
    shop.start(fill)
    shop.reading(fill, "84.4bar")
    assert _left(shop, bank) < full
    refused = shop.void(fill)
    assert gate(refused, "order")[0] == "stop"  # gas is in: the cylinder is still there
    shop.reject(fill)
    assert shop.void(fill).done
    assert _left(shop, bank) == full
    whole(shop)


def test_a_bank_read_since_keeps_what_its_gauge_showed(shop: Shop) -> None:
    bank = _bank(shop)
    fill = shop.request()
    shop.plan(fill, supply=(bank,))
    shop.start(fill)
    shop.reading(fill, "84.4bar")
    supplies.read_supply(shop.station, shop.jo, bank, at="150bar")
    left = _left(shop, bank)
    shop.reject(fill)
    shop.void(fill)
    assert _left(shop, bank) == left
    whole(shop)


def _bank(shop: Shop) -> str:
    bottle = {"name": "o1", "gas": "oxygen", "size": "50L", "at": "180bar"}
    return str(equipment.add_supply(shop.station, shop.mara, **bottle)["name"])


def _left(shop: Shop, bank: str) -> int:
    rows = {row[0]: row for row in shop.tables()["supply"]}
    return int(rows[bank][5])


def test_the_customer_is_amended_and_their_card_is_asked_for(shop: Shop) -> None:
    fill, _ = shop.accepted()
    answer = shop.amend(fill, "customer", "Otto Luft")
    assert "certification" in answer.text  # an air card, and the gas is nitrox
    (line,) = book.fills(shop.station.record)["fills"]
    assert line["customer"] == "Otto Luft"
    assert "Otto" not in shop.last().body.decode()  # ids only: a name could not be forgotten
    kinds = [row.kind for row in shop.exceptions(fill)]
    assert kinds[-2:] == ["amended", "amended-beyond-limits"]
    whole(shop)


def test_the_cylinder_is_amended_to_one_of_the_same_size_only(shop: Shop) -> None:
    fill, _ = shop.accepted()
    with pytest.raises(InputError, match="void this fill"):
        shop.amend(fill, "cylinder", "D-7")
    with pytest.raises(InputError, match="already"):
        shop.amend(fill, "cylinder", "C-1001")
    assert shop.amend(fill, "cylinder", "C-1003").done
    assert shop.row(fill).serial == "C-1003"
    assert shop.last().data["old"] == "C-1001"
    still_open = shop.filling()
    assert gate(shop.amend(still_open, "cylinder", "C-1003"), "amendable")[0] == "stop"
    whole(shop)


def test_one_post_of_a_set_is_named(shop: Shop) -> None:
    fill, _ = shop.accepted()
    with pytest.raises(InputError, match="--post"):
        shop.amend(fill, "reading", "33.1", post="T-1")
    with pytest.raises(InputError, match="--field"):
        shop.amend(fill, "pressure", "1bar")


def test_a2_every_result_comes_out_again_from_the_stored_raw_values(shop: Shop) -> None:
    fill = shop.request()
    assert shop.analyse(fill, "28.3", ambient="1.010bar").done  # kept beside the reading
    shop.plan(fill)
    shop.start(fill)
    steps = shop.steps(fill)
    for step in steps:
        if step.action == "add":
            shop.reading(fill, f"{step.to_mbar / 1000}bar")
    assert shop.analyse(fill, "32.1").done
    assert shop.accept(fill, "31.8").done
    shop.amend(fill, "reading", "32.6", "misread")
    said = recompute(shop.station.record)
    assert (said["analyses"], said["labels"]) == (4, 1)
    assert said["differences"] == said["untold"] == []
    entry = next(e for e in shop.entries() if e.kind == "fill.analysed")
    assert entry.data["formula"] == 1
    (calibrated,) = [e for e in shop.entries() if e.seq == entry.data["calibration"]]
    assert (calibrated.kind, calibrated.data["analyser"]) == ("analyser.calibrated", "A1")


def test_a1_every_entry_named_was_there_before(shop: Shop) -> None:
    shop.accepted()
    known: set[str] = set()
    for entry in shop.entries():
        data = entry.data
        if entry.kind in ("cylinder.added", "analyser.added"):
            known.add(str(data.get("serial") or data.get("name")))
        if entry.kind == "person.added":
            known.add(data["person"])
        if entry.kind == "fill.analysed":
            assert {data["serial"], data["analyser"], entry.person} <= known
            assert 0 < data["calibration"] < entry.seq
            assert (entry.station, entry.seq > 0) == ("QUAY-1", True)


def test_a_bank_gives_no_more_than_it_was_known_to_have(shop: Shop) -> None:
    """Its gauge read nearly nothing, yet oxygen came: what is not there is not taken."""
    bank = _bank(shop)
    fill = shop.request()
    shop.plan(fill, supply=(bank,))
    shop.start(fill)
    supplies.read_supply(shop.station, shop.jo, bank, at="0.5bar")
    assert _left(shop, bank) > 0
    shop.reading(fill, "84.4bar")
    assert _left(shop, bank) == 0
    whole(shop)
