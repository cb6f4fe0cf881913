"""Oxygen, helium and air that go into a compressor together, by amount and by fraction."""

from __future__ import annotations

from dataclasses import dataclass

from blender.gas import HELIUM, Mix


@dataclass(frozen=True, slots=True)
class Streams:
    """What goes in together.

    Parameters
    ----------
    oxygen, top, helium : Mix
        The gases: oxygen injected, dry air drawn in, helium injected.
    oxygen_mol, top_mol, helium_mol : float
        Their amounts [mol].
    """

    oxygen: Mix
    oxygen_mol: float
    top: Mix
    top_mol: float
    helium: Mix = HELIUM
    helium_mol: float = 0.0

    @property
    def total_mol(self) -> float:
        """Amount of all of it, dry [mol]."""
        return self.oxygen_mol + self.top_mol + self.helium_mol

    @property
    def parts(self) -> tuple[tuple[Mix, float], ...]:
        """Each gas with its amount [mol]."""
        return (
            (self.oxygen, self.oxygen_mol),
            (self.top, self.top_mol),
            (self.helium, self.helium_mol),
        )

    @property
    def delivered_o2(self) -> float:
        """Oxygen fraction delivered, dry [1]; 0 if nothing is."""
        total = self.total_mol
        return sum(gas.o2 * mol for gas, mol in self.parts) / total if total else 0.0

    @property
    def delivered_he(self) -> float:
        """Helium fraction delivered, dry [1]; 0 if nothing is."""
        total = self.total_mol
        return sum(gas.he * mol for gas, mol in self.parts) / total if total else 0.0

    def part(self, share: float) -> Streams:
        """Return the same gas, a share of it [1].

        Parameters
        ----------
        share : float
            What to multiply every amount by [1].

        Returns
        -------
        Streams
            As much of each.
        """
        return Streams(
            self.oxygen,
            share * self.oxygen_mol,
            self.top,
            share * self.top_mol,
            self.helium,
            share * self.helium_mol,
        )


def at_rating(base: Mix, oxygen: Mix, rated: float) -> tuple[Mix, float] | None:
    """Gas delivered at the rated intake, and the share of it that is oxygen.

    Parameters
    ----------
    base : Mix
        What oxygen is injected into.
    oxygen : Mix
        What is injected.
    rated : float
        Highest oxygen fraction delivered, dry [1].

    Returns
    -------
    tuple of Mix and float, or None
        None if the base alone is richer, or the oxygen is not.

    Examples
    --------
    >>> from blender.gas import AIR, OXYGEN
    >>> gas, share = at_rating(AIR, OXYGEN, 0.40)
    >>> round(gas.o2, 3), round(share, 4)
    (0.4, 0.241)
    """
    if not base.o2 <= rated < oxygen.o2:
        return None
    share = (rated - base.o2) / (oxygen.o2 - base.o2)
    o2, he, n2, ar = (
        a + share * (b - a) for a, b in zip(base.fractions, oxygen.fractions, strict=True)
    )
    return Mix(o2, he, n2, ar), share
