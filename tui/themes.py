"""Three ways to look: night, day, and the terminal's own sixteen colours.

Meaning never hangs on colour: every warning carries a word and a sign.
"""

from __future__ import annotations

from textual.theme import BUILTIN_THEMES, Theme

NIGHT = Theme(
    name="night", dark=True, primary="#6fb3a8", secondary="#8f9fb5", accent="#e0b861",
    warning="#e8a33d", error="#ff8d7a", success="#8fc98a", foreground="#e9e6dc",
    background="#12181c", surface="#1a2329", panel="#24313a",
)  # fmt: skip
DAY = Theme(
    name="day", dark=False, primary="#0b5f5a", secondary="#47566b", accent="#7a4b00",
    warning="#8a4b00", error="#a11d0a", success="#1f5f2a", foreground="#15191c",
    background="#f6f3ea", surface="#fffdf6", panel="#e4dfd0",
)  # fmt: skip
_ANSI = BUILTIN_THEMES["ansi-dark"]
TERMINAL = Theme(
    name="terminal", ansi=True, primary="ansi_cyan", secondary="ansi_default",
    accent="ansi_yellow", warning="ansi_yellow", error="ansi_red", success="ansi_green",
    foreground="ansi_default", background="ansi_default", surface="ansi_default",
    panel="ansi_default", boost="ansi_default", variables=dict(_ANSI.variables),
)  # fmt: skip
ALL = (NIGHT, DAY, TERMINAL)
