"""The two pages: one that shows a token and gets a cookie for it, one with the terminal in it."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

import textual_serve
from aiohttp import web

from tui.tablet.guard import sha256_source

CUSTOMER_FONT_PX, STAFF_FONT_PX = 20, 15  # so that a tablet upright holds 60 and 80 columns
_NOT_FRAMED = "base-uri 'none'; frame-ancestors 'none'; form-action 'none'"
_OURS, _THEIRS = "ours", "theirs"
# Everything there is to fetch, by name: no folder is ever listed or walked into.
_FILES = {
    "page.js": (_OURS, "page.js", "text/javascript"),
    "page.css": (_OURS, "page.css", "text/css"),
    "textual.js": (_THEIRS, "js/textual.js", "text/javascript"),
    "xterm.css": (_THEIRS, "css/xterm.css", "text/css"),
    "mono.ttf": (_THEIRS, "fonts/RobotoMono-VariableFont_wght.ttf", "font/ttf"),
}


def _ours(name: str) -> str:
    return resources.files("tui.tablet").joinpath("page", name).read_text(encoding="utf-8")


@cache
def _content(name: str) -> tuple[bytes, str]:
    where, path, kind = _FILES[name]
    if where == _OURS:
        return _ours(path).encode(), kind
    return (Path(textual_serve.__file__).parent / "static" / path).read_bytes(), kind


def static(name: str) -> web.Response:
    """Return a file of the page.

    Raises
    ------
    HTTPNotFound
        If it is none of those there are.
    """
    if name not in _FILES:
        raise web.HTTPNotFound
    body, kind = _content(name)
    return web.Response(body=body, content_type=kind, charset="utf-8" if kind[0] == "t" else None)


@cache
def _begin() -> tuple[str, str]:
    script, style = _ours("begin.js"), _ours("begin.css")
    text = _ours("begin.html").replace("{style}", style).replace("{script}", script)
    allowed = f"script-src {sha256_source(script)}; style-src {sha256_source(style)}"
    return text, f"default-src 'none'; {allowed}; connect-src 'self'; {_NOT_FRAMED}"


def begin() -> web.Response:
    """Return the page a code leads to; the token stays in the browser until it is posted."""
    return _html(*_begin())


def terminal(socket_url: str, *, is_staff: bool) -> web.Response:
    """Return the page with the terminal; the toolkit's own sets styles, and nothing foreign."""
    size = str(STAFF_FONT_PX if is_staff else CUSTOMER_FONT_PX)
    text = _ours("page.html").replace("{socket}", socket_url).replace("{size}", size)
    text = text.replace("{who}", "staff" if is_staff else "customer")
    at = socket_url.removesuffix("/ws")
    allowed = "script-src 'self'; style-src 'self' 'unsafe-inline'; font-src 'self'; img-src data:"
    return _html(text, f"default-src 'none'; {allowed}; connect-src {at}; {_NOT_FRAMED}")


def _html(text: str, policy: str) -> web.Response:
    headers = {"Content-Security-Policy": policy}
    return web.Response(text=text, content_type="text/html", headers=headers)
