"""What every request is asked before anything else: Host, Origin, cookie; and what goes back."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Awaitable, Callable

from aiohttp import web
from aiohttp.typedefs import Middleware

from tui.tablet.address import Address
from tui.tablet.sessions import Session, Sessions

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]
COOKIE = "fillwright-tablet"
BEGIN = "/begin"
SESSION = web.RequestKey("session", Session)
_HEADERS = {
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=()",
}
_NOTHING = "default-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'none'"
NO_COOKIE = "The tablet was not let in here, or its time is over. Ask the station for a new code."


class Guard:
    """Stands before every route, those that do not exist too.

    Parameters
    ----------
    address : Address
        What a browser must have asked for.
    sessions : Sessions
        Whose cookies open something.
    report_bug : callable
        Keeps the traceback of a bug of ours.
    """

    def __init__(
        self, address: Address, sessions: Sessions, report_bug: Callable[[BaseException], str]
    ) -> None:
        self._address, self._sessions, self._report = address, sessions, report_bug

    def middleware(self) -> Middleware:
        """Return it as aiohttp wants it."""

        @web.middleware
        async def stand(request: web.Request, handler: Handler) -> web.StreamResponse:
            try:
                return self._refusal(request) or await handler(request)
            except web.HTTPException as error:
                return said(error.status, _WORDS.get(error.status, "This is not possible here."))
            except Exception as error:  # the last door: a bug of ours, said in one line
                self._report(error)
                return said(500, "A fault of the program, not of yours. Tell the station.")

        return stand

    def _refusal(self, request: web.Request) -> web.Response | None:
        """Return why a request is refused, None if it is let on."""
        if _only(request, "Host") not in self._address.hosts:
            return said(421, "Nothing is served here under that name.")
        if (words := self._foreign(request)) is not None:
            return said(403, words)
        if request.path == BEGIN:
            return None
        session = self._sessions.of(request.cookies.get(COOKIE, ""))
        if session is None:
            return said(401, NO_COOKIE)
        request[SESSION] = session
        return None

    def _foreign(self, request: web.Request) -> str | None:
        """Say what is wrong with where a request comes from, None if nothing is."""
        must_say = request.method not in ("GET", "HEAD") or "Upgrade" in request.headers
        if "Origin" not in request.headers:
            return (
                "This must come from a page of ours, and says nothing of it." if must_say else None
            )
        if _only(request, "Origin") not in self._address.origins:
            return "This comes from a page that is not ours."
        return None


_WORDS = {
    404: "There is nothing here.",
    405: "That cannot be done here.",
    413: "That is too long.",
    400: "That cannot be understood.",
}


def _only(request: web.Request, header: str) -> str:
    """Return a header that must be there once; empty otherwise."""
    given = request.headers.getall(header, [])
    return given[0].lower() if len(given) == 1 else ""


def said(status: int, words: str) -> web.Response:
    """Return an answer in plain words."""
    return web.Response(status=status, text=f"{words}\n", content_type="text/plain")


async def finish(_: web.Request, response: web.StreamResponse) -> None:
    """Add to every answer what keeps it out of frames, caches and other people's pages."""
    for name, value in _HEADERS.items():
        response.headers[name] = value
    response.headers.setdefault("Content-Security-Policy", _NOTHING)
    response.headers["Server"] = "fillwright"


def sha256_source(text: str) -> str:
    """Return a script's or style's own text as a source a page's policy allows."""
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"
