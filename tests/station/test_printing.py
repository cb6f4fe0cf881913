"""A paper printed first is the paper; every later one is a copy and says when it was made."""

from __future__ import annotations

import shutil
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from blender.errors import InputError, RefusedError, StorageError
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import book, day
from blender.station.audit import audit
from blender.station.certificate import CertificateView
from blender.station.offer import offer
from blender.station.papers import label_view
from blender.station.printing import print_certificate, print_label, print_receipt
from blender.station.receipt import Receipt
from blender.station.ruling import set_rule
from blender.station.views import LabelView
from reports.certificate import certificate_pdf
from reports.label import label_pdf
from reports.receipt import receipt_pdf
from tests.station.shop import Shop

MONTH_US = 30 * 24 * 3_600_000_000


class Printer:
    """Keeps what it was given to print, as text."""

    def __init__(self) -> None:
        self.printed: list[str] = []

    def __call__(self, view: LabelView) -> str:
        pages = PdfReader(BytesIO(label_pdf(view))).pages
        self.printed.append(" ".join(pages[0].extract_text().replace("\xa0", " ").split()))
        return "label.pdf"


def test_a_label_printed_again_is_a_copy_of_that_day(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    record, keys, put = shop.station.record, shop.station.keys, Printer()
    now = shop.clock()
    later = Moment(now.us + MONTH_US, 60)
    for at in (now, later, later):
        view, place = print_label(record, fill, at, put, keys)
        assert (view.proof.anchor, place) == (anchor, "label.pdf")
    first, second, third = put.printed
    assert "COPY" not in first
    assert "COPY 2 · 2026-12-25" in second
    assert "COPY 3 · 2026-12-25" in third
    assert "2026-11-25" in second  # when it was signed stays on it


def test_every_print_is_in_the_story_sealed_and_no_work_on_the_fill(shop: Shop) -> None:
    day.open_day(shop.station, shop.jo, gauges_zero="yes", room="yes", intake="yes")
    fill, label = shop.accepted()
    shop.collect(fill, label)
    day.close_day(shop.station, shop.jo)
    shop.clock.turn(24 * 60)
    day.open_day(shop.station, shop.jo, gauges_zero="yes", room="yes", intake="yes")
    print_label(shop.station.record, fill, shop.clock(), Printer(), shop.station.keys)
    entry = shop.last()
    assert (entry.kind, entry.data) == ("label.printed", {"fill": fill, "copy": 1})
    assert entry.seal is not None
    assert book.story(shop.station.record, fill)["entries"][-1]["kind"] == "label.printed"
    assert day.close_day(shop.station, shop.jo)["by_state"] == {}
    assert shop.row(fill).state == "collected"
    tables = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == tables
    assert verify(shop.path, label).ok


def test_nothing_is_entered_of_a_label_that_was_not_printed(shop: Shop) -> None:
    fill, _ = shop.accepted()
    count = shop.seq()

    def jams(view: LabelView) -> str:
        raise InputError("--out", "x", "it cannot be written")

    with pytest.raises(InputError):
        print_label(shop.station.record, fill, shop.clock(), jams, shop.station.keys)
    with pytest.raises(RefusedError):
        print_label(shop.station.record, shop.request(cylinder="D-7"), shop.clock(), jams)
    assert shop.seq() == count + 1  # the request
    put = Printer()
    print_label(shop.station.record, fill, shop.clock(), put, shop.station.keys)
    assert "COPY" not in put.printed[0]


def test_where_nothing_can_be_entered_it_is_a_copy(shop: Shop, tmp_path: Path) -> None:
    fill, _ = shop.accepted()
    backup = tmp_path / "backup.db"
    shutil.copyfile(shop.path, backup)
    before, put = backup.read_bytes(), Printer()
    with Record.open(backup, readonly=True) as record:
        print_label(record, fill, shop.clock(), put)
    assert "COPY 2 · 2026-11-25" in put.printed[0]
    assert backup.read_bytes() == before


@pytest.mark.parametrize("code", ["busy", "storage"])
def test_a_disk_that_takes_nothing_prints_a_copy_but_a_busy_one_waits(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    fill, _ = shop.accepted()
    count, put = shop.seq(), Printer()

    def full(*_: object, **__: object) -> None:
        raise StorageError("the disk is full", code=code)

    monkeypatch.setattr("blender.record.unit.Unit.append", full)
    if code == "busy":
        with pytest.raises(StorageError):
            print_label(shop.station.record, fill, shop.clock(), put, shop.station.keys)
    else:
        print_label(shop.station.record, fill, shop.clock(), put, shop.station.keys)
        assert "COPY 2" in put.printed[-1]
    assert shop.seq() == count


def _words(content: bytes) -> str:
    pages = PdfReader(BytesIO(content)).pages
    return " ".join(pages[0].extract_text().replace("\xa0", " ").split())


PAPERS = {"certificate": (print_certificate, certificate_pdf),
          "receipt": (print_receipt, receipt_pdf)}  # fmt: skip


def _printed(name: str, record: Record, fill: int, now: Moment, keys: Any) -> str:
    """Print a paper and return its words."""
    printed: list[str] = []
    printer, drawn = PAPERS[name]

    def put(view: CertificateView | Receipt) -> str:
        printed.append(_words(drawn(view)))
        return f"{name}.pdf"

    _, place = printer(record, fill, now, put, keys)
    assert place == f"{name}.pdf"
    return printed[0]


@pytest.mark.parametrize("name", PAPERS)
def test_a_certificate_and_a_receipt_are_counted_each_by_itself(shop: Shop, name: str) -> None:
    fill, _ = shop.accepted()
    record, keys = shop.station.record, shop.station.keys
    print_label(record, fill, shop.clock(), Printer(), keys)
    later = Moment(shop.clock().us + MONTH_US, 60)
    first = _printed(name, record, fill, shop.clock(), keys)
    assert "COPY" not in first
    assert shop.last().data == {"fill": fill, "copy": 1, "paper": name}
    assert shop.last().kind == "paper.printed"
    assert shop.last().seal is not None
    assert "COPY 2 · 2026-12-25" in _printed(name, record, fill, later, keys)
    (other,) = set(PAPERS) - {name}
    assert "COPY" not in _printed(other, record, fill, later, keys)
    tables = shop.tables()
    rebuild(record)
    assert shop.tables() == tables
    report = verify(shop.path)
    assert report.ok
    assert audit(record, "2026-11-01", "2026-12-31", later, report).copies == 1


@pytest.mark.parametrize("name", PAPERS)
def test_where_nothing_can_be_entered_each_is_a_copy(shop: Shop, tmp_path: Path, name: str) -> None:
    fill, _ = shop.accepted()
    backup = tmp_path / "backup.db"
    shutil.copyfile(shop.path, backup)
    with Record.open(backup, readonly=True) as record:
        assert "COPY 2 · 2026-11-25" in _printed(name, record, fill, shop.clock(), None)


def test_nothing_is_entered_of_a_receipt_of_nothing(shop: Shop) -> None:
    fill, count = shop.request(), shop.seq()
    for name in PAPERS:
        with pytest.raises(RefusedError):
            _printed(name, shop.station.record, fill, shop.clock(), shop.station.keys)
    assert shop.seq() == count


def test_the_stations_units_lead_once_it_has_said_which(shop: Shop) -> None:
    fill, _ = shop.accepted()
    record, why = shop.station.record, "what the shop's gauges show"
    led = [label_view(record, fill).imperial]
    for units in ("imperial", "metric"):
        set_rule(shop.station, shop.mara, "units", units, reason=why)
        led.append(label_view(record, fill).imperial)
        assert offer(record, fill).imperial is led[-1]  # what is signed for is what is printed
    assert led == [False, True, False]
