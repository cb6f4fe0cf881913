"""Opening the terminal, and leaving it with one sentence whatever happened."""

from __future__ import annotations

import sys

from tui.app import Terminal
from tui.house import House


def launch(house: House) -> int:
    """Run the terminal and return the exit code."""
    terminal = Terminal(house)
    code = terminal.run()
    if terminal.bug:
        told = f"a fault of the program, not of yours; what happened is kept in {terminal.bug}"
        print(f"fillwright: {told}", file=sys.stderr)
        return 1
    return int(code or 0)
