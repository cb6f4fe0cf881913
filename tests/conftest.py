"""What every test stands on: no property test is judged by how fast the machine is."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("timeless", deadline=None)
settings.load_profile("timeless")
