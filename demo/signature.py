"""A signature as a pen would draw it: one flowing line of loops, and a dash under it."""

from __future__ import annotations

import math
import random

Stroke = list[tuple[int, int]]

_POINTS_A_LOOP = 14
_HEIGHT = 300  # of a box 1000 wide; y counts downwards


def draw(name: str) -> list[Stroke]:
    """Return the pen strokes of a name, the same for the same name, in 1/1000 of the box."""
    hand = random.Random(name)
    letters = [word for word in name.split() if word]
    loops = [loop for word in letters for loop in _loops(word, hand)]
    return [_line(loops), _dash(hand)]


def _loops(word: str, hand: random.Random) -> list[tuple[float, float, float]]:
    """Return for each letter how wide, how tall and how slanted its loop is."""
    tall_letters = "bdfhklt"
    loops = []
    for place, letter in enumerate(word):
        tall = 1.0 if place == 0 else 0.75 if letter in tall_letters else 0.32
        # The end of a word runs out into a flatter line, as it does when one hurries.
        tall *= 1.0 - 0.4 * place / len(word)
        wide = 1.5 if place == 0 else 1.0
        loops.append((wide * hand.uniform(0.8, 1.3), tall, hand.uniform(0.5, 1.1)))
    return loops


def _line(loops: list[tuple[float, float, float]]) -> Stroke:
    """Write loop after loop along a line that rises a little."""
    full = sum(wide for wide, _, _ in loops)
    stroke, at = [], 0.0
    for wide, tall, slant in loops:
        for step in range(_POINTS_A_LOOP):
            turn = step / _POINTS_A_LOOP
            up = tall * (1.0 - math.cos(math.tau * turn)) / 2.0
            along = at + wide * (turn - 0.28 * slant * math.sin(math.tau * turn)) + 0.5 * up
            stroke.append(_point(along / (full + 1.0), up, rise=at / full))
        at += wide
    stroke.append(_point(at / (full + 1.0), 0.0, rise=1.0))
    return stroke


def _point(along: float, up: float, rise: float) -> tuple[int, int]:
    x = 30 + 940 * along
    y = 0.9 * _HEIGHT - 0.15 * _HEIGHT * rise - 0.65 * _HEIGHT * up
    return round(min(max(x, 0.0), 1000.0)), round(min(max(y, 0.0), 1000.0))


def _dash(hand: random.Random) -> Stroke:
    """Draw the dash under it, from right to left as a quick hand does."""
    left, right = hand.uniform(200, 350), hand.uniform(700, 900)
    bend = hand.uniform(4, 14)
    return [
        (round(right + (left - right) * t / 8), round(_HEIGHT + bend * math.sin(math.pi * t / 8)))
        for t in range(9)
    ]
