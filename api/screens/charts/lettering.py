"""How wide a text is, and which labels of an axis have room beside each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

TEXT_SIZE = 14.0
"""Height of all lettering of a chart, in units of the drawing: on a phone about 12.7 px."""

NARROW, WIDE = frozenset(" .,;:!'|()[]ijlftr1-"), frozenset("mwMW%@—")
NARROW_EM, USUAL_EM, WIDE_EM, CAPITAL_EM, BOLD = 0.42, 0.65, 1.0, 0.79, 1.1
"""Widths in heights of the text: those of DejaVu Sans, the widest of the fonts that a page asks for."""

DIGIT_EM = 0.64
BETWEEN_LABELS = 7.0
BELOW_THE_LINE = 0.25
"""How far letters reach below the line that they stand on, in heights of the text."""


def text_width(text: str, *, is_bold: bool = False) -> float:
    return sum(_em(letter) for letter in text) * TEXT_SIZE * (BOLD if is_bold else 1.0)


def _em(letter: str) -> float:
    if letter.isdigit():
        return DIGIT_EM
    if letter in NARROW:
        return NARROW_EM
    if letter in WIDE:
        return WIDE_EM
    return CAPITAL_EM if letter.isupper() else USUAL_EM


@dataclass(frozen=True)
class ChartText:
    """A text of a chart, standing on `y`."""

    x: float
    y: float
    text: str
    anchor: str = "middle"
    kind: str = ""

    @property
    def left(self) -> float:
        width = text_width(self.text, is_bold=self.kind == "strong")
        return self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]

    @property
    def right(self) -> float:
        return self.left + text_width(self.text, is_bold=self.kind == "strong")

    @property
    def top(self) -> float:
        return self.y - TEXT_SIZE

    @property
    def bottom(self) -> float:
        return self.y + BELOW_THE_LINE * TEXT_SIZE


def thinned(places: Sequence[float], sizes: Sequence[float]) -> list[int]:
    """Every label, or every second, third, … one from the first on, so that those left do not touch."""
    for stride in range(1, len(places)):
        kept = list(range(0, len(places), stride))
        if all(
            abs(places[after] - places[before]) >= (sizes[before] + sizes[after]) / 2 + BETWEEN_LABELS
            for before, after in pairwise(kept)
        ):
            return kept
    return [0] if places else []
