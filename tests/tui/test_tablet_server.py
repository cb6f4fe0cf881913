"""Who is let in at the tablet, and who is not: by a plain client, without any browser."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from typing import Any

import aiohttp
import pytest

from blender.station import tablet
from tests.patience import PATIENCE_S
from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at
from tests.tui.tablet_rig import client, served, until
from tui.tablet import bridge, server, sessions
from tui.tablet.guard import COOKIE
from tui.tablet.pages import _FILES

PATHS = ["/", "/ws", *(f"/static/{name}" for name in _FILES), "/static/", "/download/x", "/nothing"]
FOREIGN = "http://elsewhere.example"


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    yield shop
    shop.station.record.close()


def test_without_a_cookie_nothing_is_served(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as nobody:
            for path in PATHS:
                status, said = await here.get(nobody, path)
                assert (path, status) == (path, 401)
                assert "Ask the station for a new code" in said
            nobody.cookie_jar.update_cookies({COOKIE: "x" * 43}, aiohttp.client.URL(here.url))
            assert (await here.get(nobody, "/"))[0] == 401

    run(main)


def test_a_token_opens_once_and_its_cookie_is_closely_kept(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one, client() as other:
            token = here.hand("register")
            async with one.post(f"{here.url}/begin", data=token, headers=here.ours()) as answer:
                assert answer.status == 204
                cookie = answer.headers["Set-Cookie"]
            kept = {"HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=1800"}
            assert kept <= set(cookie.split("; "))
            value = cookie.split("=", 1)[1].split(";")[0]
            assert value not in repr(vars(here.tablet.sessions))  # only its digest
            assert (await here.get(one, "/"))[0] == 200
            status, said = await here.begin(other, token)
            assert (status, "used before" in said) == (410, True)
            assert (await here.get(other, "/"))[0] == 401

    run(main)


def test_old_and_unknown_tokens_are_refused_in_plain_words(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            token = here.hand("register")
            assert (await here.begin(one, f"{token[:-1]}!"))[0] == 403
            assert (await here.begin(one, ""))[0] == 403
            assert (await here.begin(one, "1" * 5000))[0] == 413
            shop.clock.turn(tablet.TOKEN_MINUTES + 1)
            status, said = await here.begin(one, token)
            assert (status, "too old" in said) == (410, True)
            for _ in range(sessions.WRONG_TOKENS):
                status, said = await here.begin(one, "1-x")
            assert (status, "Wait a minute" in said) == (429, True)

    run(main)


@pytest.mark.parametrize("path", ["/", "/begin", "/static/page.js", "/ws", "/nothing"])
def test_a_foreign_host_or_origin_is_refused_with_a_cookie_too(shop: Shop, path: str) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("register"))
            for host in ("elsewhere.example", "elsewhere.example:8023", "127.0.0.1", ""):
                assert (await here.get(one, path, Host=host))[0] in (400, 421), host
            for origin in (
                FOREIGN,
                "null",
                f"{here.url}.example",
                here.url.replace("http", "https"),
            ):
                status, said = await here.get(one, path, Origin=origin)
                assert (status, "not ours" in said) == (403, True), origin

    run(main)


def test_what_changes_something_must_say_where_it_comes_from(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            token = here.hand("register")
            for headers in ({}, {"Origin": FOREIGN}, {"Origin": "null"}):
                assert (await here.begin(one, token, headers))[0] == 403
            assert (await here.begin(one, token))[0] == 204  # none of those used it up
            assert (await socket_status(one, here.url, {})) == 403
            assert (await socket_status(one, here.url, {"Origin": FOREIGN})) == 403
            async with client() as nobody:
                assert (await socket_status(nobody, here.url, here.ours())) == 401

    run(main)


async def socket_status(one: aiohttp.ClientSession, url: str, headers: dict[str, str]) -> int:
    with pytest.raises(aiohttp.WSServerHandshakeError) as caught:
        await one.ws_connect(f"{url}/ws", headers=headers)
    return caught.value.status


def test_every_answer_keeps_itself_to_itself(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("register"))
            for path in ("/", "/begin", "/static/page.js", "/static/mono.ttf", "/nothing"):
                async with one.get(f"{here.url}{path}") as answer:
                    kept = answer.headers
                    await answer.read()
                policy = kept["Content-Security-Policy"]
                assert "default-src 'none'" in policy
                assert "frame-ancestors 'none'" in policy
                assert "unsafe-eval" not in policy
                assert not re.search(r"script-src[^;]*unsafe-inline", policy)
                assert kept["Referrer-Policy"] == "no-referrer"
                assert kept["Cache-Control"] == "no-store"
                assert kept["X-Content-Type-Options"] == "nosniff"
                assert kept["Server"] == "fillwright"
                assert "Python" not in repr(kept)

    run(main)


def test_no_folder_is_listed_or_walked_out_of(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("register"))
            walks = ("..%2fserver.py", "%2e%2e/server.py", "begin.html", "css", "")
            for path in (*(f"/static/{walk}" for walk in walks), "/static", "/download/x"):
                status, said = await here.get(one, path)
                assert (status, said) == (404, "There is nothing here.\n"), path
            async with one.delete(f"{here.url}/", headers=here.ours()) as answer:
                assert answer.status == 405

    run(main)


def test_a_fault_of_ours_shows_nobody_a_traceback(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("the secret of the house")

    async def main() -> None:
        async with served(shop) as here, client() as one:
            monkeypatch.setattr(tablet, "open_with", broken)
            status, said = await here.begin(one, "1-x")
            assert (status, said) == (
                500, "A fault of the program, not of yours. Tell the station.\n",
            )  # fmt: skip
            assert len(here.bugs) == 1
            here.bugs.clear()

    run(main)


def test_only_so_many_doors_are_open_and_each_for_a_while(shop: Shop) -> None:
    now = [1000.0]

    async def main() -> None:
        async with served(shop, now=lambda: now[0]) as here, client() as one:
            for _ in range(sessions.MOST):
                assert (await here.begin(one, here.hand("register")))[0] == 204
            token = here.hand("register")
            status, said = await here.begin(one, token)
            assert (status, "Too many tablets" in said) == (503, True)
            assert (await here.get(one, "/"))[0] == 200
            now[0] += sessions.CUSTOMER_IDLE_S + 1.0
            assert (await here.get(one, "/"))[0] == 401
            assert (await here.begin(one, token))[0] == 204  # it was not used up by the refusal

    run(main)


def test_behind_tls_the_cookie_is_secure_and_the_name_another(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop, public="https://counter.example") as here, client() as one:
            host = {"Host": "counter.example", "Origin": "https://counter.example"}
            at = f"http://127.0.0.1:{here.port}"
            token = here.hand("register")
            async with one.post(f"{at}/begin", data=token, headers=host) as answer:
                assert answer.status == 204
                cookie = answer.headers["Set-Cookie"]
            assert "Secure" in cookie.split("; ")
            async with one.get(f"{at}/", headers={"Host": "counter.example",
                               "Cookie": cookie.split(";")[0]}) as answer:  # fmt: skip
                assert "wss://counter.example/ws" in await answer.text()
            async with one.get(f"{at}/begin") as answer:  # under its own address nothing is
                assert answer.status == 421

    run(main)


def test_the_app_is_started_for_one_thing_and_ends_when_it_is_withdrawn(shop: Shop) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("sign", fill=fill))
            async with one.ws_connect(f"{here.url}/ws?width=85&height=29",
                                      headers=here.ours()) as ws:  # fmt: skip
                shown = b""
                while b"go on and analyse it" not in shown:
                    message = await ws.receive(timeout=PATIENCE_S)
                    assert message.type in (aiohttp.WSMsgType.BINARY, aiohttp.WSMsgType.TEXT)
                    shown += message.data if isinstance(message.data, bytes) else b""
                assert b"C-1001" in shown
                tablet.withdraw(shop.station, shop.jo)
                while not ws.closed:
                    await ws.receive(timeout=PATIENCE_S)
            status, said = await here.get(one, "/")
            assert status in (401, 410)
            assert "code" in said or "withdrawn" in said
        assert shop.row(fill).state == "analysed"

    run(main)


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        ('["run", "rm -rf /"]', bridge.UNREADABLE),
        (b"\x00\x01", bridge.UNREADABLE),
        ("x" * (bridge.MOST_BYTES + 1), 1009),  # RFC 6455: too big
    ],
)
def test_what_is_no_message_of_the_page_closes_it(
    shop: Shop, sent: Any, code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("register"))
            async with one.ws_connect(f"{here.url}/ws", headers=here.ours()) as ws:
                await (ws.send_bytes(sent) if isinstance(sent, bytes) else ws.send_str(sent))
                while not ws.closed:
                    await ws.receive(timeout=PATIENCE_S)
                assert ws.close_code == code

    run(main)


def test_what_is_no_http_is_answered_without_a_word_too_many(
    shop: Shop, capfd: pytest.CaptureFixture[str]
) -> None:
    async def main() -> None:
        async with served(shop) as here:
            for sent in (b"\x16\x03\x01garbage\r\n\r\n", b"GET / HTTP/1.1\r\nHost : x\r\n\r\n"):
                reader, writer = await asyncio.open_connection("127.0.0.1", here.port)
                writer.write(sent)
                said = await asyncio.wait_for(reader.read(), PATIENCE_S)
                assert said.startswith(b"HTTP/1.")
                assert b"400" in said.split(b"\r\n")[0]
                assert b"Traceback" not in said
                writer.close()
                await writer.wait_closed()

    run(main)
    assert capfd.readouterr() == ("", "")


def test_two_hosts_are_none(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here:
            reader, writer = await asyncio.open_connection("127.0.0.1", here.port)
            host = here.url.removeprefix("http://")
            lines = ["GET /begin HTTP/1.1", f"Host: {host}", "Host: elsewhere.example", "", ""]
            writer.write("\r\n".join(lines).encode())
            assert (await asyncio.wait_for(reader.readline(), PATIENCE_S)).split()[1] in (
                b"400",
                b"421",
            )
            writer.close()
            await writer.wait_closed()

    run(main)


def test_the_terminal_is_taken_back_too(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("staff"))
            assert (await here.get(one, "/"))[0] == 200
            tablet.withdraw(shop.station, shop.mara)
            status, said = await here.get(one, "/")
            assert (status, "withdrawn" in said) == (410, True)

    run(main)


def test_a_tablet_nobody_touches_is_closed(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    now = [1000.0]
    monkeypatch.setattr(server, "LOOK_EVERY_S", 0.02)

    async def main() -> None:
        async with served(shop, now=lambda: now[0]) as here, client() as one:
            await here.begin(one, here.hand("register"))
            (session,) = here.tablet.sessions._open.values()
            async with one.ws_connect(f"{here.url}/ws", headers=here.ours()) as ws:
                await ws.receive(timeout=PATIENCE_S)
                now[0] += sessions.CUSTOMER_IDLE_S - 1.0
                await ws.send_json(["ping", "1"])  # a page alone touches nothing
                await ws.send_json(["stdin", "x"])
                await until(lambda: session.touched_s == now[0])
                now[0] += sessions.CUSTOMER_IDLE_S - 1.0
                await ws.send_json(["ping", "2"])
                assert not ws.closed
                now[0] += 2.0
                while not ws.closed:
                    await ws.receive(timeout=PATIENCE_S)
            assert (await here.get(one, "/"))[0] == 401

    run(main)


def test_a_page_loaded_again_goes_on_and_what_was_left_does_not(shop: Shop) -> None:
    async def main() -> None:
        async with served(shop) as here, client() as one:
            await here.begin(one, here.hand("register"))
            (session,) = here.tablet.sessions._open.values()
            for _ in range(2):  # the second takes the first one's place
                ws = await one.ws_connect(f"{here.url}/ws", headers=here.ours())
                await ws.receive(timeout=PATIENCE_S)
            await ws.close()
            await until(lambda: not here.tablet._shown)
            assert (await here.get(one, "/"))[0] == 200
            async with one.ws_connect(f"{here.url}/ws?width=85&height=29",
                                      headers=here.ours()) as ws:  # fmt: skip
                shown = b""
                while b"Stop" not in shown:
                    message = await ws.receive(timeout=PATIENCE_S)
                    shown += message.data if isinstance(message.data, bytes) else b""
                await ws.send_json(["stdin", "\x1b[<0;10;28M\x1b[<0;10;28m"])  # on Stop
                while b"Nothing was signed" not in shown:
                    message = await ws.receive(timeout=PATIENCE_S)
                    shown += message.data if isinstance(message.data, bytes) else b""
                await ws.send_json(["stdin", "\x1b[<0;10;28M\x1b[<0;10;28m"])  # on Close
                while not ws.closed:
                    await ws.receive(timeout=PATIENCE_S)
            await until(lambda: not here.tablet._shown)
            assert session not in here.tablet.sessions._open.values()
            assert (await here.get(one, "/"))[0] == 401

    run(main)
