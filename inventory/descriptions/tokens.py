"""A typed line as words with their meaning, numbers with their unit, codes and signs; each knows its place in the line."""

import re
from dataclasses import dataclass, field, replace
from functools import cache

from inventory.descriptions.codes import ChainCode, read_code
from inventory.descriptions.lengths import TypedNumber, read_number, whole_number
from inventory.descriptions.letters import folded, key_of
from inventory.descriptions.lexicon import (
    SPACED_LETTERS,
    Meaning,
    is_known,
    lexicon,
    lexicon_rows,
    one_slip_away,
    unglued,
    without_slip,
)

WORD = re.compile(r"Ø|(?:(?!Ø)[^\W\d_])+")
SPACE = re.compile(r"[\s,;:()\[\]{}=|_!.<>\\/'-]+")
DATE = re.compile(
    r"[0-9]{1,2}\.[0-9]{1,2}\.(?:19|20)?[0-9]{2}(?![0-9])|[0-9]{1,2}/[0-9]{1,2}/(?:19|20)?[0-9]{2}(?![0-9])"
    r"|(?:19|20)[0-9]{2}-[0-9]{2}-[0-9]{2}(?![0-9])|(?:0?[1-9]|1[0-2])[/.](?:19|20)[0-9]{2}(?![0-9])"
    r"|[0-9]{1,2}-[0-9]{1,2}-(?:19|20)[0-9]{2}(?![0-9])"
)
FIT = re.compile(r"(?:H(?:[5-9]|1[01])|[FGJKNP][5-9]|JS[5-9]|D10)(?:/[A-Z]{1,2}[0-9]{1,2})?(?![A-Z0-9])")
"""Tolerance classes of ISO 286 that are usual for bores and keyways."""
THREAD = re.compile(
    r"(?:[1-8]\s?X\s?)?M(?:[3-9]|1[0246]|2[04])(?:X[0-9]{1,2}(?:[.,][0-9]{1,2})?)?(?![A-Z0-9])|[0-9]{1,2}/[0-9]{1,2}-(?:32|28|24|20|18|16|14|13|12|11|10)(?![0-9])(?:\s?UN[CF])?"
)
BEARING = re.compile(r"6[0-4][0-9]{2}(?:[-\s]?(?:2RS[1H]?|2?Z{1,2}|2RSR|DD|LLU))(?![A-Z0-9])")
NUMBER_WORDS = frozenset({"NO", "NR", "N", "NUM", "NRO"})
NO_MEANING = Meaning("", "", ())
WIDEST_PHRASE_GAP = 3


@dataclass(slots=True)
class Piece:
    """One token: `gap` is what stands between it and the one before; `role` what the reader took it for, empty if unread."""

    kind: str
    start: int
    end: int
    text: str
    gap: str = ""
    meaning: Meaning = NO_MEANING
    number: TypedNumber | None = None
    unit: str = ""
    code: ChainCode | None = None
    has_slip: bool = False
    role: str = ""
    is_glued: bool = field(default=False)

    @property
    def topic(self) -> str:
        return self.meaning.topic

    @property
    def breaks(self) -> bool:
        """Whether a comma or bracket stands before it."""
        return any(sign in self.gap for sign in ",;()[]|")


def pieces_of(line: str) -> list[Piece]:
    """Every token of a line in order, words joined to phrases, units joined to their numbers."""
    text = folded(line)
    return _with_units(_joined(_scan(text)), text)


def _code_may_begin(text: str, at: int, before: Piece | None) -> bool:
    if at == 0 or before is None or before.end < at:
        return not (at and text[at - 1] == "." and at > 1 and text[at - 2].isdigit())
    return before.kind == "sign" or (
        before.kind == "word" and (len(before.text) > 2 or is_known(before.text))
    )


def _scan(text: str) -> list[Piece]:
    found: list[Piece] = []
    at, last = 0, 0
    while at < len(text):
        if space := SPACE.match(text, at):
            at = _after_space(text, space.end())
            if at == len(text):
                break
        piece = _piece_at(text, at, found[-1] if found else None)
        piece.gap = text[last : piece.start]
        piece.is_glued = bool(found) and last == piece.start
        found.append(piece)
        at = last = piece.end
    return found


def _after_space(text: str, end: int) -> int:
    """The end of what separates; the point of a decimal without a whole part (.250) is none of it."""
    begins_decimal = text[end - 1] == "." and end < len(text) and text[end].isdigit()
    return end - 1 if begins_decimal and (end == 1 or text[end - 2] in " =:(,;") else end


def _piece_at(text: str, at: int, before: Piece | None) -> Piece:
    if kind := _special(text, at, before):
        return kind
    if _code_may_begin(text, at, before) and (code := read_code(text, at)):
        return Piece("code", at, code[1], text[at : code[1]], code=code[0])
    if number := (_counted_place(text, at, before) or read_number(text, at)):
        return Piece("number", at, number[1], text[at : number[1]], number=number[0])
    if (match := WORD.match(text, at)) and (word := _word(text, match)):
        return word
    return Piece("sign", at, at + 1, text[at])


def _counted_place(text: str, at: int, before: Piece | None) -> tuple[TypedNumber, int] | None:
    """The whole number after # and NO: in #3 1/4 the fraction stands by itself."""
    if before is None or not text[at].isdigit():
        return None
    if before.text in ("#", "°") or (
        before.kind == "word" and before.text in NUMBER_WORDS and before.end + 2 >= at
    ):
        return whole_number(text, at)
    return None


def _special(text: str, at: int, before: Piece | None) -> Piece | None:
    """A date, a tolerance class, a thread, a grade of material or a bearing number."""
    if text[at].isdigit() or text[at] in _SPECIAL_FIRST:
        is_glued = at > 0 and text[at - 1].isalnum()
        for kind, pattern in (
            ("date", DATE),
            ("fit", FIT),
            ("thread", THREAD),
            ("bearing", BEARING),
            ("grade", _grades()),
        ):
            if is_glued and (
                kind not in ("fit", "grade") or (before and before.kind not in ("number", "word"))
            ):
                continue
            if match := pattern.match(text, at):
                return Piece(kind, at, match.end(), match[0])
    return None


_SPECIAL_FIRST = frozenset("HFGJKNPDMVACXESG1428")


@cache
def _grades() -> re.Pattern[str]:
    alone = [row["written"] for row in lexicon_rows("grades") if row["stands_alone"] == "yes"]
    written = "|".join(re.escape(word) for word in sorted(alone, key=len, reverse=True))
    return re.compile(rf"(?:{written})(?![A-Z0-9]|[.,-][0-9])")


def _word(text: str, match: re.Match[str]) -> Piece | None:
    """A run of letters; where it ends in the letter of a code (SPKTD60B20), it ends before that letter."""
    run, end = match[0], match.end()
    key = key_of(run)
    if len(run) > 3 and run[-1] in "DEF" and not is_known(key) and is_known(key[:-1]):
        code = read_code(text, end - 1)
        if code and code[0].type:
            run, end = run[:-1], end - 1
    return Piece("word", match.start(), end, run)


def _understood(piece: Piece) -> tuple[str, bool]:
    key = key_of(piece.text)
    right = without_slip(key)
    return right, right != key


def _phrase_gap_fits(before: str, gap: str, *, is_abbreviation: bool) -> bool:
    """A phrase has no comma in it, and the first letter of an abbreviation is not set apart by a space alone."""
    if len(gap) > WIDEST_PHRASE_GAP or any(sign in gap for sign in ",;()[]|=:"):
        return False
    return len(before) > 1 or before in SPACED_LETTERS or is_abbreviation or gap.strip() != "" or gap == ""


def _joined(pieces: list[Piece]) -> list[Piece]:
    """Words replaced by what they mean: the longest phrase, a word typed in two halves, or glued words."""
    keys = [_understood(piece) if piece.kind == "word" else ("", False) for piece in pieces]
    result: list[Piece] = []
    at = 0
    while at < len(pieces):
        piece = pieces[at]
        if piece.kind != "word":
            result.append(piece)
            at += 1
            continue
        count, meaning = _phrase_at(pieces, keys, at)
        if not count:
            count, meaning = _phrase_of_slip(pieces, keys, at)
        if count:
            slip = any(keys[one][1] for one in range(at, at + count))
            result.append(_merged(pieces[at : at + count], meaning, has_slip=slip))
            at += count
        else:
            result.extend(_divided(piece, keys[at][0]))
            at += 1
    return result


def _merged(pieces: list[Piece], meaning: Meaning, *, has_slip: bool) -> Piece:
    first, last = pieces[0], pieces[-1]
    text = "".join(one.gap + one.text if index else one.text for index, one in enumerate(pieces))
    return replace(first, end=last.end, text=text, meaning=meaning, has_slip=has_slip)


def _phrase_at(pieces: list[Piece], keys: list[tuple[str, bool]], at: int) -> tuple[int, Meaning]:
    known = lexicon()
    for atoms, meaning in known.phrases.get(keys[at][0], ()):
        end = at + len(atoms)
        if end <= len(pieces) and all(
            keys[at + one][0] == atoms[one]
            and (
                one == 0
                or _phrase_gap_fits(
                    atoms[one - 1],
                    pieces[at + one].gap,
                    is_abbreviation=one > 1 and "/" in pieces[at + one - 1].gap,
                )
            )
            for one in range(len(atoms))
        ):
            return len(atoms), meaning
    if at + 1 < len(pieces) and pieces[at + 1].kind == "word" and pieces[at + 1].gap in (" ", "-", "- "):
        joined = key_of(pieces[at].text) + key_of(pieces[at + 1].text)
        halves_known = keys[at][0] in known.words and keys[at + 1][0] in known.words
        if (
            len(joined) >= 6
            and min(len(one.text) for one in pieces[at : at + 2]) >= 2
            and joined in known.words
            and not halves_known
        ):
            return 2, known.words[joined]
    word = keys[at][0]
    return (1, known.words[word]) if word in known.words else (0, NO_MEANING)


def _phrase_of_slip(pieces: list[Piece], keys: list[tuple[str, bool]], at: int) -> tuple[int, Meaning]:
    """TAPPER BUSHED: of the words that it may be a slip of, the one that begins a phrase."""
    found = []
    for right in one_slip_away(keys[at][0]):
        count, meaning = _phrase_at(pieces, [*keys[:at], (right, True), *keys[at + 1 :]], at)
        if count > 1:
            found.append((count, meaning))
    if len(found) != 1:
        return 0, NO_MEANING
    keys[at] = (keys[at][0], True)
    return found[0]


def _divided(piece: Piece, key: str) -> list[Piece]:
    parts = unglued(key) if len(key) == len(piece.text) else ()
    if not parts:
        return [piece]
    found, start = [], piece.start
    for index, part in enumerate(parts):
        gap = piece.gap if index == 0 else ""
        end = start + len(part)
        meaning = lexicon().words[part]
        found.append(
            Piece("word", start, end, part, gap=gap, meaning=meaning, is_glued=index > 0 or piece.is_glued)
        )
        start = end
    return found


def _with_units(pieces: list[Piece], text: str) -> list[Piece]:
    """Numbers take the unit that follows: an inch mark, IN, MM, ZOLL …"""
    result: list[Piece] = []
    for piece in pieces:
        before = result[-1] if result else None
        unit = _unit(piece)
        if unit and before is not None and before.number and not before.unit and _fits(before, piece, unit):
            before.unit, before.end = unit, piece.end
            before.text = text[before.start : piece.end]
            continue
        if before is not None and piece.number and not piece.unit and _is_unit_ahead(before, piece):
            piece.unit, piece.start, piece.gap = _unit(before), before.start, before.gap
            piece.text = text[piece.start : piece.end]
            result.pop()
        result.append(piece)
    return result


def _is_unit_ahead(word: Piece, number: Piece) -> bool:
    """MM 25"""
    return _unit(word) in ("in", "mm") and len(word.text) > 1 and number.gap in ("", " ", ".", ". ")


def _unit(piece: Piece) -> str:
    if piece.kind == "sign" and piece.text == '"':
        return "in"
    return piece.meaning.value if piece.topic == "unit" else ""


def _fits(number: Piece, unit_piece: Piece, unit: str) -> bool:
    if unit_piece.gap not in ("", " ", "-", ".", "- "):
        return False
    typed = number.number
    assert typed is not None
    if unit_piece.text in ("IN", "PO"):
        return typed.value <= 12
    return True
