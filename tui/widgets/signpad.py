"""A field to sign in with mouse or finger; a stroke is a list of points in 1/1000 of its width."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.events import MouseDown, MouseEvent, MouseMove, MouseUp
from textual.widgets import Static

from blender.station.strokes import MOST_POINTS, MOST_STROKES
from tui.dialogs.dialog import Dialog
from tui.plain import plain
from tui.widgets.fitted import Fitted

Point = tuple[int, int]
Stroke = list[Point]

_FULL = 1000
_APART = 3  # own choice: a third of a percent of the box is a hair on a label
_CELL_HIGH = 2.0  # a cell is twice as high as it is wide
# A braille sign is two dots wide and four high; the bit of each by column and row.
_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BRAILLE = 0x2800
_POINT: tuple[Point, ...] = ((0, 0),)
_BROAD: tuple[Point, ...] = ((0, 0), (1, 0), (0, 1), (1, 1))  # a finger's line, to be seen


class SignPad(Static):
    """Strokes, as they are drawn.

    The mouse is not captured: what is tapped right after a stroke would still be this field's.
    """

    ALLOW_SELECT = False

    DEFAULT_CSS = """
    SignPad { height: 1fr; background: $panel; }
    """

    def __init__(self, strokes: Sequence[Stroke] = (), *, is_fine: bool = False) -> None:
        super().__init__("", id="signpad")
        self._is_fine = is_fine
        self._middle = 0.0 if is_fine else 0.5  # of a cell, where the pen is known by cells alone
        self.strokes: list[Stroke] = [list(stroke) for stroke in strokes]
        self._is_down = False

    def on_resize(self) -> None:
        """Draw it again at this size."""
        self._draw()

    def on_mouse_down(self, event: MouseDown) -> None:
        """Put the pen down."""
        event.stop()
        if not self._has_room:
            return
        self._is_down = True
        self.strokes.append([self._point(event)])
        self._draw()

    def on_mouse_move(self, event: MouseMove) -> None:
        """Draw on."""
        if not self._is_down:
            return
        event.stop()
        point = self._point(event)
        if self._is_far(point, self.strokes[-1][-1]) and self._has_room:
            self.strokes[-1].append(point)
            self._draw()

    def on_leave(self) -> None:
        """Lift the pen at the edge."""
        self._is_down = False

    def on_mouse_up(self, event: MouseUp) -> None:
        """Lift the pen."""
        event.stop()
        self._is_down = False

    @property
    def _has_room(self) -> bool:
        """Whether the record would keep another point."""
        points = sum(len(stroke) for stroke in self.strokes)
        return len(self.strokes) < MOST_STROKES and points < MOST_POINTS

    @staticmethod
    def _is_far(one: Point, other: Point) -> bool:
        """Tell whether two points would be told apart on paper."""
        return max(abs(one[0] - other[0]), abs(one[1] - other[1])) >= _APART

    def clear(self) -> None:
        """Begin anew."""
        self.strokes = []
        self._draw()

    def undo(self) -> None:
        """Take the last stroke back."""
        self.strokes = self.strokes[:-1]
        self._draw()

    @property
    def drawn(self) -> list[Stroke]:
        """What was drawn; lone taps are no signature."""
        return [stroke for stroke in self.strokes if len(stroke) > 1]

    def _point(self, event: MouseEvent) -> Point:
        wide = max(self.size.width, 1)
        x, y = event.pointer_x + self._middle, event.pointer_y + self._middle
        return (
            min(max(round(x / wide * _FULL), 0), _FULL),
            min(max(round(y * _CELL_HIGH / wide * _FULL), 0), _FULL),
        )

    def _draw(self) -> None:
        wide, high = self.size.width, self.size.height
        if wide and high:
            lines = rows(self.strokes, wide, high, pen=_BROAD if self._is_fine else _POINT)
            self.update(Content("\n").join(plain(line) for line in lines))


def rows(
    strokes: Sequence[Stroke], wide: int, high: int, pen: Sequence[Point] = _POINT
) -> list[str]:
    """Return strokes as lines of braille signs.

    Parameters
    ----------
    strokes : sequence of strokes
        Points in 1/1000 of the width, in both directions.
    wide, high : int
        The field in cells.
    pen : sequence of points
        The dots it leaves at each place, from there.
    """
    dots = [[0] * wide for _ in range(high)]
    for stroke in strokes:
        along = _along(stroke, 2.0 * wide / _FULL)
        for x, y in ((x + dx, y + dy) for x, y in along for dx, dy in pen):
            column, row = x // 2, y // 4
            if 0 <= column < wide and 0 <= row < high:
                dots[row][column] |= _DOTS[x % 2][y % 4]
    return ["".join(chr(_BRAILLE + bits) if bits else " " for bits in line) for line in dots]


def _along(stroke: Stroke, scale: float) -> Iterator[tuple[int, int]]:
    """Give every dot on the way from point to point."""
    places = [(x * scale, y * scale) for x, y in stroke]
    for (x0, y0), (x1, y1) in zip(places, places[1:] or places, strict=False):
        steps = max(int(abs(x1 - x0)), int(abs(y1 - y0)), 1)
        for step in range(steps + 1):
            share = step / steps
            yield int(x0 + (x1 - x0) * share), int(y0 + (y1 - y0) * share)


class SignBox(Dialog[list[Stroke]]):
    """Sign here: Enter takes the strokes, Esc leaves and keeps them, Delete clears.

    Parameters
    ----------
    statement : Content
        What is signed for, shown above.
    strokes : sequence of strokes
        What was drawn before.
    """

    DEFAULT_CSS = """
    SignBox { align: center middle; }
    SignBox Vertical { width: 76; height: 22; background: $surface; border: solid $primary;
        padding: 0 1; }
    SignBox #stated { height: auto; max-height: 10; }
    """
    HELP_TEXT = "Draw your signature with mouse or finger. It is kept with what stands above it."
    KEYS = (
        ("enter, esc", "Take what is drawn"),
        ("delete", "Begin anew"),
    )
    BINDINGS: ClassVar[list[Binding]] = [  # type: ignore[assignment]  # narrower than the toolkit's
        Binding("enter,escape", "take", "Take it"),
        Binding("delete,backspace", "clear", "Clear"),
    ]

    def __init__(self, statement: Content, strokes: Sequence[Stroke]) -> None:
        super().__init__()
        self._statement, self._strokes = statement, strokes

    def compose(self) -> ComposeResult:
        """What is stated, the field, the keys."""
        with Vertical():
            stated = Fitted("stated")
            stated.update(self._statement)
            yield stated
            yield SignPad(self._strokes)
            yield Static(plain("Sign above with mouse or finger. Enter takes it, Delete clears."))

    def action_take(self) -> None:
        """Hand the strokes over; lone taps are no signature."""
        self.dismiss(self.query_one(SignPad).drawn)

    def action_clear(self) -> None:
        """Begin anew."""
        self.query_one(SignPad).clear()
