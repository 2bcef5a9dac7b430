"""Capitals without accents, one character for one, so that every position in the folded line is one of the typed line."""

import re
import unicodedata
from functools import cache

_SPECIAL = {
    **dict.fromkeys("“”„″‟〞", '"'),
    **dict.fromkeys("‘’‚′´`‛", "'"),
    **dict.fromkeys("×✕✖⨯", "X"),
    **dict.fromkeys("–—−‐‑‒", "-"),
    **dict.fromkeys("⌀∅ΦφϕØø", "Ø"),
    **dict.fromkeys("\u00a0\u2007\u2009\u202f\u200a\u200b\t\r\n", " "),
    **dict.fromkeys("⁄∕", "/"),
    **dict.fromkeys("ºª", "°"),
    "ß": "ß",
}
_ZERO = re.compile(
    r"(?<![A-Z0-9])O(?=[0-9])|(?<=[0-9])O(?!\.?D)(?=[0-9O]|[ABCHTZX](?![A-Z])|TEETH|MM|[^A-Z0-9]|$)"
)
"""The letter O where only the digit makes sense: O8B-1, 6OB18, 2OT."""


@cache
def _table() -> dict[int, str]:
    table = {}
    for code in range(0x21, 0x250):
        base = unicodedata.normalize("NFD", chr(code))[0].upper()
        table[code] = base if len(base) == 1 else chr(code)
    return table | {ord(character): plain for character, plain in _SPECIAL.items()}


def folded(text: str) -> str:
    """As long as the text: capitals, no accents, one kind of dash, quote and multiplication sign, zeros for O in numbers.

    >>> folded("Zähne ½ × O8b")
    'ZAHNE ½ X 08B'
    """
    plain = text.translate(_table())
    plain = plain.replace("''", '" ')
    return _ZERO.sub("0", _ZERO.sub("0", plain)) if "O" in plain else plain


def composed(text: str) -> tuple[str, tuple[int, ...] | None]:
    """Letters and their accents as one character each, and where each began in the text; None where nothing was joined."""
    if unicodedata.is_normalized("NFC", text):
        return text, None
    letters: list[str] = []
    begins: list[int] = []
    for at, character in enumerate(text):
        joined = unicodedata.normalize("NFC", letters[-1] + character) if letters else character
        if letters and unicodedata.combining(character) and len(joined) == 1:
            letters[-1] = joined
        else:
            letters.append(character)
            begins.append(at)
    return "".join(letters), (*begins, len(text))


def key_of(word: str) -> str:
    """A folded word as the lexicon holds it: letters only, combining accents dropped."""
    return "".join(character for character in word if character.isalpha()).replace("ß", "SS")


def spellings(word: str) -> set[str]:
    """Each way to type a word with capitals: Zähne is ZAHNE or ZAEHNE, Maß is MASS or MAS."""
    upper = word.replace("ß", "ẞ").upper()
    two = upper.translate({ord("Ä"): "AE", ord("Ö"): "OE", ord("Ü"): "UE", ord("ẞ"): "SS"})
    return {folded(form) for form in (upper.replace("ẞ", "SS"), two)}
