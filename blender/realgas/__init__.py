"""Real gas: pressure, density and energy of N2-O2-Ar-He mixtures by GERG-2008."""

from __future__ import annotations

from blender.realgas.pairs import PAIR_SETS, PUBLISHED, pair_set_provenance
from blender.realgas.scalar import Mixture

__all__ = ["PAIR_SETS", "PUBLISHED", "Mixture", "pair_set_provenance"]
