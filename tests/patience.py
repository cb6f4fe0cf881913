"""How long a test waits for what is to come: late enough that only a failure ever takes it."""

from __future__ import annotations

PATIENCE_S = 120.0
