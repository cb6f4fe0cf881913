"""The bounds of what a tablet may say, where it is served, and what its app is given."""

from __future__ import annotations

import pytest
from aiohttp import web

from blender.errors import InputError
from tests.tui.house import run
from tui.tablet import address, bridge, wiring


@pytest.mark.parametrize(
    "sent",
    [
        "not json", "[]", "7", '{"stdin": "x"}', "[" * 4000, '["stdin", 7]', '["stdin"]',
        '["resize", {"width": 100000, "height": 100000}]', '["resize", {"width": 80}]',
        '["resize", null]', '["resize", {"width": 80.0, "height": 24}]', '["resize", [80, 24]]',
        '["pixels", {"width": 0, "height": 24}]', '["pixels", {"width": true, "height": 1}]',
        '["deliver_chunk_request", "x"]', '["quit"]', '[["stdin"], "x"]', '["stdin", "x", "y"]',
    ],
)  # fmt: skip
def test_only_the_page_s_own_messages_are_understood(sent: str) -> None:
    async def main() -> None:
        lone = bridge.Bridge(("nothing",), {}, web.WebSocketResponse())
        with pytest.raises(bridge.ForeignMessageError):
            await lone.take(sent)

    run(main)


def test_only_so_many_messages_a_second_are_taken() -> None:
    now = [0.0]
    pace = bridge.Pace(lambda: now[0])
    taken = sum(pace.allows() for _ in range(5000))
    assert taken == bridge.BURST
    now[0] += 1.0
    assert sum(pace.allows() for _ in range(5000)) <= bridge.RATE_PER_S


@pytest.mark.parametrize(
    ("listen", "names", "public", "hosts"),
    [
        ("127.0.0.1", (), "", {"127.0.0.1:8023", "localhost:8023"}),
        ("::1", (), "", {"[::1]:8023", "localhost:8023"}),
        ("0.0.0.0", ("192.0.2.7", "Counter.Local"), "", {"192.0.2.7:8023", "counter.local:8023"}),
        ("127.0.0.1", (), "https://counter.example", {"counter.example"}),
        ("0.0.0.0", (), "https://counter.example:8443/", {"counter.example:8443"}),
    ],
)
def test_it_answers_to_names_that_were_given_alone(
    listen: str, names: tuple[str, ...], public: str, hosts: set[str]
) -> None:
    host, is_loopback = address.listening(listen, 8023)
    found = address.reached(host, 8023, is_loopback=is_loopback, names=names, public=public)
    assert found.hosts == hosts
    assert found.is_tls is bool(public)


@pytest.mark.parametrize(
    ("listen", "names", "public"),
    [
        ("0.0.0.0", (), ""),
        ("192.0.2.7", (), ""),
        ("counter.local", (), ""),
        ("", (), ""),
        ("0.0.0.0", ("*",), ""),
        ("0.0.0.0", ("a/b",), ""),
        ("0.0.0.0", ("a:1",), ""),
        ("127.0.0.1", (), "http://counter.example"),
        ("127.0.0.1", (), "https://counter.example/x"),
        ("127.0.0.1", (), "https://"),
        ("127.0.0.1", (), "https://jo@counter.example"),
    ],
)
def test_other_addresses_and_names_are_refused(
    listen: str, names: tuple[str, ...], public: str
) -> None:
    with pytest.raises(InputError):
        host, is_loopback = address.listening(listen, 8023)
        address.reached(host, 8023, is_loopback=is_loopback, names=names, public=public)


def test_an_app_is_given_no_secret_and_no_path_of_code(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ("FILLWRIGHT_SECRET", "FILLWRIGHT_AS", "PYTHONPATH", "LD_PRELOAD", "AWS_KEY"):
        monkeypatch.setenv(name, "x")
    monkeypatch.setenv("FILLWRIGHT_TABLET", "1")
    made = wiring.environment("shop.db", 0)
    assert made["FILLWRIGHT_STATION"] == "shop.db"
    assert "x" not in made.values()
    assert "FILLWRIGHT_TABLET" not in made
    assert wiring.environment("shop.db", 7)["FILLWRIGHT_TABLET"] == "7"
    assert wiring.command()[1:] == ("-P", "-m", "tui.tablet.child")
