"""Planning options in a few words: ``flow 40% at 20C,35C limit 232bar``."""

from __future__ import annotations

from blender.errors import InputError
from blender.planning.options import USUAL_TOP, Options

# A word of a method, and the option its value is.
_METHODS = {
    "flow": ("continuous-flow", "rated_intake"),
    "mass": ("mass", "scale"),
    "banked": ("banked", "oxygen_line"),
}
_RATINGS = [(word, option) for word, (_, option) in _METHODS.items()]
_WORDS = {
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
    "inject": "inject",
    "tower": "tower",
    "draw": "draw",
    "whip": "whip",
    "booster": "booster",
    "compressor": "compressor_max",
    "gauge": "gauge",
    "kind": "temperature_kind",
    "air-first": "air_first",
    "least-step": "least_step",
}


def options(text: str) -> Options:
    """Return the planning options that words stand for; none is partial pressure.

    ``flow rated`` leaves the rated intake to the compressor on record.

    Raises
    ------
    InputError
        If a word is not known, or has nothing after it, or two methods are named.

    Examples
    --------
    >>> options("flow 40%").method, options("mass 5g").scale
    ('continuous-flow', '5g')
    """
    words, found = text.split(), dict[str, str]()
    supplies, methods = list[str](), list[str]()
    while words:
        word = words.pop(0)
        if word not in (*_METHODS, *_WORDS) or not words:
            allowed = "words with a value after each: " + ", ".join((*_METHODS, *_WORDS))
            raise InputError("plan", word, allowed)
        value = words.pop(0)
        if word == "from":
            supplies.append(value)
        elif word in _METHODS:
            methods.append(_METHODS[word][0])
            if (word, value) != ("flow", "rated"):  # else as the record has the compressor
                found[_METHODS[word][1]] = value
        else:
            found[_WORDS[word]] = value
    if len(methods) > 1:
        raise InputError("plan", " and ".join(methods), "one method for a fill")
    method = methods[0] if methods else "partial-pressure"
    return Options(method=method, supply=tuple(supplies), **found)


def options_text(text: str) -> str:
    """Return how the options are understood, in the words they are typed in.

    Examples
    --------
    >>> options_text("")
    'partial pressure; top air, settle 20C'
    """
    made = options(text)
    words = {option: word for word, option in (*_WORDS.items(), *_RATINGS)}
    shown = {"top": USUAL_TOP, **made.typed()}
    given = ", ".join(f"{words.get(name, name)} {value}" for name, value in shown.items()
                      if name not in ("method", "oxygen_minimum", "purge_to"))  # fmt: skip
    return f"{made.method.replace('-', ' ')}; {given}"
