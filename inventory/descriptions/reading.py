"""What was read from a line: attributes with the piece of text behind each, questions, and what nobody understood."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from inventory.facts import Fact

Basis = Literal["stated", "implied", "assumed"]
ReadOutcome = Literal["parsed", "needs_review", "rejected"]
ReadValue = str | int | float | bool


@dataclass(frozen=True, slots=True)
class ReadAttribute:
    """One attribute: `stated` in words or figures, `implied` by a code, or `assumed` where the line is silent.

    `confidence` orders readings from 0 to 1 and is judgement, no frequency. `text` is the piece of the line, `span` where it
    begins and ends; an assumed value has neither.
    """

    value: ReadValue
    basis: Basis
    confidence: float
    text: str = ""
    span: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class UnreadPiece:
    text: str
    span: tuple[int, int]


@dataclass(frozen=True, slots=True)
class DescriptionReading:
    """`attributes` have the names of a specification, and those of `BESIDE_SPECIFICATION`."""

    outcome: ReadOutcome
    attributes: Mapping[str, ReadAttribute] = field(default_factory=dict)
    questions: tuple[Fact, ...] = ()
    unread: tuple[UnreadPiece, ...] = ()


BESIDE_SPECIFICATION = {
    "keyway": "There is a keyway (its width may not be said).",
    "set_screw": "There are set screws (their number may not be said).",
    "teeth_counted": "Double pitch: whether the teeth are effective or actual ones.",
    "bush_included": "Whether the bush comes with it.",
    "shear_pin": "It drives through a shear pin.",
}
"""What a line may say that no specification records."""
