"""Values as a sentence shows them: numbers with the separators of the reader's language, sizes with their inch fraction."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from api.wording.days import day_text, names_day
from api.wording.lengths import MM_DECIMALS, length_text, size_text
from api.wording.record_kinds import file_kind
from api.wording.separators import localized
from api.wording.vocabulary import word_of
from inventory.facts import Fact

Shown = Any
"""A value wrapped so that `format` writes it for the reader."""

Phrase = Callable[[Mapping[str, Shown]], str]
"""A text that depends on the values."""

Sentence = Promise | str | Phrase
"""A text with named places, or a function where the wording depends on the values."""


MOST_DECIMALS = 6
"""As many as lengths are kept with."""
LENGTH = re.compile(r"(?:\.(\d))?mm")


class ShownNumber(float):
    """A number whose format specification may also be one of these.

    `size`: a size in mm, with the inch fraction where it is one; `.2mm`: a length in mm with two decimals; `mm`: with as many as
    it has, two at most; all with inches for whoever chose them; `sig3`: three significant digits without an exponent; `percent`: a share
    in percent with the digits that matter near 100, never rounded up to it; `percent4`: with four significant digits;
    `often`: times a year.
    """

    def __format__(self, spec: str) -> str:
        return _written(float(self), spec) or localized(format(float(self), spec or "g"))


class DecidingNumber(ShownNumber):
    """A number that shows more decimals than its place asks for, where fewer would hide what it decides."""

    decimals = 0

    def __format__(self, spec: str) -> str:
        if written := _length(self, spec, self.decimals):
            return written
        asked, unit = spec[1:-1], spec[-1:]
        if not spec.startswith(".") or not asked.isdigit():
            return super().__format__(spec)
        if unit == "%":
            apart = [n for n in range(int(asked), MOST_DECIMALS) if round(100 * self, n) != 100]
            return super().__format__(f".{apart[0] if apart else asked}%")
        return super().__format__(f".{max(int(asked), self.decimals)}{unit}")


class ShownCount(int):
    def __format__(self, spec: str) -> str:
        return _written(int(self), spec) or localized(format(int(self), spec))


class NotRecorded:
    def __format__(self, spec: str) -> str:
        return _("not recorded")

    def __bool__(self) -> bool:
        return False


class ShownWord(str):
    """A word of the vocabulary with `words`: `stainless_steel` reads as stainless steel; `Words` begins a sentence.

    What the rows of a file are, with `rows`: `opening-hours` reads as opening hours.
    An amount of money, which facts hold as text, with `money`.
    """

    def __format__(self, spec: str) -> str:
        if spec == "money":
            return money(Decimal(self))
        if spec == "rows":
            return file_kind(str(self))
        if spec in ("words", "Words"):
            text = word_of(str(self))
            return text[:1].upper() + text[1:] if spec == "Words" else text
        return super().__format__(spec)


class ShownList(tuple[Any, ...]):
    """Several values, each formatted alike and listed with "and"; with `sentences`, one after the other."""

    def __format__(self, spec: str) -> str:
        if spec == "sentences":
            return " ".join(format(one, "") for one in self)
        return listed([format(one, spec) for one in self])


def filled(template: Promise | str, **phrases: Phrase) -> Phrase:
    """A template some places of which are phrases made from several values."""

    def sentence(values: Mapping[str, Shown]) -> str:
        made = {name: phrase(values) for name, phrase in phrases.items()}
        return str(template).format_map({**values, **made})

    return sentence


def with_enough_decimals(template: Promise | str, one: str, other: str = "", *equally: str) -> Phrase:
    """A template in which two numbers, and others with them, show the decimals by which the two differ.

    Of one number alone, the decimals by which it differs from nothing.
    """

    def sentence(values: Mapping[str, Shown]) -> str:
        names = [name for name in (one, other, *equally) if name]
        decimals = decimals_apart(values[one], values[other] if other else 0.0)
        shown_so = {name: with_decimals(values[name], decimals) for name in names}
        return str(template).format_map({**values, **shown_so})

    return sentence


def decimals_apart(one: float, other: float) -> int:
    """How many decimals tell two numbers apart; 0 where they are equal."""
    difference = round(abs(one - other), MOST_DECIMALS)
    return next((n for n in range(MOST_DECIMALS + 1) if difference >= 10**-n), 0)


def with_decimals(value: float, decimals: int) -> DecidingNumber:
    number = DecidingNumber(value)
    number.decimals = decimals
    return number


def counted(text: Any, number: str = "count") -> Phrase:
    """`ngettext_lazy` takes the plural form from the value of that name."""
    return lambda values: str(text.format(**{number: values[number], **values}))


def shown(value: Any, sentence: Callable[[Fact], str], name: str = "") -> Shown:
    match value:
        case bool() | Mapping():
            return value
        case None:
            return NotRecorded()
        case int():
            return ShownCount(value)
        case float() | Decimal():
            return ShownNumber(value)
        case str():
            return ShownWord(day_text(value) if names_day(name) else value)
        case Fact():
            return ShownWord(sentence(value))
        case tuple():
            return ShownList(shown(one, sentence) for one in value)
    raise TypeError(f"a value of {type(value).__name__} has no wording")


def listed(words: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(words) < 2:
        return "".join(words)
    return _("{first} and {last}").format(first=", ".join(words[:-1]), last=words[-1])


def _length(mm: float, spec: str, least_decimals: int = 0) -> str | None:
    if spec == "size":
        return size_text(mm, max(MM_DECIMALS, least_decimals))
    found = LENGTH.fullmatch(spec)
    if found is None:
        return None
    return length_text(mm, int(found[1]) if found[1] else None, least=least_decimals)


def _written(value: float, spec: str) -> str | None:
    if length := _length(value, spec):
        return length
    if spec == "often":
        return how_often(value)
    if spec.endswith("%"):
        return localized(format(float(value), spec).removesuffix("%")) + " %"
    if spec.startswith("sig"):
        return localized(_significant(value, int(spec[3:])))
    if spec.startswith("percent"):
        digits = spec.removeprefix("percent")
        return localized(_significant(100 * value, int(digits)) if digits else _near_hundred(value)) + " %"
    return None


def money(amount: Decimal) -> str:
    """Whole units from ten up, and where there is nothing.

    >>> money(Decimal("340.20")), money(Decimal("7.20")), money(Decimal(0)), money(Decimal(-51))
    ('340', '7.20', '0', '−51')
    """
    text = f"{amount:,.0f}" if abs(amount) >= 10 or not amount else f"{amount:,.2f}"
    return localized(text).replace("-", "−")


RAREST_SHOWN = 1e-3
"""Shortages rarer than this [a year] are not put into years: no demand is known that well."""


def how_often(times_per_year: float) -> str:
    """As it is said.

    >>> how_often(0.11), how_often(1.2), how_often(3)
    ('about once in 9.1 years', 'about once a year', 'about 3 times a year')
    """
    if times_per_year < RAREST_SHOWN:
        return _("less than once in {years} years").format(years=localized(f"{1 / RAREST_SHOWN:,.0f}"))
    if times_per_year <= 1 / 1.5:
        return _("about once in {years} years").format(years=localized(_significant(1 / times_per_year, 2)))
    if times_per_year < 1.5:
        return _("about once a year")
    return _("about {times} times a year").format(times=localized(_significant(times_per_year, 2)))


def _significant(value: float, digits: int) -> str:
    return f"{Decimal(format(float(value), f'.{digits}g')):,f}"


def _near_hundred(share: float) -> str:
    percent = 100 * share
    for digits in range(1, 9):
        text = f"{percent:.{digits}f}"
        if share >= 1 or not text.startswith("100"):
            return f"{float(text):g}" if digits == 1 else text
    return text
