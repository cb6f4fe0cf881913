"""A drawn signature: strokes of whole numbers, bounded, so that no drawing fills the record."""

from __future__ import annotations

from collections.abc import Sequence

from blender.errors import InputError

Stroke = Sequence[tuple[int, int]]
FULL = 1000  # the width of its box; the height is in the same thousandths
MOST_STROKES = 200  # own choices: a long name needs some thirty strokes and a thousand points
MOST_POINTS = 5000


def kept(strokes: Sequence[Stroke]) -> list[list[list[int]]]:
    """Return a drawing as it is kept.

    Parameters
    ----------
    strokes : sequence of strokes
        Points in 1/1000 of the box's width, in both directions.

    Raises
    ------
    InputError
        If it is too long, or a point is no pair of whole numbers in the box.

    Examples
    --------
    >>> kept([[(10, 20), (30, 40)]])
    [[[10, 20], [30, 40]]]
    """
    if len(strokes) > MOST_STROKES or sum(len(stroke) for stroke in strokes) > MOST_POINTS:
        told = f"at most {MOST_STROKES} strokes and {MOST_POINTS} points; clear it and draw again"
        raise InputError("signature", "the drawing", told)
    for stroke in strokes:
        for point in stroke:
            if len(point) != 2 or any(type(at) is not int or not 0 <= at <= FULL for at in point):
                told = f"points are whole numbers from 0 to {FULL}"
                raise InputError("signature", repr(point)[:40], told)
    return [[[x, y] for x, y in stroke] for stroke in strokes]
