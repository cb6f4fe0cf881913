"""What is said to be left in a cylinder, held against what the record says went out with it."""

from __future__ import annotations

from dataclasses import dataclass

# What differs by more than this from what went out is pointed out (common practice, no source).
UNLIKE_POINTS, UNLIKE_BAR = 1.0, 10.0


@dataclass(frozen=True, slots=True)
class WentOut:
    """How a cylinder last left, or was ready to.

    Parameters
    ----------
    fill : int
        Its fill.
    day : str
        When that was asked for.
    o2 : float
        As analysed, a fraction.
    gauge_bar : float or None
        With what pressure [bar], None where the record has none.
    is_collected : bool
        Whether it left; else it was signed for, and by the record is here still.
    """

    fill: int
    day: str
    o2: float
    gauge_bar: float | None
    is_collected: bool = True


def unlike(out: WentOut | None, left_bar: float, left_o2: float | None) -> str:
    """Say where what is left contradicts what went out, empty where it does not.

    A cylinder is breathed from between two visits, so less pressure says nothing; more than
    went out, or another oxygen than was analysed, says that it was filled elsewhere, that it is
    another cylinder, or that a reading is wrong.

    Parameters
    ----------
    out : WentOut or None
        How it last left; None where the record has nothing to compare.
    left_bar : float
        What is said to be left, gauge [bar].
    left_o2 : float or None
        Its oxygen, a fraction; None where nobody said.

    Examples
    --------
    >>> unlike(WentOut(7, "2026-11-01", 0.321, 230.0), 60.0, 0.324)
    ''
    >>> unlike(WentOut(7, "2026-11-01", 0.321, 230.0), 60.0, 0.21).partition(",")[0]
    'O2 21.0 % is not the 32.1 % analysed then'
    """
    if out is None:
        return ""
    found = []
    if out.gauge_bar is not None and left_bar > out.gauge_bar + UNLIKE_BAR:
        found.append(f"{left_bar:.1f} bar is more than the {out.gauge_bar:.1f} bar")
    if left_bar > 0.0 and left_o2 is not None and abs(left_o2 - out.o2) * 100.0 > UNLIKE_POINTS:
        found.append(f"O2 {left_o2 * 100:.1f} % is not the {out.o2 * 100:.1f} % analysed then")
    if not found:
        return ""
    how = "it went out on" if out.is_collected else "it was signed for, not collected yet, on"
    return (
        f"{' and '.join(found)}, with which {how} {out.day} (fill {out.fill}): another "
        "cylinder, filled elsewhere, or misread?"
    )
