"""Text in the room there is: where it does not fit, its end says by which key it is read whole."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size
from textual.visual import VisualType
from textual.widgets import Static

MORE = " … F1: the rest"


class Fitted(Static):
    """Text that is never cut off silently; F1 shows the whole of what was cut."""

    def __init__(self, ident: str | None = None) -> None:
        super().__init__("", id=ident, markup=False)
        self.whole = Content("")

    def update(self, content: VisualType = "", *, layout: bool = True) -> None:
        """Show other text."""
        self.whole = content if isinstance(content, Content) else Content(str(content))
        super().update(self.whole, layout=layout)

    def on_resize(self) -> None:
        """Fit it to the new room."""
        self.refresh()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return how many lines all of it takes; what is allowed is the style sheet's."""
        del container, viewport
        return len(self.whole.wrap(width)) if width else 0

    def render(self) -> Content:
        """Return what there is room for."""
        return cut(self.whole, *self.content_size)

    @property
    def is_cut(self) -> bool:
        """Whether some of it is not seen."""
        width, height = self.content_size
        return bool(width and height) and len(self.whole.wrap(width)) > height


def cut(whole: Content, width: int, height: int) -> Content:
    """Return text in so many cells and lines; a mark at its end says that there is more.

    Examples
    --------
    >>> cut(Content("one two three four"), 20, 1).plain
    'one two three four'
    >>> cut(Content("Look at the stamps of this cylinder"), 20, 1).plain
    'Look … F1: the rest'
    """
    lines = whole.wrap(width) if width and height else []
    if len(lines) <= height:
        return whole
    room = max(width - len(MORE), 0)
    words = lines[height - 1].truncate(room).rstrip() if room else Content("")
    return Content("\n").join([*lines[: height - 1], words.append(MORE)])
