"""A plain repeat fill from request to label: numbers from the trade's first worked scenario.

Amounts and stops: moles conserved step by step, pressure from GERG-2008 (pyaga8 0.1.18).
Depths: handbook convention 10 msw = 1 bar, 33 fsw = 1 ata.
"""

from __future__ import annotations

import json
from io import BytesIO

import pytest
from pypdf import PdfReader

from blender.errors import InputError, RefusedError
from blender.station import book, export, papers
from reports.label import label_pdf
from reports.wording import short_head
from tests.executor import amount, pressure_bar
from tests.station.shop import Shop, gate

AMBIENT = 1.01325


def test_requested_to_collected(shop: Shop) -> None:
    fill = shop.request()
    assert sum(shop.moles(fill)) == pytest.approx(30.497, abs=0.001)

    planned = shop.plan(fill)
    assert planned.state == "planned"
    adds = [s for s in planned.facts["plan"]["steps"] if s["action"] == "add"]
    assert [s["to_bar"] for s in adds] == pytest.approx([84.425, 230.0], abs=0.05)
    assert adds[0]["amount_mol"] == pytest.approx(12.664, rel=1e-3)
    assert adds[0]["mass_g"] == pytest.approx(405.235, rel=1e-3)
    assert adds[1]["amount_mol"] == pytest.approx(66.869, rel=1e-3)

    assert shop.start(fill).state == "filling"
    oxygen = shop.reading(fill, "84.425bar")
    assert oxygen.state == "filling"
    assert oxygen.facts["closes"]
    assert oxygen.facts["holds_text"] == "O2 49.1 % - DO NOT BREATHE"
    top = shop.reading(fill, "230bar")
    assert top.state == "resting"
    assert sum(shop.moles(fill)) == pytest.approx(110.030, rel=1e-3)
    assert top.facts["holds"]["o2"] == pytest.approx(0.32, abs=1e-4)

    analysed = shop.analyse(fill, "32.1")
    assert (analysed.state, analysed.facts["decision"]) == ("analysed", "accept")
    assert analysed.facts["o2"] == pytest.approx(0.321, abs=1e-12)
    accepted = shop.accept(fill, "31.8")
    assert (accepted.state, accepted.facts["decision"]) == ("accepted", "accept")
    assert shop.collect(fill, accepted.facts["anchor"]).state == "collected"


def test_the_label_states_the_analysis_and_the_higher_readings_depth(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    view = papers.label_view(shop.station.record, fill)
    assert view.o2_percent == 32.1
    assert view.he_percent is None
    assert view.mod_agreed_m == pytest.approx(33.614, abs=0.001)
    assert view.mod_agreed_ft == pytest.approx(33 / 0.3048)  # the foot is 0.3048 m; of 33 m
    assert view.mod_high_m == pytest.approx(39.844, abs=0.001)
    assert (view.staff.o2_percent, view.diver.o2_percent) == (32.1, 31.8)
    assert (view.staff.by, view.diver.by) == ("Jo Blend", "Kai Diver")
    assert view.accepted_by == "Kai Diver"
    assert (view.pressure_bar, view.pressure_temperature_c) == (230.0, 20.0)
    assert view.cylinder.serial == "C-1001"
    assert view.proof.anchor == anchor
    assert anchor.split()[:3] == ["FILLWRIGHT1", "QUAY-1", "1"]
    assert view.proof.seq == shop.row(fill).accepted_seq


def test_the_printed_label_never_says_34_m(shop: Shop) -> None:
    fill, _ = shop.accepted()
    pages = PdfReader(BytesIO(label_pdf(papers.label_view(shop.station.record, fill)))).pages
    text = " ".join(page.extract_text() for page in pages)
    assert "32.1" in text
    for depth in ("33 m", "108 ft", "39 m"):
        assert depth in text.replace("\xa0", " ")
    assert "34 m" not in text.replace("\xa0", " ")


@pytest.mark.parametrize(
    ("stop", "leads_to"),
    [("84.0bar", 31.843), ("84.5bar", 32.028), ("85.0bar", 32.213)],
)
def test_a_stop_read_by_eye_says_where_it_leads(shop: Shop, stop: str, leads_to: float) -> None:
    fill = shop.filling()
    answer = shop.reading(fill, stop)
    assert answer.facts["closes"]
    assert answer.facts["leads_to"]["o2"] * 100 == pytest.approx(leads_to, abs=0.01)


@pytest.mark.parametrize(("stop", "leads_to"), [("81.925bar", 31.075), ("86.925bar", 32.924)])
def test_a_gauges_error_says_where_it_leads(shop: Shop, stop: str, leads_to: float) -> None:
    fill = shop.filling()
    answer = shop.reading(fill, stop)
    if not answer.facts["closes"]:  # too low: still filling with oxygen
        assert stop == "81.925bar"
        return
    assert answer.facts["leads_to"]["o2"] * 100 == pytest.approx(leads_to, abs=0.01)
    assert answer.facts["warnings"][0]["code"] == "beyond-stop"


def test_the_same_gauge_closes_whatever_was_read_before(shop: Shop) -> None:
    fill = shop.filling()
    assert not shop.reading(fill, "83.2bar").facts["closes"]
    assert shop.reading(fill, "83.5bar").facts["closes"]


def test_a_small_step_is_not_closed_before_anything_went_in(shop: Shop) -> None:
    fill = shop.filling(have="60bar@20C:0.313/0", want="62bar:EAN32")
    (first, *_) = shop.steps(fill)
    assert first.to_mbar - first.from_mbar < 1000
    assert not shop.reading(fill, "60bar").facts["closes"]


def test_amounts_agree_with_an_independent_equation_of_state(shop: Shop) -> None:
    """Every step of the way, pyaga8 makes the gauge out of the amounts in the record."""
    fill = shop.filling()
    for at, celsius in ((70.0, 22.0), (84.6, 25.0), (150.0, 31.5), (232.0, 22.0), (230.5, 20.0)):
        shop.reading(fill, f"{at}bar", f"{celsius}C")
        o2, he, n2, ar = shop.moles(fill)
        assert pressure_bar((o2, he, n2, ar), celsius, 12.0) - AMBIENT == pytest.approx(
            at, abs=0.002
        )
    assert shop.row(fill).state == "resting"


def test_what_went_in_is_counted_by_gas(shop: Shop) -> None:
    fill = shop.rested()
    view = export.log_view(shop.station.record, "2026-11-25", "2026-11-25", shop.clock())
    (line,) = view.lines
    residual = amount(
        (0.28, 0.0, 0.72 * 0.7812 / 0.79054, 0.72 * 0.00934 / 0.79054), 61.01325, 20.0, 12.0
    )
    total = amount(tuple(n / sum(shop.moles(fill)) for n in shop.moles(fill)), 231.01325, 20.0, 12)
    assert line.oxygen_mol == pytest.approx(12.664, rel=1e-3)
    assert line.top_mol == pytest.approx(total - residual - 12.664, rel=1e-3)
    assert line.helium_mol == 0.0


def test_every_word_is_kept_as_typed_and_as_understood(shop: Shop) -> None:
    fill = shop.request(have=" 870psi@68F:EAN28 ", want="23MPa:EAN32")
    data = shop.last().data
    assert (data["have_typed"], data["want_typed"]) == ("870psi@68F:EAN28", "23MPa:EAN32")
    assert (data["gauge_mbar"], data["temp_mk"]) == (59984, 293150)
    assert (data["have_o2_ppm"], data["want_mbar"]) == (280000, 230000)
    shop.plan(fill, temperature="20C")
    assert shop.last().data["options"]["temperature"] == "20C"
    shop.start(fill)
    shop.reading(fill, " 84,4 bar", "20 C", gauge="  left  ")
    data = shop.last().data
    assert data["typed"] == {"at": "84,4 bar", "temperature": "20 C"}
    assert (data["gauge_mbar"], data["temp_mk"], data["kind"]) == (84400, 293150, "gas")
    assert data["gauge"] == "left"
    shop.reading(fill, "3336psi")
    shop.analyse(fill, "32,1")
    assert shop.last().data["typed"]["reading"] == "32,1"
    assert shop.last().data["o2_ppm"] == 321000


def test_each_act_is_signed_with_its_meaning(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    told = book.story(shop.station.record, fill)["entries"]
    assert [(e["kind"], e["signed_by"], e["meaning"]) for e in told] == [
        ("fill.requested", "Jo Blend", "requested"),
        ("fill.planned", "Jo Blend", "planned"),
        ("fill.started", "Jo Blend", "filled"),
        ("fill.reading", "Jo Blend", "read"),
        ("fill.reading", "Jo Blend", "read"),
        ("fill.analysed", "Jo Blend", "analysed"),
        ("fill.accepted", "Jo Blend", "handed over for signature"),
        ("fill.collected", "Jo Blend", "handed over"),
    ]
    assert [e["sealed"] for e in told] == [False] * 6 + [True, False]


def test_the_journal_holds_no_name_of_a_customer(shop: Shop) -> None:
    fill, _ = shop.accepted()
    for entry in shop.entries():
        assert b"Kai Diver" not in entry.body
    assert shop.row(fill).accepted_name == "Kai Diver"


def test_no_label_before_acceptance_and_no_tag_after(shop: Shop) -> None:
    fill = shop.request()
    with pytest.raises(RefusedError, match="label"):
        papers.label_view(shop.station.record, fill)
    with pytest.raises(RefusedError, match="tag"):
        papers.tag_view(shop.station.record, fill)
    shop.plan(fill)
    shop.start(fill)
    shop.reading(fill, "84.425bar")
    view = papers.tag_view(shop.station.record, fill)
    assert "O2 49.1 %" in view.holds_now
    assert [(s.action, s.to_bar and round(s.to_bar, 3)) for s in view.stops] == [
        ("add", 84.425),
        ("add", 230.0),
        ("rest", 230.0),
        ("analyse", None),
    ]
    assert (view.customer, view.wanted, view.wanted_bar) == ("Kai Diver", "EAN32", 230.0)
    shop.reading(fill, "230bar")
    shop.analyse(fill, "32.1")
    with pytest.raises(RefusedError, match="label"):
        papers.label_view(shop.station.record, fill)
    shop.accept(fill, "31.8")
    with pytest.raises(RefusedError, match="tag"):
        papers.tag_view(shop.station.record, fill)


def test_the_list_and_the_story(shop: Shop) -> None:
    fill, _ = shop.accepted()
    shop.request(cylinder="C-1003")
    (first, second) = book.fills(shop.station.record)["fills"]
    assert first == {
        "fill": fill,
        "state": "accepted",
        "cylinder": "C-1001",
        "customer": "Kai Diver",
        "wanted": {"o2": 0.32, "he": 0.0, "pressure_bar": 230.0},
        "analysed": {"o2": 0.321, "he": None},
        "pressure_bar": 230.0,
        "blender": "Jo Blend",
        "requested_at": first["requested_at"],
        "accepted_at": first["accepted_at"],
        "amended_by": None,
        "voided": False,
        "imported": False,
        "do_not_breathe": False,
    }
    assert first["requested_at"].startswith("2026-11-25T12:00:0")
    assert first["requested_at"].endswith("+01:00")
    assert (second["analysed"], second["accepted_at"]) == (None, None)
    story = book.story(shop.station.record, fill)
    json.dumps(story, allow_nan=False)
    assert not story["do_not_breathe"]
    assert all(isinstance(line, str) for line in book.story_lines(story))


def test_do_not_breathe_from_the_first_gas_until_acceptance(shop: Shop) -> None:
    def says() -> bool:
        told = book.story(shop.station.record, fill)
        assert ("DO NOT BREATHE" in told["holds_text"]) is told["do_not_breathe"]
        return bool(told["do_not_breathe"])

    fill = shop.request()
    assert not says()
    shop.plan(fill)
    assert not says()
    shop.start(fill)
    assert says()
    shop.reading(fill, "84.425bar")
    shop.hold(fill)
    assert says()
    shop.resume(fill, "84.4bar")
    shop.reading(fill, "230bar")
    assert says()
    shop.analyse(fill, "32.1")
    assert says()
    shop.quarantine(fill)
    assert says()
    shop.release(fill)
    shop.accept(fill, "31.8")
    assert not says()


def test_relabel_needs_and_gets_the_divers_signature(shop: Shop) -> None:
    """Outside the tolerance but breathable: the label says what it is, MOD and all."""
    fill = shop.rested()
    answer = shop.analyse(fill, "34.0")
    assert answer.facts["decision"] == "relabel"
    accepted = shop.accept(fill, "34.1")
    assert accepted.facts["decision"] == "relabel"
    view = papers.label_view(shop.station.record, fill)
    assert view.o2_percent == 34.0
    assert view.mod_agreed_m == pytest.approx(10 * 1.4 / 0.341 - 10, abs=1e-6)
    assert any(row.kind == "relabel" for row in shop.exceptions(fill))


def test_rejected_analysis_is_not_handed_out(shop: Shop) -> None:
    fill = shop.filling(cylinder="C-1002", have="60bar@20C:air", want="230bar:air")
    shop.reading(fill, "230bar")
    answer = shop.analyse(fill, "24.0", serial="C-1002")
    assert answer.facts["decision"] == "reject"  # cylinder is not in oxygen service
    refused = shop.accept(fill, "24.0")
    assert not refused.done
    assert gate(refused, "analysis")[0] == "stop"
    assert shop.row(fill).state == "analysed"


def test_unknown_things_are_said_so(shop: Shop) -> None:
    with pytest.raises(InputError, match="no such serial"):
        shop.request(cylinder="NOPE")
    with pytest.raises(InputError, match="person add"):
        shop.request(customer="Nobody Here")
    with pytest.raises(InputError, match="book list"):
        shop.plan(99)
    fill = shop.rested()
    with pytest.raises(InputError, match="no such analyser"):
        shop.analyse(fill, "32.1", analyser="A9")


def test_an_analysis_is_told_in_whole_sentences(shop: Shop) -> None:
    answer = shop.analyse(shop.rested(), "32.1")
    assert ": accept (every reading is within tolerance)." in answer.text


def test_a_label_is_matched_by_its_printed_head_too(shop: Shop) -> None:
    """Without a scanner, the head as it is printed for eyes is typed: all of it."""
    fill, _ = shop.accepted()
    printed = short_head(papers.label_view(shop.station.record, fill).proof)
    assert not shop.collect(fill, printed[:-5]).done
    assert not shop.collect(fill, "0" * 20).done
    assert shop.collect(fill, f"head {printed.upper()}…").done


def test_a_top_gas_that_was_asked_for_and_does_not_go_in_is_told(shop: Shop) -> None:
    fill = shop.request(have="0bar:air", residual="unknown", want="150bar:EAN32")
    banks = ("b1=EAN32@230barx50L",)
    unasked = shop.plan(fill, supply=banks)
    assert "Not used" not in unasked.text
    assert "top" not in shop.last().data["options"]
    asked = shop.plan(fill, supply=banks, top="air")
    assert "Not used: --top air; nothing of it goes in." in asked.text
    assert shop.last().data["options"]["top"] == "air"
    needed = shop.plan(fill, supply=("o1=oxygen",), top="air")
    assert "Not used" not in needed.text
