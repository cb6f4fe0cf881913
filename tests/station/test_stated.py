"""Depths of a label: a reader's own sum from what is printed never gives a shallower MOD.

MOD and floor: (ppO2 / FO2 - 1) 10 m, US Navy and NOAA diving manuals, worked out here from
the printed figure.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from blender.record.journal import Record
from blender.rounding import deeper, shallower
from blender.station import book, papers
from blender.station.offer import offer
from blender.station.rules import Rules
from blender.station.stated import basis, depths, printed_ppm, signed_basis
from reports.label import label_pdf
from reports.wording import percent
from tests.station.shop import Shop

GOLDEN = Path(__file__).parent.parent / "record" / "golden" / "station-1.db"
ppms = st.integers(100_000, 1_000_000)


def printed(shop: Shop, fill: int) -> str:
    pdf = label_pdf(papers.label_view(shop.station.record, fill))
    return PdfReader(BytesIO(pdf)).pages[0].extract_text().replace("\xa0", " ")


@given(st.lists(ppms, min_size=1, max_size=4))
def test_a_readers_own_sum_is_never_more_cautious(readings: list[int]) -> None:
    stated = depths(basis(readings, Rules()))
    for one in readings:
        for o2 in (one / 1e6, float(percent(one / 1e4)) / 100.0):
            assert shallower((1.4 / o2 - 1.0) * 10.0) >= shallower(stated.mod_agreed_m)
            assert shallower((1.4 / o2 - 1.0) * 33.0) >= shallower(stated.mod_agreed_ft)
            assert deeper(max(0.18 / o2 - 1.0, 0.0) * 10.0) <= deeper(stated.floor_m)


@given(ppms)
def test_feet_are_never_beyond_the_metres_printed_beside_them(o2_ppm: int) -> None:
    """The international foot is 0.3048 m."""
    stated = depths(basis([o2_ppm], Rules()))
    for metre, foot in (
        (stated.mod_agreed_m, stated.mod_agreed_ft),
        (stated.mod_high_m, stated.mod_high_ft),
    ):
        assert shallower(foot) * 0.3048 <= shallower(metre) + 1e-9
    assert deeper(stated.floor_ft) * 0.3048 >= deeper(stated.floor_m) - 1e-9


def test_a_statement_signed_before_is_printed_with_the_feet_it_had() -> None:
    """33 ft to an atmosphere, US Navy's and NOAA's count: (1.4 / 0.32 - 1) x 33 = 111.375."""
    now = basis([320_000], Rules()).as_data()
    before = {name: value for name, value in now.items() if name != "feet_of_metres"}
    assert depths(signed_basis(before, ())).mod_agreed_ft == pytest.approx(111.375)
    assert shallower(depths(signed_basis(now, ())).mod_agreed_ft) == 108


@given(ppms)
def test_what_is_signed_in_millimetres_is_what_is_printed(o2_ppm: int) -> None:
    stated = depths(basis([o2_ppm], Rules()))
    signed = stated.in_mm()
    assert shallower(signed["mod_mm"] / 1000.0) == shallower(stated.mod_agreed_m)
    assert shallower(signed["mod_high_mm"] / 1000.0) == shallower(stated.mod_high_m)
    assert deeper(signed["floor_mm"] / 1000.0) == deeper(stated.floor_m)


def test_a_depth_that_lands_on_a_whole_metre_stays_there() -> None:
    assert depths(basis([280_000], Rules())).in_mm()["mod_mm"] == 40_000


def eighteen(shop: Shop) -> int:
    """18.18 % as corrected: 67.0 m by itself, 66.9 m from the 18.2 % that is printed."""
    fill = shop.request(customer="Lena Tief", have="60bar@20C:air", want="200bar:air")
    shop.plan(fill)
    shop.start(fill)
    shop.reading(fill, "200bar")
    shop.analyse(fill, "18.18")
    assert shop.accept(fill, "18.18", name="Lena Tief").done
    return fill


def test_18_18_is_printed_as_18_2_and_gives_66_m(shop: Shop) -> None:
    assert shallower((1.4 / 0.1818 - 1.0) * 10.0) == 67
    fill = eighteen(shop)
    text = printed(shop, fill)
    assert "18.2 %" in text
    assert "MOD at ppO₂ 1.40 bar 66 m" in " ".join(text.split())
    stated = next(e for e in shop.entries() if e.kind == "fill.accepted").data["label"]
    assert stated["mod_o2_ppm"] == 182_000
    assert stated["mod_mm"] == 66_923
    assert shallower(offer(shop.station.record, fill).mod_agreed_m) == 66


def test_the_diver_is_shown_what_is_then_signed(shop: Shop) -> None:
    fill = shop.analysed("32.15")
    shown = offer(shop.station.record, fill, reading="31.8")
    answer = shop.accept(fill, "31.8")
    assert answer.facts["label"]["mod_mm"] == int(shown.mod_agreed_m * 1000.0)
    view = papers.label_view(shop.station.record, fill)
    assert view.mod_agreed_m == shown.mod_agreed_m == pytest.approx(10 * 1.4 / 0.322 - 10)


def disputed(shop: Shop) -> int:
    """The diver reads 32.8, a second analyser 32.7: so does he then, and 32.8 is on no line."""
    fill = shop.analysed("32.1")
    assert shop.accept(fill, "32.8").state == "recheck"
    assert shop.analyse(fill, "32.7", analyser="A2").state == "analysed"
    assert shop.accept(fill, "32.7").done
    return fill


def test_after_a_dispute_the_label_says_whose_reading_the_mod_rests_on(shop: Shop) -> None:
    fill = disputed(shop)
    view = papers.label_view(shop.station.record, fill)
    assert view.mod_agreed_m == pytest.approx(10 * 1.4 / 0.328 - 10)
    assert "MOD from 32.8 % read by Kai Diver" in " ".join(printed(shop, fill).split())


def test_the_other_posts_reading_is_named_by_its_reader(shop: Shop) -> None:
    fill = shop.analysed("32.4")
    shop.analyse(fill, "32.1")
    assert shop.accept(fill, "32.1").done
    assert "MOD from 32.4 % read by Jo Blend" in " ".join(printed(shop, fill).split())


def test_nothing_is_said_where_the_mod_rests_on_the_printed_reading(shop: Shop) -> None:
    fill, _ = shop.accepted()
    assert papers.label_view(shop.station.record, fill).extra_lines == ()


def test_a_label_of_the_first_format_is_printed_as_it_was(tmp_path: Path) -> None:
    copy = tmp_path / "station.db"
    copy.write_bytes(GOLDEN.read_bytes())
    seen = 0
    with Record.open(copy, readonly=True) as record:
        for line in book.fills(record)["fills"]:
            if line["state"] not in ("accepted", "collected") or line["analysed"]["o2"] > 0.9:
                continue
            view, seen = papers.label_view(record, line["fill"]), seen + 1
            with record.read() as conn:
                signed = papers.read.entry(conn, record.station, view.proof.seq).data["label"]
            assert "mod_o2_ppm" not in signed
            assert view.mod_agreed_m == pytest.approx(signed["mod_mm"] / 1000.0, abs=5e-4)
    assert seen


def test_printed_tenths() -> None:
    assert [printed_ppm(n) for n in (181_499, 181_500, 181_800)] == [181_000, 182_000, 182_000]
