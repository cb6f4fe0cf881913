"""A station's rules: listed, changed by a manager with a reason, in force everywhere at once."""

from __future__ import annotations

import json
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import FillwrightError, InputError, RefusedError
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import day, papers, ruling, watch
from blender.station.lookup import known
from blender.station.rules import Rules
from blender.station.sheets import LABEL_STOCKS, PAPERS, UNITS
from tests.station.shop import Shop, gate


def change(shop: Shop, name: str, value: str, reason: str = "insurer asks for it") -> dict:
    return ruling.set_rule(shop.station, shop.mara, name, value, reason=reason)


def test_a_new_station_works_by_the_usual_rules(shop: Shop) -> None:
    assert shop.station.rules == Rules()
    listed = ruling.listing(shop.station.record)["rules"]
    assert len(listed) == len(fields(Rules))
    assert all(one["value"] == one["usual"] and not one["changes"] for one in listed)
    assert json.loads(json.dumps(listed)) == listed


def test_a_change_is_signed_with_its_reason_and_the_value_before(shop: Shop) -> None:
    said = change(shop, "rest", "10min")
    assert (said["old"], said["value"]) == (0, 10)
    entry = shop.last()
    assert (entry.kind, (entry.sig or {})["name"]) == ("rule.changed", "Mara Linde")
    assert (entry.data["old_text"], entry.data["new_text"]) == ("0 min", "10 min")
    assert (entry.data["typed"], entry.data["reason"]) == ("10min", "insurer asks for it")
    change(shop, "rest", "15 min", "still warm at ten")
    assert shop.station.rules.rest_minutes == 15
    (one,) = [r for r in ruling.listing(shop.station.record)["rules"] if r["rule"] == "rest"]
    assert [was["old_text"] for was in one["changes"]] == ["0 min", "10 min"]
    text = "\n".join(ruling.lines({"rules": [one]}))
    assert "rest             15 min" in text
    assert "10 min until 2026-11-25T" in text
    assert "Mara Linde: still warm at ten" in text
    kinds = [row["kind"] for row in watch.exceptions(shop.station.record)]
    assert kinds == ["rule-changed", "rule-changed"]


def test_only_a_manager_changes_a_rule(shop: Shop) -> None:
    for other in (shop.jo, shop.ada):
        with pytest.raises(RefusedError):
            ruling.set_rule(shop.station, other, "rest", "10min", reason="x")
    assert shop.station.rules == Rules()


@pytest.mark.parametrize(
    ("name", "value", "reason"),
    [
        ("rests", "10min", "x"),
        ("rest", "10", "x"),  # no unit: minutes or hours?
        ("rest", "10bar", "x"),
        ("rest", "-1min", "x"),
        ("rest", "2.5min", "x"),
        ("rest", "nan min", "x"),
        ("rest", "1e3min", "x"),
        ("rest", "0min", "it is that already"),
        ("rest", "10min", ""),
        ("clean-above", "0.4", "x"),
        ("clean-above", "41%", "x"),
        ("agreed-ppo2", "1.7bar", "x"),
        ("high-ppo2", "1.3bar", "x"),  # below the usual depth's
        ("name", "", "x"),
        ("test", "1,500years", "x"),
    ],
)
def test_what_cannot_be_a_rule_is_not_entered(
    shop: Shop, name: str, value: str, reason: str
) -> None:
    count = shop.seq()
    with pytest.raises(InputError):
        change(shop, name, value, reason)
    assert shop.seq() == count


@given(st.sampled_from(sorted(ruling.SETTINGS)), st.text(max_size=12))
def test_any_text_is_understood_or_refused(field: str, typed: str) -> None:
    try:
        value = ruling.parse_value(field, typed)
    except FillwrightError:
        return
    setting = ruling.SETTINGS[field]
    assert isinstance(value, str) or setting.least <= value <= setting.most


@pytest.mark.parametrize(
    "field", [f.name for f in fields(Rules) if f.name not in ("name", "gas_order", "copy_folder")]
)
def test_every_rule_can_be_set_to_both_its_ends(shop: Shop, field: str) -> None:
    setting = ruling.SETTINGS[field]
    words = {"yes/no": ("yes", "no"), "sheet": reversed(PAPERS), "stock": reversed(LABEL_STOCKS),
             "units": reversed(UNITS)}  # fmt: skip
    if setting.unit in words:
        for word in words[setting.unit]:
            assert change(shop, setting.name, word)["value"] == word
            assert getattr(shop.station.rules, field) == word
        return
    for end in (setting.least, setting.most):
        if (field, end) == ("high_ppo2_bar", setting.least):
            continue  # below the usual depth's
        if getattr(shop.station.rules, field) == end:
            continue
        typed = setting.text(end)
        assert change(shop, setting.name, typed)["value"] == pytest.approx(end)
        found = getattr(shop.station.rules, field)
        assert type(found) is type(getattr(Rules(), field))
        assert found == pytest.approx(end)


def test_a_rule_is_in_force_in_every_act_and_view_at_once(shop: Shop) -> None:
    assert shop.plan(shop.request(cylinder="C-1002", want="200bar:EAN28")).done is False
    change(shop, "clean-above", "40%")
    fill = shop.request(cylinder="C-1002", have="0bar:air", want="200bar:EAN32")
    refused = shop.plan(fill)
    assert "40%" in gate(refused, "oxygen-clean")[1]
    due = known(shop.station.record, "C-1002", shop.clock())["due"]
    assert "nothing richer than 40% oxygen" in due[-1]["text"]
    change(shop, "calibration", "1h")
    shop.clock.turn(90)
    stands = day.day_status(shop.station.record, shop.clock())
    assert len(stands["analysers_due"]) == 2


def test_a_label_states_the_rules_it_was_signed_under(shop: Shop) -> None:
    fill, _ = shop.accepted()
    before = papers.label_view(shop.station.record, fill)
    change(shop, "agreed-ppo2", "1.3bar")
    assert papers.label_view(shop.station.record, fill) == before
    other, _ = shop.accepted(cylinder="C-1003")
    view = papers.label_view(shop.station.record, other)
    assert view.agreed_ppo2_bar == 1.3
    assert view.mod_agreed_m == pytest.approx(10 * 1.3 / 0.321 - 10)


def test_rules_are_made_again_from_the_journal(shop: Shop) -> None:
    change(shop, "rest", "10min")
    change(shop, "name", "our own, 2026")
    before = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == before
    assert (shop.station.rules.rest_minutes, shop.station.rules.name) == (10, "our own, 2026")
    assert verify(shop.path).problems == []
