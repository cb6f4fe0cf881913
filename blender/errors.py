"""Everything that can go wrong, in one tree.

    FillwrightError
     +-- InputError          what was given cannot be read or is outside what is allowed
     |    +-- ModelRangeError    a state outside the range of the equation of state
     +-- NoFillError         no such fill is possible; carries the nearest that is
     +-- RefusedError        a gate, missing authority or a mismatched identity says no
     +-- RecordError         the record is damaged or does not verify
     |    +-- StorageError       the disk or database did not take what was entered
     |         +-- MovedError        the record goes on in another place
     +-- KeyFileError        the station's own keys are missing or unreadable

Callers catch `FillwrightError`; anything else is a bug of ours.  Every message says
what was given, where, what is allowed, and what to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


class FillwrightError(Exception):
    """Base of all errors a person can be told about.

    `exit_code` is the process exit code the command line answers with; `code` is a
    short stable word for machines.
    """

    exit_code = 1
    code = "error"

    def __init__(self, text: str, *, code: str | None = None) -> None:
        super().__init__(text)
        self.text = text
        if code is not None:
            self.code = code


class InputError(FillwrightError, ValueError):
    """A value that cannot be read, or lies outside what is allowed.

    Parameters
    ----------
    field : str
        Which field or option, in the words the person used.
    given : object
        What was given, as typed.
    allowed : str
        What is allowed there, with units, and what to do.
    """

    exit_code = 2
    code = "bad-input"

    def __init__(self, field: str, given: object, allowed: str, *, code: str | None = None) -> None:
        self.field = field
        self.given = given
        self.allowed = allowed
        said = "nothing given" if given in (None, "nothing") else f"{_line(given)} is not usable"
        super().__init__(f"{field}: {said}; {allowed}", code=code)


_MOST_SHOWN = 80  # characters; who typed more knows it by its beginning


def _line(given: object) -> str:
    """Return what was given on one line, what a terminal could obey spelled out, a long one cut."""
    text = "".join(
        c if c.isprintable() else c.encode("unicode_escape").decode() for c in str(given)
    )
    return text if len(text) <= _MOST_SHOWN else f"{text[:_MOST_SHOWN]}..."


class ModelRangeError(InputError):
    """A state outside the range in which the equation of state is trusted."""

    code = "model-range"


class NoFillError(FillwrightError):
    """No such fill is possible.

    Parameters
    ----------
    text : str
        Why not, in one or two sentences.
    code : str
        A short stable word for the reason, for example ``rated-intake``.
    alternatives : sequence of dict
        The nearest fills that are possible, as JSON-ready dictionaries.
    """

    exit_code = 3
    code = "no-fill"

    def __init__(
        self,
        text: str,
        *,
        code: str | None = None,
        alternatives: Sequence[dict[str, Any]] = (),
    ) -> None:
        super().__init__(text, code=code)
        self.alternatives = list(alternatives)


class RefusedError(FillwrightError):
    """A gate, missing authority or a mismatched identity says no.

    Parameters
    ----------
    text : str
        The reason, for the person at the panel.
    gates : sequence of dict
        What each gate answered: ``{"gate", "answer", "reason"}``.
    """

    exit_code = 5
    code = "refused"

    def __init__(
        self, text: str, *, code: str | None = None, gates: Sequence[dict[str, Any]] = ()
    ) -> None:
        super().__init__(text, code=code)
        self.gates = list(gates)


class LeaveNeededError(RefusedError):
    """A manager may go on here, but was not yet asked; nothing was entered.

    Parameters
    ----------
    fill : int
        The fill.
    gates : sequence of dict
        What each gate that asks them found.
    """

    code = "leave"

    def __init__(self, fill: int, gates: Sequence[dict[str, Any]]) -> None:
        asked = "; ".join(str(gate["reason"]) for gate in gates)
        super().__init__(f"a manager is asked first: {asked}", gates=gates)
        self.fill = fill


class RecordError(FillwrightError):
    """The record is damaged, is not ours, or does not verify."""

    exit_code = 4
    code = "record"


class StorageError(RecordError):
    """The disk or database did not take what was entered; nothing was saved."""

    code = "storage"


class MovedError(StorageError):
    """The record was moved away in good order and goes on elsewhere: nothing of it is damaged."""

    exit_code = 5
    code = "moved"


class KeyFileError(RefusedError):
    """The station's own keys are missing, unreadable or do not belong to this record."""

    code = "station-keys"
