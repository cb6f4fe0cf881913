"""What is handed to the tablet is one thing, for one person, once; and all of it is on record."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from blender.errors import FillwrightError, InputError, RefusedError
from blender.record import private
from blender.record.verify import verify
from blender.station import at_tablet, handing, handover, people, privacy, tablet
from blender.station.actor import Actor
from blender.station.book import story
from blender.station.certificate import certificate_view
from blender.station.papers import label_view
from blender.station.strokes import MOST_POINTS, MOST_STROKES
from reports.certificate import certificate_pdf
from tests import server
from tests.reports.paper import texts
from tests.station.shop import Shop, cheap_secrets, found

URL = "http://127.0.0.1:8023"
DRAWN = [[(100, 200), (300, 180), (420, 240)], [(500, 100), (900, 130)]]


@pytest.fixture(name="shop")
def _shop_served(shop: Shop) -> Shop:
    tablet.serve_at(shop.station, URL)
    return shop


def token_of(handed: dict[str, object]) -> str:
    return str(handed["url"]).partition("#")[2]


def hand(shop: Shop, purpose: str = handing.SIGN, by: Actor | None = None, **about: object) -> str:
    return token_of(tablet.hand(shop.station, by or shop.jo, purpose, **about))


def at_it(shop: Shop, token: str) -> Actor:
    """Who stands in at the tablet once the token was shown."""
    return at_tablet.stand_in(shop.station, tablet.open_with(shop.station, token).seq)[0]


def refused(code: str, doing: object, *args: object, **facts: object) -> str:
    with pytest.raises(RefusedError) as caught:
        doing(*args, **facts)
    assert caught.value.code == code
    return caught.value.text


def test_a_fill_is_signed_for_at_the_tablet_and_the_record_holds_it(shop: Shop) -> None:
    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    answer = handover.accept(
        shop.station, actor, fill, name="Kai Diver", reading="31.8", strokes=DRAWN
    )
    assert answer.done
    entry = shop.last()
    assert (entry.kind, entry.sig, entry.seal is not None) == ("fill.accepted", None, True)
    assert entry.data["tablet"] == actor.handed
    with shop.station.record.read() as conn:
        kept = private.get(conn, entry.data["private"])
    assert kept == {"name": "Kai Diver", "strokes": [[list(p) for p in line] for line in DRAWN]}
    assert verify(shop.path).problems == []
    label = label_view(shop.station.record, fill)
    assert label.sealed_by == "Jo Blend (tablet)"
    assert len(label.strokes) == 2


def test_the_certificate_shows_who_handed_it_over_and_the_drawing(shop: Shop) -> None:
    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    handover.accept(shop.station, actor, fill, name="Kai Diver", reading="31.8", strokes=DRAWN)
    said = " ".join(
        " ".join(texts(certificate_pdf(certificate_view(shop.station.record, fill)))).split()
    )
    assert "handed to the tablet, to read and sign" in said
    assert "drawn by hand" in said
    assert "advanced" not in said
    assert "qualified" not in said


def test_a_token_opens_once(shop: Shop) -> None:
    token = hand(shop, fill=shop.analysed())
    tablet.open_with(shop.station, token)
    assert "used before" in refused(handing.OPENED, tablet.open_with, shop.station, token)


def test_a_token_is_short_lived_and_so_is_what_it_opens(shop: Shop) -> None:
    fill = shop.analysed()
    late, early = hand(shop, fill=fill), hand(shop, fill=fill)
    actor = at_it(shop, early)
    shop.clock.turn(tablet.TOKEN_MINUTES + 1)
    refused(handing.EXPIRED, tablet.open_with, shop.station, late)
    shop.clock.turn(tablet.LONGEST_MINUTES[handing.SIGN])
    facts = {"name": "Kai Diver", "reading": "31.8"}
    refused(handing.EXPIRED, handover.accept, shop.station, actor, fill, **facts)


def test_a_clock_set_back_opens_nothing_again(shop: Shop) -> None:
    token = hand(shop, fill=shop.analysed())
    shop.clock.turn(-60)
    refused(handing.EXPIRED, tablet.open_with, shop.station, token)


@pytest.mark.parametrize("change", ["x", "", "-", "1-x", "0", "999999-" + "A" * 27])
def test_no_other_token_opens_anything(shop: Shop, change: str) -> None:
    token = hand(shop, fill=shop.analysed())
    wrong = f"{token[:-1]}{'A' if token[-1] != 'A' else 'B'}" if change == "x" else change
    refused(handing.UNKNOWN, tablet.open_with, shop.station, wrong)


def test_of_a_token_the_record_keeps_the_digest_alone(shop: Shop) -> None:
    token = hand(shop, fill=shop.analysed())
    bodies = b"".join(entry.body for entry in shop.entries())
    assert token.partition("-")[2].encode() not in bodies
    assert handing.digest_of(token.partition("-")[2]).encode() in bodies


def test_what_was_withdrawn_neither_opens_nor_signs(shop: Shop) -> None:
    fill = shop.analysed()
    actor, unopened = at_it(shop, hand(shop, fill=fill)), hand(shop, fill=fill)
    assert len(tablet.with_tablet(shop.station)["handed"]) == 2
    assert len(tablet.withdraw(shop.station, shop.jo)["withdrawn"]) == 2
    assert tablet.with_tablet(shop.station)["handed"] == []
    refused(handing.WITHDRAWN, tablet.open_with, shop.station, unopened)
    facts = {"name": "Kai Diver", "reading": "31.8"}
    refused(handing.WITHDRAWN, handover.accept, shop.station, actor, fill, **facts)
    assert shop.row(fill).state == "analysed"
    assert "withdrawn" in str(tablet.why_over(shop.station, actor.handed))


def test_it_is_for_that_fill_and_that_act_alone(shop: Shop) -> None:
    mine, other = shop.analysed(), shop.analysed(cylinder="C-1003")
    actor = at_it(shop, hand(shop, fill=mine))
    told = refused(handing.UNKNOWN, handover.accept, shop.station, actor, other, name="Kai Diver",
                   reading="31.8")  # fmt: skip
    assert "another fill" in told
    acts = [
        lambda: shop.request(by=actor, cylinder="D-7"),
        lambda: shop.reject(mine, by=actor),
        lambda: shop.collect(mine, "x", by=actor),
        lambda: people.add_person(shop.station, actor, name="Nobody", role="customer"),
        lambda: privacy.set_phone(shop.station, actor, "Lena Tief", "+49 30 23125 017"),
        lambda: at_tablet.register(shop.station, actor, name="Nobody"),
        lambda: tablet.hand(shop.station, actor, handing.SIGN, fill=other),
        lambda: tablet.withdraw(shop.station, actor),
        lambda: people.change_secret(shop.station, actor, "low tide at noon", "another one"),
    ]
    before = shop.seq()
    for act in acts:
        with pytest.raises(RefusedError):
            act()
    assert shop.seq() == before


def test_a_made_up_stand_in_may_nothing(shop: Shop) -> None:
    fill = shop.analysed()
    seq = tablet.open_with(shop.station, hand(shop, fill=fill)).seq
    facts = {"name": "Kai Diver", "reading": "31.8"}
    for forged in (
        Actor(shop.mara.person, shop.mara.name, "manager", None, handed=seq),  # Jo handed it
        Actor(shop.jo.person, shop.jo.name, "blender", None),  # nothing was handed
        Actor(shop.jo.person, shop.jo.name, "blender", None, handed=seq + 1),
        Actor(shop.jo.person, shop.jo.name, "manager", None, handed=seq),
    ):
        with pytest.raises(RefusedError):
            handover.accept(shop.station, forged, fill, **facts)
    assert shop.row(fill).state == "analysed"


def test_a_manager_who_hands_it_over_allows_nothing_by_that(shop: Shop) -> None:
    fill = shop.analysed()
    people.see_card(shop.station, shop.jo, shop.row(fill).customer, "air")  # a manager decides
    facts = {"name": "Kai Diver", "reading": "31.8"}
    actor = at_it(shop, hand(shop, by=shop.mara, fill=fill))
    assert not handover.accept(shop.station, actor, fill, **facts).done
    assert shop.row(fill).state == "analysed"
    assert handover.accept(shop.station, shop.mara, fill, **facts).done


def test_readings_that_disagree_end_it(shop: Shop) -> None:
    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    answer = handover.accept(shop.station, actor, fill, name="Kai Diver", reading="29.0")
    assert answer.state == "recheck"
    refused(handing.USED, handover.accept, shop.station, actor, fill, name="Kai Diver",
            reading="31.8")  # fmt: skip


def test_only_what_waits_for_a_signature_is_handed_over(shop: Shop) -> None:
    fill = shop.rested()
    refused("order", tablet.hand, shop.station, shop.jo, handing.SIGN, fill=fill)
    refused("authority", tablet.hand, shop.station, shop.ada, handing.REGISTER)
    with pytest.raises(InputError):
        tablet.hand(shop.station, shop.jo, "book")
    tablet.serve_at(shop.station, "")
    assert "fillwright serve" in refused("tablet", tablet.hand, shop.station, shop.jo, "register")


def test_who_handed_it_over_and_was_taken_off_the_roll_vouches_for_nothing(shop: Shop) -> None:
    from blender.station import staff

    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    staff.retire(shop.station, shop.mara, "Jo Blend", reason="left")
    refused("authority", handover.accept, shop.station, actor, fill, name="Kai Diver",
            reading="31.8")  # fmt: skip


def test_a_customer_registers_once_with_the_undertaking(shop: Shop) -> None:
    actor = at_it(shop, hand(shop, handing.REGISTER))
    facts = {"phone": "+49 30 23125 017", "strokes": DRAWN}
    done = at_tablet.register(shop.station, actor, name="  Yara   Quist ", **facts)
    assert done["name"] == "Yara Quist"
    kinds = [entry.kind for entry in shop.entries_from(actor.handed)]
    assert kinds == ["tablet.opened", "person.added", "person.contact", "person.agreed"]
    assert all(entry.sig is None and entry.seal for entry in shop.entries_from(actor.handed))
    assert verify(shop.path).problems == []
    refused(handing.USED, at_tablet.register, shop.station, actor, name="Yara Quist")


def test_a_known_customer_signs_the_undertaking_under_the_same_id(shop: Shop) -> None:
    actor = at_it(shop, hand(shop, handing.REGISTER, customer="Uma Neu"))
    with shop.station.record.read() as conn:
        found = handing.find(conn, "QUAY-1", shop.station.keys, actor.handed)
    assert at_tablet.whose(shop.station, found) == "Uma Neu"
    with pytest.raises(InputError):
        at_tablet.register(shop.station, actor, name="Somebody Else")
    assert at_tablet.register(shop.station, actor, name="uma neu")["person"] == found.customer
    assert [e.kind for e in shop.entries_from(actor.handed)] == ["tablet.opened", "person.agreed"]


def test_erasing_a_person_erases_the_drawing(shop: Shop) -> None:
    actor = at_it(shop, hand(shop, handing.REGISTER))
    done = at_tablet.register(shop.station, actor, name="Yara Quist", strokes=DRAWN)
    drawn = json.dumps(DRAWN, separators=(",", ":"))
    assert drawn.encode() in shop.path.read_bytes()
    privacy.erase(shop.station, shop.mara, done["person"], reason="asked for it")
    files = b"".join(p.read_bytes() for p in shop.path.parent.iterdir() if p.is_file())
    assert drawn.encode() not in files
    assert b"Yara Quist" not in files
    assert verify(shop.path).problems == []


@pytest.mark.parametrize(
    "drawing",
    [
        [[(0, 0)]] * (MOST_STROKES + 1),
        [[(1, 1)] * (MOST_POINTS + 1)],
        [[(0, 1001)]],
        [[(-1, 0)]],
        [[(0.5, 0)]],
        [[(True, 0)]],
        [[(1, 2, 3)]],
    ],
)
def test_a_drawing_is_whole_numbers_and_bounded(shop: Shop, drawing: object) -> None:
    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    with pytest.raises(InputError):
        handover.accept(
            shop.station,
            actor,
            fill,
            name="Kai Diver",
            reading="31.8",
            strokes=drawing,
        )
    assert shop.row(fill).state == "analysed"


def test_a_station_token_opens_the_door_and_nothing_else(shop: Shop) -> None:
    token = token_of(tablet.hand_terminal(shop.station))
    found = tablet.open_with(shop.station, token)
    assert found.purpose == handing.STAFF
    with pytest.raises(FillwrightError):
        at_tablet.stand_in(shop.station, found.seq)


def test_the_counter_and_the_page_of_what_is_held_say_that_they_undertook(shop: Shop) -> None:
    from blender.station.lookup import customer_card
    from blender.station.person_page import person_view
    from reports.person_page import person_page_pdf

    actor = at_it(shop, hand(shop, handing.REGISTER))
    done = at_tablet.register(shop.station, actor, name="Yara Quist", strokes=DRAWN)
    assert customer_card(shop.station.record, done["person"])["agreed_at"][:10] == "2026-11-25"
    page = person_page_pdf(person_view(shop.station.record, "Yara Quist", shop.clock()))
    assert "read and signed at the tablet" in " ".join(" ".join(texts(page)).split())


def test_it_is_the_same_after_a_rebuild(shop: Shop) -> None:
    from blender.record.rebuild import rebuild

    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    waiting = hand(shop, handing.REGISTER)
    handover.accept(shop.station, actor, fill, name="Kai Diver", reading="31.8", strokes=DRAWN)
    before = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == before
    assert tablet.open_with(shop.station, waiting).purpose == handing.REGISTER


def test_shown_twice_at_once_a_token_opens_once(shop: Shop) -> None:
    token = hand(shop, handing.REGISTER)

    def show(_: int) -> str:
        try:
            return tablet.open_with(shop.station, token).purpose
        except RefusedError as error:
            return error.code

    with ThreadPoolExecutor(8) as several:
        answers = sorted(several.map(show, range(8)))
    assert answers == sorted([handing.REGISTER, *[handing.OPENED] * 7])


@server.needed()
def test_on_a_server_it_is_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cheap_secrets(monkeypatch)
    with server.a_schema() as place:
        found(tmp_path, place)
        shop = Shop.open(place, tmp_path / "station.keys")
        tablet.serve_at(shop.station, URL)
        fill = shop.analysed()
        token = hand(shop, fill=fill)
        actor = at_it(shop, token)
        refused(handing.OPENED, tablet.open_with, shop.station, token)
        assert [one["opened"] for one in tablet.with_tablet(shop.station)["handed"]] == [True]
        done = handover.accept(
            shop.station, actor, fill, name="Kai Diver", reading="31.8", strokes=DRAWN
        )
        assert done.done
        assert verify(place).problems == []
        shop.station.record.close()


def test_what_was_open_ends_with_its_server_and_what_was_not_stays(shop: Shop) -> None:
    fill = shop.analysed()
    actor, waiting = at_it(shop, hand(shop, fill=fill)), hand(shop, handing.REGISTER)
    tablet.serve_at(shop.station, "")
    tablet.serve_at(shop.station, URL)
    facts = {"name": "Kai Diver", "reading": "31.8"}
    refused(handing.WITHDRAWN, handover.accept, shop.station, actor, fill, **facts)
    assert tablet.open_with(shop.station, waiting).purpose == handing.REGISTER


@pytest.mark.parametrize("reading", ["31.8", "29.0"])
def test_a_reading_at_the_tablet_is_the_diver_s_own(shop: Shop, reading: str) -> None:
    fill = shop.analysed()
    actor = at_it(shop, hand(shop, fill=fill))
    handover.accept(shop.station, actor, fill, name="Kai Diver", reading=reading)
    (read_,) = [
        one for one in story(shop.station.record, fill)["analyses"] if one["party"] != "staff"
    ]
    assert read_["by"] == "Kai Diver"
