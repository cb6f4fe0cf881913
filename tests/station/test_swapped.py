"""Two fills open at once: nothing of one serves for the other."""

from __future__ import annotations

import pytest

from tests.station.shop import Shop, gate


def test_a_label_serves_its_own_cylinder_only(shop: Shop) -> None:
    a, label_a = shop.accepted()
    b, label_b = shop.accepted(cylinder="C-1003")
    for fill, serial, label, wrong in (
        (b, "C-1003", label_a, "label"),
        (b, "C-1001", label_b, "identity"),
        (a, "C-1003", label_a, "identity"),
    ):
        refused = shop.collect(fill, label, serial)
        assert (refused.done, refused.state) == (False, "accepted")
        assert gate(refused, wrong)[0] == "stop"
        assert shop.last().kind == "fill.refused"
        assert shop.last().data["given"] == {"serial": serial, "label": label}
    assert shop.collect(a, label_a).state == "collected"
    assert shop.collect(b, label_b, "C-1003").state == "collected"


@pytest.mark.parametrize(
    "change",
    [
        lambda t: t.replace("QUAY-1", "QUAY-2"),
        lambda t: t.replace(" 1 ", " 2 ", 1),
        lambda t: t[:-4],
        lambda t: t[:-3] + ("B" if t[-3] == "A" else "A") + t[-2:],
        lambda t: t.lower(),
        lambda t: "",
        lambda t: "FILLWRIGHT1",
        lambda t: t + " more",
        lambda t: "=1+1",
        lambda t: "\x1b[2J\u202e" + t,
        lambda t: t * 20,
    ],
)
def test_anything_but_the_label_is_refused(shop: Shop, change: object) -> None:
    fill, label = shop.accepted()
    refused = shop.collect(fill, change(label))
    assert (refused.done, refused.state) == (False, "accepted")
    assert gate(refused, "label")[0] == "stop"


def test_blanks_of_a_scanner_do_not_matter(shop: Shop) -> None:
    fill, label = shop.accepted()
    assert shop.collect(fill, f"  {label}\r\n".replace(" ", "  "), " C-1001 ").done


def test_an_older_entry_of_the_same_fill_is_not_its_label(shop: Shop) -> None:
    fill, _ = shop.accepted()
    earlier = [e for e in shop.entries() if e.kind == "fill.analysed"][-1]
    refused = shop.collect(fill, earlier.anchor.text)
    assert gate(refused, "label")[0] == "stop"


def test_collected_once_only(shop: Shop) -> None:
    fill, label = shop.accepted()
    shop.collect(fill, label)
    again = shop.collect(fill, label)
    assert (again.done, again.state) == (False, "collected")
