"""The line while it is read: its pieces, what they were taken for, what was found so far and what is in doubt."""

from collections.abc import Iterable, Iterator

from inventory.descriptions.letters import composed
from inventory.descriptions.reading import Basis, ReadAttribute, ReadValue, UnreadPiece
from inventory.descriptions.tokens import Piece, pieces_of
from inventory.facts import Fact, fact

SLIP_CONFIDENCE = 0.85
"""Of a word with a slip of one letter, against the same word spelt right. Judgement."""
CONFIDENCE: dict[Basis, float] = {"stated": 0.97, "implied": 0.85, "assumed": 0.5}
SAME_LENGTH_MM = 0.02


class TypedLine:
    """Rules take pieces, say what they mean and ask what they cannot decide; each piece is taken once."""

    def __init__(self, text: str) -> None:
        self.text = text
        letters, self._begins = composed(text)
        self.pieces = pieces_of(letters)
        self.attributes: dict[str, ReadAttribute] = {}
        self.questions: list[Fact] = []
        self.contradicted: set[str] = set()
        self.chain_names: tuple[str, ...] = ()
        self.languages = {
            language
            for piece in self.pieces
            if piece.topic and piece.topic not in ("filler", "place", "unit")
            for language in piece.meaning.languages
            if "en" not in piece.meaning.languages
        }

    def unread(self, *topics: str) -> Iterator[tuple[int, Piece]]:
        """Pieces of these topics that no rule took yet, with their index."""
        for index, piece in enumerate(self.pieces):
            if not piece.role and piece.meaning.topic in topics:
                yield index, piece

    def of_kind(self, kind: str) -> Iterator[tuple[int, Piece]]:
        for index, piece in enumerate(self.pieces):
            if not piece.role and piece.kind == kind:
                yield index, piece

    def at(self, index: int) -> Piece | None:
        return self.pieces[index] if 0 <= index < len(self.pieces) else None

    def has(self, *topics: str) -> bool:
        return any(piece.meaning.topic in topics for piece in self.pieces)

    def original(self, pieces: Iterable[Piece]) -> tuple[str, tuple[int, int]]:
        """The exact piece of the line from the first to the last of them."""
        found = list(pieces)
        start, end = min(one.start for one in found), max(one.end for one in found)
        if self._begins is not None:
            start, end = self._begins[start], self._begins[end]
        return self.text[start:end], (start, end)

    def value_of(self, name: str) -> ReadValue | None:
        found = self.attributes.get(name)
        return None if found is None else found.value

    def say(
        self,
        name: str,
        value: ReadValue,
        *pieces: Piece,
        basis: Basis = "stated",
        confidence: float | None = None,
    ) -> None:
        """Record an attribute; a second, other value of the same weight is a contradiction and a question."""
        text, span = self.original(pieces) if pieces else ("", None)
        sure = CONFIDENCE[basis] if confidence is None else confidence
        if any(piece.has_slip for piece in pieces):
            sure *= SLIP_CONFIDENCE
        for piece in pieces:
            piece.role = piece.role or name
        said = self.attributes.get(name)
        if name in self.contradicted:
            return
        if said is None:
            self.attributes[name] = ReadAttribute(value, basis, round(sure, 3), text, span)
        elif not _is_same(said.value, value):
            self._contradict(name, said, ReadAttribute(value, basis, round(sure, 3), text, span))
        elif said.basis != "stated" and basis == "stated":
            self.attributes[name] = ReadAttribute(value, basis, round(sure, 3), text, span)

    def _contradict(self, name: str, said: ReadAttribute, other: ReadAttribute) -> None:
        """Two values are a question; what was stated stands against what was not, and of two stated values none."""
        self.ask("values_contradict", attribute=name, first=said.text, second=other.text)
        if said.basis == other.basis:
            del self.attributes[name]
            self.contradicted.add(name)
        elif other.basis == "stated":
            self.attributes[name] = other

    def ask(self, code: str, /, **values: object) -> None:
        question = fact(code, **values)
        if question not in self.questions:
            self.questions.append(question)

    def take(self, role: str, *pieces: Piece | None) -> None:
        for piece in pieces:
            if piece is not None:
                piece.role = piece.role or role

    def left_over(self) -> list[Piece]:
        return [piece for piece in self.pieces if not piece.role]

    def unread_piece(self, piece: Piece) -> UnreadPiece:
        text, span = self.original([piece])
        return UnreadPiece(text, span)


def _is_same(first: ReadValue, second: ReadValue) -> bool:
    if isinstance(first, float) and isinstance(second, int | float):
        return abs(first - second) <= SAME_LENGTH_MM
    return first == second
