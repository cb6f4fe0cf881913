"""What runs in the process of one browser: the terminal, or a customer's view of one thing.

Which of them is in the environment the server gave it; nothing a browser says can change that.
"""

from __future__ import annotations

import sys

from tui.tablet import wiring
from tui.wiring import house


def main() -> int:
    """Run the app this process was started for, and return its exit code."""
    wiring.say_nothing()
    lives_in = house(None)
    if seq := wiring.handed():
        from tui.tablet.customer import Customer

        return Customer(lives_in, seq).run() or 0
    from tui.app import Terminal

    return Terminal(lives_in).run() or 0


if __name__ == "__main__":
    sys.exit(main())
