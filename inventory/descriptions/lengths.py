"""Lengths as they are typed: whole, decimal with point or comma, and fractions of an inch."""

import re
from dataclasses import dataclass
from fractions import Fraction

from inventory.standards.sizes import MM_PER_INCH

VULGAR = {
    "½": Fraction(1, 2),
    "¼": Fraction(1, 4),
    "¾": Fraction(3, 4),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
}
PARTS_OF_AN_INCH = frozenset({2, 4, 8, 16, 32, 64})
MIXED = re.compile(
    r"([0-9])(?:\s?[-.+]\s?|\s)([0-9]{1,2})/([0-9]{1,2})(?![0-9/]|-(?:9|1[0-8]|20|24|28|32)(?![0-9/]))|([0-9])[ -]?([½¼¾⅛⅜⅝⅞])"
)
MARKED_MIXED = re.compile(
    r"([0-9])\"\s?-?\s?([0-9]{1,2})/([0-9]{1,2})(?![0-9/]|-[0-9])"
    r"(?!\s?(?:\"|X|K[EWS/]|NUT|RAIN|CAVA|CHAV|CHIAV|LING|S[ESQ]|GRUB))"
)
"""1" 1/4 with the mark inside; of 1" 1/4 KW the second is the key."""
FRACTION = re.compile(r"([0-9]{1,2})/([0-9]{1,2})(?![0-9/])|([½¼¾⅛⅜⅝⅞])")
DECIMAL = re.compile(r"([0-9]{0,4})([.,])([0-9]{1,6})(?![0-9])")
TEETH_FOLLOW = re.compile(r"\s?(?:T|Z|TEETH|TH)\b(?!\s?[=.:]?\s?[0-9])")
INTEGER = re.compile(r"[0-9]+")


@dataclass(frozen=True, slots=True)
class TypedNumber:
    """A number with the way it was typed: `integer`, `decimal`, `fraction` or `mixed`."""

    value: Fraction
    form: str
    digits: str

    @property
    def is_fraction(self) -> bool:
        return self.form in ("fraction", "mixed")

    @property
    def whole(self) -> int | None:
        return int(self.value) if self.form == "integer" else None


def _inch_part(top: str, bottom: str) -> Fraction | None:
    """A proper fraction of an inch in lowest halves, quarters … sixty-fourths."""
    if int(bottom) not in PARTS_OF_AN_INCH or not 0 < int(top) < int(bottom):
        return None
    return Fraction(int(top), int(bottom))


def read_number(text: str, at: int) -> tuple[TypedNumber, int] | None:
    """The longest number that begins at this place, and where it ends."""
    if match := MIXED.match(text, at):
        whole, top, bottom, whole_before, vulgar = match.groups()
        part = VULGAR[vulgar] if vulgar else _inch_part(top, bottom)
        whole = whole_before if vulgar else whole
        if part is not None and whole != "0":
            return TypedNumber(int(whole) + part, "mixed", match[0]), match.end()
    if (
        (match := MARKED_MIXED.match(text, at))
        and (part := _inch_part(match[2], match[3]))
        and match[1] != "0"
    ):
        return TypedNumber(int(match[1]) + part, "mixed", match[0]), match.end()
    if match := FRACTION.match(text, at):
        top, bottom, vulgar = match.groups()
        part = VULGAR[vulgar] if vulgar else _inch_part(top, bottom)
        if part is not None:
            return TypedNumber(part, "fraction", match[0]), match.end()
    if match := DECIMAL.match(text, at):
        whole, point, decimals = match.groups()
        is_list = point == "," and TEETH_FOLLOW.match(text, match.end()) is not None
        if (whole or len(decimals) > 1) and not is_list:
            return TypedNumber(Fraction(f"{whole or 0}.{decimals}"), "decimal", match[0]), match.end()
    return whole_number(text, at)


def whole_number(text: str, at: int) -> tuple[TypedNumber, int] | None:
    match = INTEGER.match(text, at)
    return (TypedNumber(Fraction(int(match[0])), "integer", match[0]), match.end()) if match else None


def in_mm(value: Fraction, unit: str) -> float:
    """
    >>> in_mm(Fraction(23, 16), "in")
    36.5125
    """
    factor = {"in": Fraction(str(MM_PER_INCH)), "cm": Fraction(10), "mm": Fraction(1)}[unit]
    return float(value * factor)


def inch_text(value: Fraction) -> str:
    """1-7/16 for 23/16."""
    whole, part = divmod(value, 1)
    if not part:
        return str(whole)
    return f"{whole}-{part}" if whole else str(part)
