"""Sheets of labels in A4: where each label stands, in mm. Common sizes of the trade; no source."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from textwrap import wrap

from django.utils.safestring import SafeString

from api.screens.paper.scan_code import scan_code
from api.wording.lengths import mm_text

EDGE_MM = 2.5
MOST_CODE_MM = 30.0
LARGEST_MM, SMALLEST_MM, WORDS_MM = 5.5, 2.0, 2.7
LETTER = 0.62
"""Width of a letter of the number, and at most of the words, by its height."""
LINE = 1.25
LINES = 3


@dataclass(frozen=True)
class LabelSheet:
    """Labels across and down, the size of one, where the first one begins, and the gap between two columns; mm."""

    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    gap: float = 0.0

    @property
    def count(self) -> int:
        return self.columns * self.rows

    @property
    def words(self) -> str:
        return f"{self.columns} × {self.rows}, {mm_text(self.width)} × {mm_text(self.height)} mm"

    def corner(self, place: int) -> tuple[float, float]:
        row, column = divmod(place, self.columns)
        return self.left + column * (self.width + self.gap), self.top + row * self.height


SHEETS = {
    "2x4": LabelSheet(2, 4, 105.0, 74.0, 0.0, 0.5),
    "2x7": LabelSheet(2, 7, 99.1, 38.1, 4.65, 15.15, 2.5),
    "3x7": LabelSheet(3, 7, 63.5, 38.1, 7.25, 15.15, 2.5),
    "3x8": LabelSheet(3, 8, 70.0, 37.0, 0.0, 0.5),
    "4x11": LabelSheet(4, 11, 48.5, 25.4, 8.0, 8.8),
}


@dataclass(frozen=True)
class Label:
    """`number` is what the code holds; the words are for people."""

    number: str
    words: tuple[str, ...]


@dataclass(frozen=True)
class PlacedLabel:
    label: Label
    sheet: LabelSheet
    place: int

    @property
    def corner(self) -> tuple[float, float]:
        return self.sheet.corner(self.place)

    @property
    def code_mm(self) -> float:
        return min(self.sheet.height - 2 * EDGE_MM, self.sheet.width / 3, MOST_CODE_MM)

    @property
    def code(self) -> SafeString:
        return scan_code(self.label.number)

    @property
    def words_at(self) -> float:
        return EDGE_MM + self.code_mm

    @cached_property
    def number_mm(self) -> float:
        fitting = self._room / (LETTER * len(self.label.number))
        return max(min(LARGEST_MM, fitting), SMALLEST_MM)

    @property
    def number_base(self) -> float:
        return EDGE_MM + self.number_mm

    @property
    def _room(self) -> float:
        return self.sheet.width - self.words_at - EDGE_MM

    @property
    def lines(self) -> Iterator[tuple[float, str]]:
        """Each with its base line."""
        wide = max(int(self._room / (LETTER * WORDS_MM)), 1)
        texts = [line for words in self.label.words if words for line in wrap(words, wide)[:2]]
        for at, text in enumerate(texts[:LINES], start=1):
            yield self.number_base + at * LINE * WORDS_MM + 0.6, text


def laid_out(labels: Sequence[Label], sheet: LabelSheet, first: int) -> list[list[PlacedLabel]]:
    """Sheet by sheet; the first one begins at the label of that number, as the others may be used up."""
    pages: list[list[PlacedLabel]] = []
    for at, label in enumerate(labels, start=first - 1):
        page, place = divmod(at, sheet.count)
        if page == len(pages):
            pages.append([])
        pages[page].append(PlacedLabel(label, sheet, place))
    return pages
