"""Text people type, made safe at the door: composed, without controls, of bounded length."""

from __future__ import annotations

import unicodedata

from blender.errors import InputError

# Controls, invisible format marks (bidi overrides, zero-width), halves of pairs, private
# and unassigned characters, and the two separators that break lines unseen.
_REFUSED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def clean_text(
    text: str, field: str, max_len: int = 120, *, empty: bool = False, lines: bool = False
) -> str:
    """Return typed text in composed form (NFC) without blanks at its ends.

    Parameters
    ----------
    text : str
        As typed.
    field : str
        The field's name, for the error message.
    max_len : int
        Longest text allowed [characters].
    empty : bool
        Whether nothing at all may be given.
    lines : bool
        Whether the text may have several lines.

    Raises
    ------
    InputError
        If it holds a control, invisible or unassigned character, is empty or too long.

    Examples
    --------
    >>> clean_text("  Mira Sund ", "name")
    'Mira Sund'
    """
    if lines:
        text = text.replace("\r\n", "\n")
    composed = unicodedata.normalize("NFC", text).strip(" \t\n\r" if lines else " \t")
    for char in composed:
        if unicodedata.category(char) in _REFUSED and not (lines and char == "\n"):
            raise InputError(
                field, ascii(text[:max_len]), f"it holds U+{ord(char):04X}, which is not allowed"
            )
    if not composed and not empty:
        raise InputError(field, repr(text[:max_len]), "it must not be empty")
    if len(composed) > max_len:
        raise InputError(
            field, f"{composed[:20]!r}... ({len(composed)} characters)", f"at most {max_len}"
        )
    return composed
