"""The server: lets in who shows a token or its cookie, and gives each an app of their own."""

from __future__ import annotations

import asyncio
import logging
import signal
import socket
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from aiohttp import web

from blender.errors import RefusedError
from blender.station import tablet
from blender.station.desk import Station
from blender.station.handing import UNKNOWN, USED
from tui.tablet import bridge as bridges
from tui.tablet import pages
from tui.tablet.address import Address
from tui.tablet.bridge import Bridge, Pace
from tui.tablet.guard import BEGIN, COOKIE, SESSION, Guard, finish, said
from tui.tablet.sessions import Session, Sessions

LOOK_EVERY_S = 2.0  # how often it is asked whether what was handed over still stands
_TOKEN_BYTES = 200
_SILENT = logging.getLogger("fillwright.tablet")  # a bad request is answered, and nobody's news
_SILENT.addHandler(logging.NullHandler())
_SILENT.propagate = False


@dataclass(frozen=True)
class Outside:
    """What the server needs from outside.

    Parameters
    ----------
    station : Station
        The open station: its record says what was handed over.
    command : sequence of str
        What is started for each browser, word by word.
    environment : callable
        Gives all of its environment, by the entry of what was handed over; 0 for the terminal.
    report_bug : callable
        Keeps the traceback of a bug of ours.
    """

    station: Station
    command: Sequence[str]
    environment: Callable[[int], Mapping[str, str]]
    report_bug: Callable[[BaseException], str]


class Tablet:
    """The tablet as it is served.

    Parameters
    ----------
    outside : Outside
        The outside.
    address : Address
        What a browser must have asked for.
    now : callable
        Gives the time on a clock nobody sets [s].
    """

    def __init__(self, outside: Outside, address: Address, now: Callable[[], float]) -> None:
        self._outside, self._address, self._now = outside, address, now
        self.sessions = Sessions(now)
        self._shown: dict[str, web.WebSocketResponse] = {}  # by session: one browser each

    def app(self) -> web.Application:
        """Return the application, every route behind the guard."""
        guard = Guard(self._address, self.sessions, self._outside.report_bug)
        app = web.Application(middlewares=[guard.middleware()], client_max_size=_TOKEN_BYTES)
        app.on_response_prepare.append(finish)
        app.on_shutdown.append(self._close_all)
        app.add_routes(
            [
                web.get(BEGIN, self._begin),
                web.post(BEGIN, self._open),
                web.get("/", self._page),
                web.get("/static/{name}", self._static),
                web.get("/ws", self._socket),
            ]
        )
        return app

    # -- the door ------------------------------------------------------------------------------

    async def _begin(self, _: web.Request) -> web.Response:
        return pages.begin()

    async def _open(self, request: web.Request) -> web.Response:
        """Take a token, once, and give a cookie for it."""
        token = (await request.text()).strip()
        if self.sessions.must_wait:
            return said(429, "Too many wrong codes. Wait a minute, then ask for a new one.")
        if self.sessions.is_full:
            return said(503, "Too many tablets are open. Close one, then try again.")
        try:
            found = await asyncio.to_thread(tablet.open_with, self._outside.station, token)
        except RefusedError as error:
            if error.code == UNKNOWN:
                self.sessions.wrong_token()
            return said(403 if error.code == UNKNOWN else 410, f"{_sentence(error.text)}")
        answer = web.Response(status=204)
        answer.set_cookie(
            COOKIE,
            self.sessions.begin(found),
            httponly=True,
            samesite="Strict",
            max_age=tablet.LONGEST_MINUTES[found.purpose] * 60,
            secure=self._address.is_tls,
            path="/",
        )
        return answer

    # -- what is behind it ---------------------------------------------------------------------

    async def _page(self, request: web.Request) -> web.Response:
        session: Session = request[SESSION]
        if (why := await self._why_over(session)) is not None:
            return said(410, _sentence(why.text))
        url = self._address.socket_url(request.host.lower())
        return pages.terminal(url, is_staff=session.is_staff)

    async def _static(self, request: web.Request) -> web.Response:
        return pages.static(request.match_info["name"])

    async def _socket(self, request: web.Request) -> web.StreamResponse:
        """Show an app to a browser until either has gone."""
        session: Session = request[SESSION]
        if (why := await self._why_over(session)) is not None:
            return said(410, _sentence(why.text))
        ws = web.WebSocketResponse(heartbeat=15, max_msg_size=bridges.MOST_BYTES)
        await ws.prepare(request)
        await self._take_over(session, ws)
        seq = 0 if session.is_staff else session.handed.seq
        shown = Bridge(self._outside.command, self._outside.environment(seq), ws)
        size = [bridges.cells(request.query.get(name, ""), usual)
                for name, usual in (("width", 80), ("height", 24))]  # fmt: skip
        watching: list[asyncio.Task[None]] = []
        try:
            await shown.start(*size)
            watching = [asyncio.create_task(doing) for doing in
                        (shown.until_gone(), self._watch(session, ws))]  # fmt: skip
            pace = Pace(self._now, at_s=self._now())
            await bridges.relay(shown, ws, pace, lambda: self.sessions.touch(session))
        finally:
            for task in watching:
                task.cancel()
            await shown.end()
            if self._shown.get(session.digest) is ws:
                del self._shown[session.digest]
            if await self._is_done(shown, session):
                self.sessions.end(session)
        return ws

    async def _is_done(self, shown: Bridge, session: Session) -> bool:
        """Tell whether a customer's door closes for good: a page loaded again opens it again."""
        if session.is_staff:
            return False
        return shown.has_left or await self._why_over(session) is not None

    async def _take_over(self, session: Session, ws: web.WebSocketResponse) -> None:
        """Show it to the browser that came last: a page loaded again, a tablet put down."""
        before, self._shown[session.digest] = self._shown.get(session.digest), ws
        if before is not None:
            await before.close(code=bridges.OVER)

    async def _watch(self, session: Session, ws: web.WebSocketResponse) -> None:
        """Close the socket when the time is over, nobody is there, or it was withdrawn.

        Not when it is done: the app thanks whoever did it, and leaves by itself.
        """
        while not ws.closed:
            left, why = session.left_s(self._now()), await self._why_over(session)
            if left <= 0.0 or (why is not None and why.code != USED):
                self.sessions.end(session)
                await ws.close(code=bridges.OVER)
                return
            await asyncio.sleep(min(left + 0.01, LOOK_EVERY_S))

    async def _why_over(self, session: Session) -> RefusedError | None:
        """Return why what was handed over stands no more; None while it does."""
        seq = session.handed.seq
        return await asyncio.to_thread(tablet.why_over, self._outside.station, seq)

    async def _close_all(self, _: web.Application) -> None:
        for ws in list(self._shown.values()):
            await ws.close(code=bridges.OVER)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text else ""


async def serve(taken: socket.socket, served: Tablet) -> web.AppRunner:
    """Begin to serve at a port that was taken; nothing is logged but bugs of ours."""
    runner = web.AppRunner(served.app(), access_log=None, logger=_SILENT, handle_signals=False)
    await runner.setup()
    await web.SockSite(runner, taken).start()
    return runner


async def serve_until_stopped(
    taken: socket.socket, served: Tablet, ready: Callable[[], None]
) -> None:
    """Serve until somebody stops it from the keyboard or the system does."""
    stopped = asyncio.Event()
    for which in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):
            asyncio.get_running_loop().add_signal_handler(which, stopped.set)
    runner = await serve(taken, served)
    try:
        ready()
        await stopped.wait()
    finally:
        await runner.cleanup()
