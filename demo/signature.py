"""A signature as a pen would draw it: a flowing line for each name, and a dash under them."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

Stroke = list[tuple[int, int]]

_POINTS_A_LETTER = 16
_HEIGHT = 300  # of a box 1000 wide; y counts downwards
_TALL, _DEEP, _ARCHED = "bdfhklt", "gjpqyz", "mnruvwx"


@dataclass(frozen=True, slots=True)
class _Turn:
    """One letter's turn of the pen.

    Parameters
    ----------
    wide : float
        How far it goes on.
    high : float
        How high it goes, below the line if negative.
    loop : float
        How far it leans back at its crest: above 1 the line crosses itself.
    """

    wide: float
    high: float
    loop: float


def draw(name: str) -> list[Stroke]:
    """Return the pen strokes of a name, the same for the same name, in 1/1000 of the box."""
    hand = random.Random(name)
    words = [[_turn(word, place, hand) for place in range(len(word))] for word in name.split()]
    full = sum(turn.wide for word in words for turn in word) + 1.2 * len(words)
    strokes, at = [], 0.3
    for word in words:
        strokes.append(_line(word, at, full))
        at += sum(turn.wide for turn in word) + 1.0
    return [*strokes, _dash(hand)]


def _turn(word: str, place: int, hand: random.Random) -> _Turn:
    letter, haste = word[place].lower(), 1.0 - 0.5 * place / len(word)
    if place == 0:
        return _Turn(1.6 * hand.uniform(0.9, 1.2), 1.0, hand.uniform(1.2, 1.7))
    high = 0.8 if letter in _TALL else -0.5 if letter in _DEEP else 0.3
    loop = -0.6 if letter in _ARCHED else hand.uniform(1.1, 1.6)
    # Towards its end a name runs out into a flatter, wider line, as it does in haste.
    return _Turn(hand.uniform(0.8, 1.1) * (2.0 - haste), high * haste, loop)


def _line(turns: list[_Turn], at: float, full: float) -> Stroke:
    """Write turn after turn along a line that rises a little."""
    stroke = []
    for turn in turns:
        for step in range(_POINTS_A_LETTER):
            share = step / _POINTS_A_LETTER
            up = turn.high * (1.0 - math.cos(math.tau * share)) / 2.0
            back = turn.loop * math.sin(math.tau * share) / math.tau
            along = at + turn.wide * (share + back) + 0.45 * up
            stroke.append(_point(along / full, up, rise=at / full))
        at += turn.wide
    return [*stroke, _point(at / full, 0.03, rise=at / full)]


def _point(along: float, up: float, rise: float) -> tuple[int, int]:
    x = 30.0 + 930.0 * along
    y = _HEIGHT * (0.85 - 0.15 * rise - 0.65 * up)
    return round(min(max(x, 0.0), 1000.0)), round(min(max(y, 0.0), 1000.0))


def _dash(hand: random.Random) -> Stroke:
    """Draw the dash under it, from right to left as a quick hand does."""
    left, right = hand.uniform(200, 350), hand.uniform(700, 900)
    bend = hand.uniform(4, 14)
    return [
        (round(right + (left - right) * t / 8), round(_HEIGHT + bend * math.sin(math.pi * t / 8)))
        for t in range(9)
    ]
