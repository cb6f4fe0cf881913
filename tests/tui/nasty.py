"""Texts that break what takes text for markup, a formula, a path, SQL or a key."""

from __future__ import annotations

NASTY = [
    "[/]",
    "[red]x[/red]",
    "[@click=app.quit]x[/]",
    "[bold",
    "\\",
    ":smile:",
    "[b]] \\[/",
    "\x1b[31mred\x1b[0m",
    "اسطوانة",
    "気瓶 🤿",
    "e\u0301\u0301\u0301",
    "'; DROP TABLE fill; --",
    "%_%",
    "../../etc/passwd",
    "=1+1",
    "\u202eabc",
    "x" * 500,
    "",
    "   ",
]
