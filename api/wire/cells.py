"""One cell to one value. Whatever could mean two things is refused with the question it raises."""

import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from api.edge import parsing
from api.edge.csv_writing import as_written
from api.edge.lengths import Plausible
from api.edge.parsing import closest
from inventory.facts import Refusal, fact
from inventory.standards.sizes import inches_to_mm


class CellRefused(Refusal):
    """One cell cannot be understood, or raises a question that only the sender can answer."""


@dataclass(frozen=True)
class Formula:
    """A cell of a spreadsheet that computes its content."""

    text: str


Cell = str | int | Decimal | bool | datetime | date | time | list[object] | Formula | None
"""What a reader hands over; CSV gives text alone, spreadsheets and JSON also numbers, booleans and dates."""

NUMBER = re.compile(r"[+-]?[0-9]{1,30}(\.[0-9]{1,30})?")
GROUPED = re.compile(r"[+-]?[0-9]{1,3}([,.'’   ][0-9]{3})+([.,][0-9]+)?")
COMMA_DECIMAL = re.compile(r"[+-]?[0-9]+,[0-9]+")
COMMA_AMBIGUOUS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
POINT_AMBIGUOUS = re.compile(r"[+-]?[1-9][0-9]{0,2}\.[0-9]{3}")
EXPONENT = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?[eE][+-]?[0-9]+")
MILLIMETRES = re.compile(r"(?P<number>.*[0-9])\s*mm")
INCHES = re.compile(r"[0-9., /-]*[0-9]\s*(in|in\.|inch|inches|\"|″|”|'')|[0-9. -]*[0-9]+/[0-9]+")
MONTHS = "jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez"
DATE_IN_DISGUISE = re.compile(
    rf"([0-9]{{1,2}}[-. ]{{1,2}}({MONTHS})([-. ][0-9]{{2,4}})?|({MONTHS})[-. ][0-9]{{2,4}}"
    r"|(19|20)[0-9]{2}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])([ T]00:00(:00)?)?"
    r"|(0?[1-9]|[12][0-9]|3[01])[/.](0?[1-9]|[12][0-9]|3[01])[/.](19|20)[0-9]{2})",
    re.IGNORECASE,
)
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
HOUR = re.compile(r"[0-9]{2}:[0-9]{2}(:[0-9]{2})?")
LONGEST_NUMBER = 60
EARLIEST_YEAR, LATEST_YEAR = 1900, 2200
TRUE, FALSE = {"true", "yes"}, {"false", "no"}


def is_empty(cell: Cell) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def shown(cell: Cell) -> str:
    """The cell as it is quoted: short, and with nothing that could break a line."""
    text = cell.text if isinstance(cell, Formula) else str(cell)
    text = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
    return f"{text[:60]}…" if len(text) > 60 else text


def refuse_formula(cell: Cell) -> None:
    if isinstance(cell, Formula):
        raise CellRefused(fact("cell_is_formula", cell=shown(cell)))


@dataclass(frozen=True)
class Text:
    """Free words, kept to the byte."""

    longest: int | None = None
    lines: bool = False

    def __call__(self, cell: Cell) -> str:
        refuse_formula(cell)
        if not isinstance(cell, str | int | Decimal) or isinstance(cell, bool):
            raise CellRefused(fact("cell_not_text", cell=shown(cell)))
        text = cell if isinstance(cell, str) else format(Decimal(cell), "f")
        text = as_written(text)
        allowed = "\n\r\t" if self.lines else "\t"
        for character in "" if text.isprintable() else text:
            if not character.isprintable() and unicodedata.category(character) in {"Cc", "Cs"}:
                if character in allowed:
                    continue
                raise CellRefused(fact("cell_has_control_character", character=f"U+{ord(character):04X}"))
        if self.longest is not None and len(text) > self.longest:
            raise CellRefused(fact("cell_too_long", length=len(text), most=self.longest))
        return text


LOOK_LIKE_LATIN = dict(
    zip("АВЕЅІЈКМНОРСТУХаеіјорсухΑΒΕΖΗΙΚΜΝΟΡΤΥΧο", "ABESIJKMHOPCTYXaeijopcyxABEZHIKMNOPTYXo", strict=True)
)
"""Letters of the Cyrillic and the Greek alphabet that are drawn as Latin ones. Source: Unicode Technical Standard 39, from memory."""


def foreign_letter(key: str) -> str:
    """A letter of another alphabet that looks like a Latin one, in a key that has Latin letters too; else nothing."""
    if key.isascii() or not any("a" <= letter.lower() <= "z" for letter in key):
        return ""
    return next((letter for letter in key if letter in LOOK_LIKE_LATIN), "")


ENDS_OF_ADDRESSES = ("movements", "stock", "substitutes", "substitute-pairs", "exposure")
PART_OF_KEY = r"(?!\.{1,2}(?:/|$))[^/\x00-\x1f\x7f]+"
KEY = rf"^(?!.*/(?:{'|'.join(ENDS_OF_ADDRESSES)})$){PART_OF_KEY}(?:/{PART_OF_KEY})*$"
"""A tag or number that stands in addresses: with slashes, but with no part that is empty, `.`, `..` or an end of an address."""


@dataclass(frozen=True)
class Designation:
    """A short name of the trade, such as 08B or 1610; a number in a spreadsheet is taken as it reads."""

    longest: int
    words_only: bool = False
    is_key: bool = False

    def __call__(self, cell: Cell) -> str:
        if isinstance(cell, datetime | date) or (
            isinstance(cell, str) and DATE_IN_DISGUISE.fullmatch(cell.strip())
        ):
            raise CellRefused(fact("code_turned_into_date", cell=shown(cell)))
        if isinstance(cell, str) and EXPONENT.fullmatch(cell.strip()) and "+" in cell:
            raise CellRefused(fact("code_turned_into_number", cell=shown(cell)))
        code = Text(self.longest)(cell).strip()
        is_plain = code.isascii() and code.isprintable()
        code = code if is_plain else unicodedata.normalize("NFC", code)
        if not is_plain and any(unicodedata.category(c) in {"Cf", "Zl", "Zp"} or c == "\t" for c in code):
            raise CellRefused(fact("code_has_invisible_character", cell=shown(code)))
        if self.words_only and not re.fullmatch(r"[A-Za-z0-9_-]+", code):
            raise CellRefused(fact("code_has_forbidden_character", cell=shown(code)))
        if self.is_key and (foreign := foreign_letter(code)):
            raise CellRefused(
                fact(
                    "code_mixes_alphabets",
                    cell=shown(code),
                    letter=foreign,
                    looks_like=LOOK_LIKE_LATIN[foreign],
                )
            )
        if self.is_key and code and not re.match(KEY, code):
            raise CellRefused(fact("key_without_address", cell=shown(code)))
        return code


@dataclass(frozen=True)
class Code(Designation):
    """A number of the plant's own, where a lost leading zero would name another thing."""

    def __call__(self, cell: Cell) -> str:
        if isinstance(cell, int | Decimal) and not isinstance(cell, bool):
            raise CellRefused(fact("code_is_number", cell=shown(str(cell))))
        return super().__call__(cell)


def decimal_of(cell: Cell) -> Decimal:
    """A number written out in ASCII digits, with a point or an unmistakable decimal comma."""
    refuse_formula(cell)
    if isinstance(cell, bool) or not isinstance(cell, str | int | Decimal):
        raise CellRefused(fact("cell_not_number", cell=shown(cell)))
    if not isinstance(cell, str):
        return bounded(Decimal(cell))
    text = short(cell)
    if COMMA_AMBIGUOUS.fullmatch(text):
        point, none = text.replace(",", "."), text.replace(",", "")
        raise CellRefused(fact("number_ambiguous", cell=shown(text), first=point, second=none))
    if COMMA_DECIMAL.fullmatch(text):
        text = text.replace(",", ".")
    if NUMBER.fullmatch(text):
        return bounded(Decimal(text))
    if GROUPED.fullmatch(text):
        raise CellRefused(fact("number_has_separators", cell=shown(text)))
    if EXPONENT.fullmatch(text):
        raise CellRefused(fact("number_has_exponent", cell=shown(text)))
    raise CellRefused(fact("cell_not_number", cell=shown(text)))


def short(cell: str) -> str:
    text = cell.strip()
    if len(text) > LONGEST_NUMBER:
        raise CellRefused(fact("number_too_long", cell=shown(text), length=len(text)))
    return text


def bounded(number: Decimal) -> Decimal:
    if not number.is_finite() or (number and not -20 <= number.adjusted() <= 20):
        raise CellRefused(fact("number_far_too_large_or_small", cell=shown(str(number))))
    return number or Decimal(0)


def with_point(cell: Cell) -> Cell:
    """A number out of a file that writes decimal commas, with a point; asks where a point could part thousands."""
    if not isinstance(cell, str):
        return cell
    text = cell.strip()
    if POINT_AMBIGUOUS.fullmatch(text):
        comma, none = text.replace(".", ","), text.replace(".", "")
        raise CellRefused(fact("number_ambiguous_beside_commas", cell=shown(text), first=comma, second=none))
    return text.replace(",", ".") if COMMA_DECIMAL.fullmatch(text) else cell


def refuse_out_of_range(number: Decimal, cell: Cell, low: Decimal | int, high: Decimal | int) -> None:
    if not low <= number <= high:
        raise CellRefused(
            fact("number_out_of_range", cell=shown(cell), least=float(low), greatest=float(high))
        )


@dataclass(frozen=True)
class Number:
    places: int
    low: Decimal
    high: Decimal

    def __call__(self, cell: Cell) -> Decimal:
        return self.fit(decimal_of(cell), cell)

    def fit(self, number: Decimal, cell: Cell) -> Decimal:
        if number != round(number, self.places):
            raise CellRefused(fact("number_has_too_many_decimals", cell=shown(cell), decimals=self.places))
        refuse_out_of_range(number, cell, self.low, self.high)
        return round(number, self.places)


@dataclass(frozen=True)
class Whole:
    low: int
    high: int

    def __call__(self, cell: Cell) -> int:
        number = decimal_of(cell)
        if number != int(number):
            raise CellRefused(fact("number_not_whole", cell=shown(cell)))
        refuse_out_of_range(number, cell, self.low, self.high)
        return int(number)


@dataclass(frozen=True)
class LengthMm(Number):
    """A length in millimetres; inches only where the cell says so, and a question where they are likely."""

    plausible: Plausible | None = None

    def __call__(self, cell: Cell) -> Decimal:
        if not isinstance(cell, str):
            return self.ask(decimal_of(cell), cell)
        text = short(cell)
        stated = MILLIMETRES.fullmatch(text)
        if stated:
            return self.fit(decimal_of(stated["number"]), cell)
        if not INCHES.fullmatch(text):
            return self.ask(decimal_of(text), cell)
        try:
            return self.fit(inches_to_mm(text), cell)
        except ValueError as error:
            raise CellRefused(fact("size_not_clear", cell=shown(text))) from error

    def ask(self, number: Decimal, cell: Cell) -> Decimal:
        number = self.fit(number, cell)
        question = self.plausible.question(number) if self.plausible else None
        if question:
            raise CellRefused(question)
        return number


@dataclass(frozen=True)
class Word:
    words: tuple[str, ...]

    def __call__(self, cell: Cell) -> str:
        text = Text()(cell).strip()
        if text in self.words:
            return text
        allowed = ", ".join(word for word in self.words if word)
        raise CellRefused(fact("word_not_in_list", cell=shown(text), allowed=allowed, suggestion=None))


@dataclass(frozen=True)
class Words:
    """Several words of a vocabulary in one cell, with ';' between them."""

    words: tuple[str, ...]

    def __call__(self, cell: Cell) -> list[str]:
        parts = cell if isinstance(cell, list) else Text()(cell).split(";")
        found = [Text()(part).strip() if isinstance(part, str) else "" for part in parts]
        unknown = [word for word in found if word not in self.words]
        if unknown:
            suggestion, allowed = closest(unknown[0], self.words), ", ".join(self.words)
            raise CellRefused(
                fact("word_not_in_list", cell=shown(unknown[0]), allowed=allowed, suggestion=suggestion)
            )
        return list(dict.fromkeys(found))


def boolean(cell: Cell) -> bool:
    if isinstance(cell, bool):
        return cell
    text = Text()(cell).strip().lower()
    if text not in TRUE | FALSE:
        raise CellRefused(fact("cell_not_true_or_false", cell=shown(text)))
    return text in TRUE


def moment(cell: Cell) -> datetime:
    """A moment in time as RFC 3339 writes it, with its offset from UTC."""
    if isinstance(cell, datetime | date):
        raise CellRefused(fact("cell_without_offset", cell=shown(cell), day=f"{cell:%Y-%m-%d}"))
    text = Text()(cell).strip()
    found = parsing.moment(text)
    if found is None:
        raise CellRefused(fact("cell_not_moment", cell=shown(text)))
    within_calendar(found.year, text)
    return found


def day(cell: Cell) -> date:
    if isinstance(cell, datetime) and cell.time() == time(0):
        return cell.date()
    if isinstance(cell, date) and not isinstance(cell, datetime):
        return cell
    text = Text()(cell).strip() if not isinstance(cell, datetime) else str(cell)
    if not DAY.fullmatch(text):
        raise CellRefused(fact("cell_not_date", cell=shown(text)))
    try:
        found = date.fromisoformat(text)
    except ValueError as error:
        raise CellRefused(fact("date_not_in_calendar", cell=shown(text))) from error
    within_calendar(found.year, text)
    return found


def within_calendar(year: int, text: str) -> None:
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise CellRefused(
            fact("year_out_of_range", cell=shown(text), least=EARLIEST_YEAR, greatest=LATEST_YEAR)
        )


def hour(cell: Cell) -> time:
    if isinstance(cell, time):
        return cell
    if isinstance(cell, timedelta):
        raise CellRefused(fact("cell_is_duration", cell=shown(str(cell))))
    text = Text()(cell).strip()
    try:
        if HOUR.fullmatch(text):
            return time.fromisoformat(text)
    except ValueError:
        pass
    raise CellRefused(fact("cell_not_time", cell=shown(text)))


def timezone(cell: Cell) -> str:
    name = Text(40)(cell).strip()
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise CellRefused(fact("cell_not_time_zone", cell=shown(name))) from error
    return name


def currency(cell: Cell) -> str:
    code = Text()(cell).strip()
    if not re.fullmatch(r"[A-Z]{3}", code):
        raise CellRefused(fact("cell_not_currency", cell=shown(code)))
    return code
