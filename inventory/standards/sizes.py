"""Nominal sizes: inches read and written exactly, and when two sizes are the same one."""

import re
from decimal import Decimal
from fractions import Fraction

from inventory.number_checks import positive

MM_PER_INCH = 25.4
"""Exact by the definition of the inch of 1959."""

SAME_NOMINAL_TOLERANCE_MM = 0.006
"""Accepts sizes rounded to two decimals (15.88 for 15.875) and still separates the closest standard
pair, 100 mm and 3 15/16 in (100.0125 mm). Computed; sizes rounded to one decimal are not accepted."""

STORED_DECIMALS = 6
"""Decimals that hold every sixty-fourth of an inch: 1/64 in is 0.396875 mm. Differences are rounded to them before they
are compared with a tolerance."""

_INCH = Decimal("25.4")
_LARGEST_DENOMINATOR = 64
_SIZE = re.compile(r"(?P<number>[\d.,/\s-]*\d)\s*(?:inches|inch|in\.?|\"|″|”|'')?", re.IGNORECASE)
_FRACTION = re.compile(r"(?:(?P<whole>\d+)(?:\s*-\s*|\s+|\.))?(?P<over>\d+)/(?P<under>\d+)")
_DECIMAL = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+")


def inches_to_mm(text: str) -> Decimal:
    """Millimetres of a size in inches, exactly, as bush and sprocket lists write it: 1-15/16, 1 15/16, 1.15/16, 1.9375 in.

    >>> inches_to_mm("1-15/16")
    Decimal('49.2125')
    """
    found = _SIZE.fullmatch(text.strip())
    number = found["number"].strip() if found else ""
    fraction = _FRACTION.fullmatch(number)
    if fraction is None and not _DECIMAL.fullmatch(number):
        raise _refused(text, "it is neither a decimal nor a fraction")
    inches = Decimal(number.replace(",", ".")) if fraction is None else _inches_of_fraction(fraction, text)
    if inches <= 0:
        raise _refused(text, "a size is above zero")
    mm = inches * _INCH
    return mm.quantize(Decimal(1)) if mm == mm.to_integral_value() else mm.normalize()


def _inches_of_fraction(match: re.Match[str], text: str) -> Decimal:
    over, under = int(match["over"]), int(match["under"])
    if under not in (2, 4, 8, 16, 32, _LARGEST_DENOMINATOR) or not 0 < over < under:
        raise _refused(text, "a fraction is below one and in halves to sixty-fourths")
    return Decimal(int(match["whole"] or 0)) + Decimal(over) / Decimal(under)


def _refused(text: str, reason: str) -> ValueError:
    return ValueError(f"`text` must be one clear size such as '1 15/16 in', not {text!r}: {reason}.")


def apart_mm(one_mm: float, other_mm: float) -> float:
    """How far two sizes are apart, as it is compared with a tolerance."""
    return round(abs(one_mm - other_mm), STORED_DECIMALS)


def same_nominal(
    a_mm: float | Decimal, b_mm: float | Decimal, tolerance_mm: float = SAME_NOMINAL_TOLERANCE_MM
) -> bool:
    """Whether two sizes differ by no more than rounding.

    >>> same_nominal(15.88, 15.875), same_nominal(100, 100.0125)
    (True, False)
    """
    return apart_mm(float(a_mm), float(b_mm)) <= tolerance_mm


def inch_text(mm: float | Decimal) -> str | None:
    """The size as an inch fraction, None where it is no exact sixty-fourth of an inch.

    >>> inch_text(49.2125), inch_text(50)
    ('1 15/16 in', None)
    """
    exact = round(Decimal(str(positive("mm", float(mm)))), STORED_DECIMALS)
    inches = Fraction(exact) / Fraction(_INCH)
    if _LARGEST_DENOMINATOR % inches.denominator:
        return None
    whole, over = divmod(inches.numerator, inches.denominator)
    parts = [str(whole)] if whole else []
    parts += [f"{over}/{inches.denominator}"] if over else []
    return f"{' '.join(parts)} in"
