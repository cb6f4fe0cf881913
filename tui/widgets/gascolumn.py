"""The cylinder as a column of gas: what lies in it by the gauge, the stops, the needle."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from blender.station.panel import Layer, PanelFill
from tui.plain import fit, plain
from tui.shown import Units, short_gas

# Told apart by texture and word; colour only helps.
TEXTURES = {"residual": ("░", "$secondary"), "helium": ("▞", "$accent"),
            "oxygen": ("▓", "$success"), "top": ("▒", "$primary"),
            "open": (" ", "")}  # fmt: skip
_NOT_YET = "·"
_AT_STOP_BAR = 0.5


class GasColumn(Static):
    """The layers of one fill."""

    DEFAULT_CSS = """
    GasColumn { width: 22; height: 1fr; padding: 0 1; }
    """

    def __init__(self) -> None:
        super().__init__(id="column")
        self._shown: tuple[PanelFill, Units] | None = None

    def show(self, fill: PanelFill | None, units: Units) -> None:
        """Show a fill, or nothing."""
        self._shown = (fill, units) if fill is not None else None
        self._draw()

    def on_resize(self) -> None:
        """Fit to the height."""
        self._draw()

    def _draw(self) -> None:
        if self._shown is None:
            self.update("")
            return
        rows = max(self.size.height - 1, 3)
        room = max(self.size.width - 8, 1)
        self.update(Content("\n").join(lines(*self._shown, rows, room)))


def lines(fill: PanelFill, units: Units, rows: int, room: int = 12) -> list[Content]:
    """Return the column from the top, a row a line, with a foot below.

    Every layer gets at least one row, so that a thin one is seen too.
    """
    heights = _heights(fill, rows - 1)
    made: list[Content] = [plain("  ╭────╮")]
    below = [layer for layer in fill.layers if fill.gauge_bar < layer.to_bar - _AT_STOP_BAR]
    here = (below or fill.layers[-1:])[0]  # one needle, and at a stop in the layer that is next
    for layer, height in reversed(list(zip(fill.layers, heights, strict=True))):
        made += _layer(fill, layer, height, units, room, has_needle=layer is here)
    made.append(plain("  ╰────╯"))
    return made


def _heights(fill: PanelFill, rows: int) -> list[int]:
    spans = [max(layer.to_bar - layer.from_bar, 0.0) for layer in fill.layers]
    total = sum(spans) or 1.0
    heights = [max(round(span / total * rows), 1) for span in spans]
    while sum(heights) > rows and max(heights) > 1:
        heights[heights.index(max(heights))] -= 1
    while sum(heights) < rows:
        heights[heights.index(max(heights))] += 1
    return heights


def _layer(
    fill: PanelFill, layer: Layer, height: int, units: Units, room: int, *, has_needle: bool
) -> list[Content]:
    """Return the rows of one layer from the top: its stop beside the first, its name below."""
    sign, style = TEXTURES[layer.kind]
    span = layer.to_bar - layer.from_bar
    inside = fill.gauge_bar - layer.from_bar
    full = (
        height if inside >= span - _AT_STOP_BAR else int(max(inside, 0.0) / (span or 1.0) * height)
    )
    needle_row = min(height - full, height - 1) if has_needle else -1
    made = []
    for row in range(height):
        is_in = row >= height - full
        body = (sign if is_in else " " if layer.kind == "open" else _NOT_YET) * 4
        beside = f" {units.pressure(layer.to_bar)}" if row == 0 else ""
        if row == min(1, height - 1):
            beside = f"{beside} {short_gas(layer.gas)}" if height == 1 else f" {layer.gas}"
        needle = "▶" if row == needle_row and fill.state != "requested" else " "
        edge = "┝" if row == 0 else "│"
        made.append(
            Content.assemble((f"{needle} ", "bold $accent"), edge, (body, style), "│",
                             plain(fit(beside, room).rstrip()))
        )  # fmt: skip
    return made
