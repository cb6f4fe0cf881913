"""Planning options in a few words: ``flow 40% at 20C,35C limit 232bar``."""

from __future__ import annotations

from blender.errors import InputError
from blender.planning.options import Options

_WORDS = {
    "flow": "rated_intake",
    "at": "temperature",
    "top": "top",
    "from": "supply",
    "limit": "limit",
    "settle": "settle_at",
    "intake": "intake_air",
    "delivery": "delivery",
    "ambient": "ambient",
    "order": "order",
    "way": "way",
}


def options(text: str) -> Options:
    """Return the planning options that words stand for; none is partial pressure.

    Raises
    ------
    InputError
        If a word is not known, or has nothing after it.

    Examples
    --------
    >>> options("flow 40%").method
    'continuous-flow'
    """
    words, found = text.split(), dict[str, str]()
    supplies: list[str] = []
    while words:
        word = words.pop(0)
        if word not in _WORDS or not words:
            allowed = "words with a value after each: " + ", ".join(_WORDS)
            raise InputError("plan", word, allowed)
        if word == "from":
            supplies.append(words.pop(0))
        else:
            found[_WORDS[word]] = words.pop(0)
    method = "continuous-flow" if "rated_intake" in found else "partial-pressure"
    return Options(method=method, supply=tuple(supplies), **found)


def options_text(text: str) -> str:
    """Return how the options are understood."""
    made = options(text)
    given = ", ".join(f"{name} {value}" for name, value in made.typed().items()
                      if name not in ("method", "oxygen_minimum", "purge_to"))  # fmt: skip
    return f"{made.method}; {given}"
