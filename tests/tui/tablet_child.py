"""The tablet's app as the server starts it, by the clock of the tests."""

from __future__ import annotations

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import tui.wiring
from tests.station.shop import Clock
from tui.tablet import child

clock = Clock()
clock.us = int(os.environ["TEST_CLOCK_US"])
tui.wiring.clock = clock
sys.exit(child.main())
