"""What every use case returns: where the fill stands, what the gates said, what is next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from blender.station.gates import PASS, Gate


@dataclass(frozen=True, slots=True)
class Answer:
    """The outcome of one act.

    Parameters
    ----------
    fill : int
        The fill's number.
    state : str
        Where it stands now.
    gates : sequence of Gate
        What each gate answered.
    done : bool
        False where a gate refused; the refusal itself is in the record.
    text : str
        One or two sentences for the person at the panel.
    facts : dict
        Further JSON-ready facts of this act.
    """

    fill: int
    state: str
    gates: Sequence[Gate] = ()
    done: bool = True
    text: str = ""
    facts: dict[str, Any] = field(default_factory=dict)

    @property
    def objections(self) -> list[Gate]:
        """The gates that did not pass."""
        return [gate for gate in self.gates if gate.answer != PASS]

    @property
    def cautions(self) -> list[Gate]:
        """The gates that passed only because the station has made no rule of them."""
        return [gate for gate in self.gates if gate.caution]

    @property
    def spoken(self) -> str:
        """The text without the names of gates, which scripts go by and people need not."""
        text = self.text if self.done else self.text.replace("Refused. ", "Refused: ", 1)
        for gate in self.gates:
            text = text.replace(f"{gate.gate}: {gate.reason}", gate.reason)
        return text

    def as_dict(self) -> dict[str, Any]:
        """The answer as a JSON-ready dictionary."""
        gates = [gate.as_dict() for gate in self.gates]
        return {
            "fill": self.fill,
            "state": self.state,
            "done": self.done,
            "gates": gates,
            "text": self.text,
            **self.facts,
        }
