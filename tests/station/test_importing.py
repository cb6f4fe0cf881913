"""Tables taken over: all or nothing, every bad cell named, and old fills never pass for ours."""

from __future__ import annotations

import json
from typing import Any

import pytest

from blender.errors import InputError
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import book, export, importing, lookup, search
from blender.station.person_page import person_view
from blender.station.register import cylinders
from tests.station.shop import Shop

CYLINDERS = "serial;size;wp;tp;tested;inspected;clean\r\n"
FILLS = "date,cylinder,customer,gas,pressure,o2\n"


def take(shop: Shop, what: str, text: str | bytes, **how: str) -> dict[str, Any]:
    content = text if isinstance(text, bytes) else text.encode()
    return importing.bring_in(shop.station, shop.mara, what, content, **how)


def rehearse(shop: Shop, what: str, text: str | bytes, **how: str) -> dict[str, Any]:
    content = text if isinstance(text, bytes) else text.encode()
    return importing.rehearse(shop.station.record, what, content, shop.clock(), **how)


def whole(shop: Shop) -> None:
    tables = shop.tables()
    assert verify(shop.path).problems == []
    rebuild(shop.station.record)
    assert shop.tables() == tables


def test_cylinders_with_semicolons_a_mark_and_imperial_sizes(shop: Shop) -> None:
    rows = "N-1;12L;232bar;348bar;2025-03;2026-02;yes\r\nN-2;80cuft@3000psi;3000psi;5000psi;" \
        "2024-11;2026-01;no\r\nM-1+M-2;2x12L;232bar;348bar;2025-03;2026-02;yes\r\n"  # fmt: skip
    said = take(shop, "cylinders", b"\xef\xbb\xbf" + (CYLINDERS + rows).encode())
    assert (said["rows"], said["bad"]) == (3, [])
    known = {row["serial"]: row for row in cylinders(shop.station.record)["cylinders"]}
    assert known["N-2"]["wp_bar"] == pytest.approx(206.8, abs=0.1)  # 3000 psi
    assert known["M-1+M-2"]["clean"]
    entry = shop.last()
    assert (entry.kind, entry.data["line"]) == ("cylinder.added", 4)
    header = next(e for e in shop.entries() if e.seq == entry.data["import"])
    assert (header.kind, header.data["digest"], header.data["rows"]) == (
        "records.imported", said["digest"], 3,
    )  # fmt: skip
    assert (header.sig or {})["name"] == "Mara Linde"
    whole(shop)


def test_the_same_file_again_is_recognised(shop: Shop) -> None:
    text = CYLINDERS + "N-1;12L;232bar;348bar;2025-03;2026-02;yes"
    first = take(shop, "cylinders", text)
    count = shop.seq()
    again = take(shop, "cylinders", text)
    assert (again["repeated"], again["seq"], again["rows"]) == (True, first["seq"], 1)
    assert rehearse(shop, "cylinders", text)["repeated"]
    assert shop.seq() == count


def test_every_bad_cell_is_named_and_nothing_is_entered(shop: Shop) -> None:
    rows = [
        "N-1;12L;232bar;348bar;2025-03;2026-02;yes",
        "N 2;12;232;348bar;2025-13;2026-02;perhaps",
        "N-1;12L;232bar;348bar;2025-03;2026-02;yes",
        "C-1001;12L;232bar;348bar;2025-03;2026-02;yes",
        "N-5;12L;232bar;200bar;2025-03;2026-02;yes",
        "N-6;12L;232bar",
    ]
    text = CYLINDERS + "\r\n".join(rows)
    count = shop.seq()
    said = take(shop, "cylinders", text)
    found = [(one["line"], one["column"]) for one in said["bad"]]
    assert found == [
        (3, "serial"), (3, "size"), (3, "wp"), (3, "tested"), (3, "clean"),
        (4, "serial"), (5, "serial"), (6, "tp"), (7, ""),
    ]  # fmt: skip
    assert all(one["given"] and one["allowed"] for one in said["bad"])
    assert "2025-03" in said["bad"][3]["allowed"]
    assert shop.seq() == count
    assert rehearse(shop, "cylinders", text)["bad"] == said["bad"]


def test_customers_with_quoted_line_breaks_and_telephones(shop: Shop) -> None:
    text = 'name,certified,phone\n"Bo\nRask, the younger",nitrox,+46 8 5550\nÉva Ö,,\n'
    assert take(shop, "customers", text)["rows"] == 2
    view = person_view(shop.station.record, "Bo Rask, the younger", shop.clock())
    assert (view.certified, view.phones) == ("nitrox", ("+46 8 5550",))
    assert "Rask" not in b"".join(e.body for e in shop.entries()).decode()
    bad = take(shop, "customers", 'name,certified\n"A\n\nB",deco\nKai Diver,\nQ,\nQ,\n')["bad"]
    assert [(b["line"], b["column"]) for b in bad] == [
        (2, "certified"), (5, "name"), (7, "name"),
    ]  # fmt: skip
    whole(shop)


def test_another_encoding_is_refused_until_it_is_declared(shop: Shop) -> None:
    text = "name\nJosé Ñandú\n".encode("cp1252")
    with pytest.raises(InputError, match=r"0xE9 in line 2.*windows-1252"):
        take(shop, "customers", text)
    assert take(shop, "customers", text, encoding="windows-1252")["rows"] == 1
    assert person_view(shop.station.record, "José Ñandú", shop.clock()).name == "José Ñandú"
    with pytest.raises(InputError, match="UTF-16"):
        take(shop, "customers", "name\nx\n".encode("utf-16"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "heading"),
        ("name\n", "no rows"),
        ("name,shoe size\nKai,44\n", "shoe size"),
        ("name,name\na,b\n", "each once"),
        ("phone\n1\n", "missing: name"),
        ("name;phone,x\na;b\n", "--delimiter"),
        ('name\n"never closed\n', "quotes"),
    ],
)
def test_what_is_no_such_table_is_refused_in_a_sentence(shop: Shop, text: str, said: str) -> None:
    count = shop.seq()
    with pytest.raises(InputError, match=said):
        take(shop, "customers", text)
    assert shop.seq() == count


def imported(shop: Shop) -> int:
    said = take(shop, "fills", FILLS + "2024-05-03 14:30,C-1001,Kai Diver,EAN32,220bar,31.9\n")
    assert said["bad"] == []
    return int(shop.last().data["fill"])


def test_an_earlier_fill_is_unsigned_wherever_it_is_shown(shop: Shop) -> None:
    fill = imported(shop)
    record, seq = shop.station.record, shop.last().seq
    said = f"NOT SIGNED, NOT ANALYSED HERE: taken over by entry {seq}"
    (line,) = book.fills(record)["fills"]
    assert (line["state"], line["imported"], line["analysed"]) == ("imported", True, None)
    assert line["requested_at"].startswith("2024-05-03T14:30")
    assert "NOT SIGNED" in book.fill_line(line)
    story = book.story(record, fill)
    assert said in "\n".join(book.story_lines(story))
    assert (story["signatures"][0]["role"], story["analyses"]) == ("manager", [])
    assert "earlier book" in story["holds_text"]
    log = export.log_view(record, "2024-05-01", "2024-05-31", shop.clock())
    assert said in log.lines[0].marks[0]
    assert log.lines[0].staff_o2_percent is None
    assert "31.9" in log.lines[0].marks[0]
    assert list(search.find(record, "2024-05-03")) == [fill]
    whole(shop)


def test_its_gas_counts_as_stated(shop: Shop) -> None:
    imported(shop)
    known = lookup.known(shop.station.record, "C-1001", shop.clock())
    assert known["residual"] == {"gas": "EAN32", "source": "stated"}
    fill = shop.request(residual="label", have="60bar@20C:EAN32")
    assert shop.row(fill).residual == "stated"
    shop.reject(fill)
    shop.void(fill)


def test_bad_fills_are_named_and_no_line_is_taken_twice(shop: Shop) -> None:
    imported(shop)
    rows = [
        "2024-05-03 14:30,C-1001,Kai Diver,EAN32,220bar,31.9",
        "03.05.2024,C-1001,Kai Diver,EAN32,220bar,",
        "2034-05-03,C-1001,Kai Diver,EAN32,220bar,",
        "2024-05-04,C-9,Nobody,EAN320,220,320",
        "2024-05-05,C-1001,Kai Diver,EAN32,220bar,",
        "2024-05-05,C-1001,Kai Diver,EAN32,220bar,",
    ]
    said = take(shop, "fills", FILLS + "\n".join(rows))
    found = [(one["line"], one["column"]) for one in said["bad"]]
    assert found == [
        (2, "date"), (3, "date"), (4, "date"),
        (5, "cylinder"), (5, "customer"), (5, "gas"), (5, "pressure"), (5, "o2"), (7, "date"),
    ]  # fmt: skip
    assert json.dumps(said)


def test_an_imported_fill_can_be_voided_and_its_customer_amended(shop: Shop) -> None:
    fill = imported(shop)
    assert shop.amend(fill, "customer", "Lena Tief").done
    assert shop.amend(fill, "cylinder", "D-7").done
    assert shop.void(fill).done
    whole(shop)


@pytest.mark.parametrize(
    ("gas", "o2", "he", "column"),
    [("EAN32", "50", "", "o2"), ("EAN32", "0.32", "", "o2"), ("air", "32.0", "", "o2"),
     ("18/45", "18.2", "5", "he"), ("EAN32", "32.1", "20", "he"), ("oxygen", "32", "", "o2")],
)  # fmt: skip
def test_a_reading_that_is_not_of_the_gas_named_is_refused(
    shop: Shop, gas: str, o2: str, he: str, column: str
) -> None:
    text = "date,cylinder,customer,gas,pressure,o2,he\n" \
        f"2024-05-03,C-1001,Kai Diver,air,220bar,20.9,\n" \
        f"2024-05-04,C-1001,Kai Diver,{gas},220bar,{o2},{he}\n"  # fmt: skip
    said = rehearse(shop, "fills", text)
    (bad,) = said["bad"]
    assert (bad["line"], bad["column"]) == (3, column)
    assert "put right the one that is wrong" in said["told"][0]
    count = shop.seq()
    assert take(shop, "fills", text)["bad"] == said["bad"]
    assert shop.seq() == count


@pytest.mark.parametrize(
    ("gas", "o2", "he"), [("EAN32", "34.9", ""), ("18/45", "17.1", "43.0"), ("EAN32", "", "")]
)
def test_a_reading_near_the_gas_named_is_taken(shop: Shop, gas: str, o2: str, he: str) -> None:
    text = "date,cylinder,customer,gas,pressure,o2,he\n" \
        f"2024-05-04,C-1001,Kai Diver,{gas},220bar,{o2},{he}\n"  # fmt: skip
    assert rehearse(shop, "fills", text)["bad"] == []
