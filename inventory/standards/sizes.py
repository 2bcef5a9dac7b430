"""Nominal sizes: inch fractions and decimals read exactly, and when two sizes are the same one."""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from inventory.number_checks import positive

Unit = Literal["mm", "in"]

MM_PER_INCH = 25.4
"""Exact by the definition of the inch of 1959."""

SAME_NOMINAL_TOLERANCE_MM = 0.006
"""Accepts sizes rounded to two decimals (15.88 for 15.875) and still separates the closest standard
pair, 100 mm and 3 15/16 in (100.0125 mm). Computed; sizes rounded to one decimal are not accepted."""

FLOAT_SLACK_MM = 1e-9
"""Room for binary rounding when a difference lies exactly on a tolerance."""

STORED_DECIMALS = 6
"""Decimals that hold every sixty-fourth of an inch: 1/64 in is 0.396875 mm."""

_INCH = Decimal("25.4")
_LARGEST_DENOMINATOR = 64
_DECIMALS_OF_AN_INCH_SIZE = 3
_UNITS: dict[str, Unit] = {
    "mm": "mm", "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in", "''": "in",
}  # fmt: skip
_SIZE = re.compile(r"(?P<number>[\d.,/\s-]*\d)\s*(?P<unit>mm|inches|inch|in\.?|\"|″|”|'')?", re.IGNORECASE)
_FRACTION = re.compile(r"(?:(?P<whole>\d+)(?:\s*-\s*|\s+|\.))?(?P<over>\d+)/(?P<under>\d+)")
_DECIMAL = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+")


@dataclass(frozen=True, slots=True)
class Size:
    """A length read from text: exact millimetres, the unit it was meant in, and the text as typed."""

    mm: Decimal
    unit: Unit
    text: str

    @property
    def is_odd_sixty_fourth(self) -> bool:
        """Whether it is a sixty-fourth that is no thirty-second: not a standard bore, so worth a warning."""
        parts = self.mm * 64 / _INCH
        return self.unit == "in" and parts == parts.to_integral_value() and parts % 2 == 1


def _exact(inches: Decimal) -> Decimal:
    """Inches in millimetres, without trailing zeros."""
    mm = inches * _INCH
    return mm.quantize(Decimal(1)) if mm == mm.to_integral_value() else mm.normalize()


def _refused(text: str, reason: str) -> ValueError:
    return ValueError(
        f"`text` must be one clear size such as '25 mm' or '1 15/16 in', got {text!r}: {reason}"
    )


def _inches_of_fraction(match: re.Match[str], text: str) -> Decimal:
    over, under = int(match["over"]), int(match["under"])
    if under not in (2, 4, 8, 16, 32, _LARGEST_DENOMINATOR) or not 0 < over < under:
        raise _refused(text, "a fraction is below one and in halves to sixty-fourths")
    return Decimal(int(match["whole"] or 0)) + Decimal(over) / Decimal(under)


def _is_sixty_fourths(inches: Decimal) -> bool:
    parts = inches * _LARGEST_DENOMINATOR
    return parts == parts.to_integral_value()


def _unit_of_bare_decimal(value: Decimal, text: str) -> Unit:
    """The only unit in which a bare decimal is a sixty-fourth of an inch, spelt out far enough."""
    exponent = value.as_tuple().exponent
    decimals = -exponent if isinstance(exponent, int) else 0
    as_inches = decimals >= _DECIMALS_OF_AN_INCH_SIZE and _is_sixty_fourths(value)
    as_mm = decimals > 0 and _is_sixty_fourths(value / _INCH)
    if as_inches == as_mm:
        raise _refused(text, "give the unit, it could be millimetres or inches")
    return "in" if as_inches else "mm"


def parse_size(text: str, *, unit: Unit | None = None) -> Size:
    """A length from text, exactly.

    Parameters
    ----------
    text : str
        ``1-15/16``, ``1 15/16``, ``1.15/16``, ``1.9375``, ``49,2125``, with or without ``mm``, ``in`` or ``"``.
        A fraction is always inches.
    unit : {'mm', 'in'}, optional
        Unit of a number without one. Left out, a bare number is read only where one unit makes sense.

    Returns
    -------
    Size
        Millimetres as an exact decimal, the unit, and the text as typed.

    Raises
    ------
    ValueError
        If the text is no size, is zero, or could mean two sizes.

    Source
    ------
    1 in = 25.4 mm exactly; notations as found in bush and sprocket lists.

    Examples
    --------
    >>> parse_size("1-15/16").mm
    Decimal('49.2125')
    """
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise _refused(text, "it is not a number with an optional unit")
    number, stated = found["number"].strip(), _UNITS.get((found["unit"] or "").lower())
    fraction = _FRACTION.fullmatch(number)
    if fraction is not None:
        if stated == "mm":
            raise _refused(text, "a fraction is read in inches only")
        return Size(mm=_exact(_inches_of_fraction(fraction, text)), unit="in", text=text)
    if not _DECIMAL.fullmatch(number):
        raise _refused(text, "it is neither a decimal nor a fraction")
    value = Decimal(number.replace(",", "."))
    if value <= 0:
        raise _refused(text, "a size is above zero")
    meant = stated or unit or _unit_of_bare_decimal(value, text)
    return Size(mm=_exact(value) if meant == "in" else value, unit=meant, text=text)


def same_nominal(a_mm: float | Decimal, b_mm: float | Decimal) -> bool:
    """Whether two sizes are the same nominal size.

    Parameters
    ----------
    a_mm, b_mm : float or Decimal
        Sizes [mm], above zero.

    Returns
    -------
    bool
        True if they differ by no more than 0.006 mm.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero.

    Source
    ------
    Computed from exact inch fractions; see `SAME_NOMINAL_TOLERANCE_MM`.

    Examples
    --------
    >>> same_nominal(15.88, 15.875), same_nominal(100, 100.0125)
    (True, False)
    """
    gap = abs(positive("a_mm", float(a_mm)) - positive("b_mm", float(b_mm)))
    return gap <= SAME_NOMINAL_TOLERANCE_MM + FLOAT_SLACK_MM


def inch_text(mm: float | Decimal) -> str | None:
    """The size as an inch fraction, where it is one.

    Parameters
    ----------
    mm : float or Decimal
        Size [mm], above zero.

    Returns
    -------
    str or None
        For example ``'1 15/16 in'``; None where the size is no exact sixty-fourth of an inch.

    Raises
    ------
    ValueError
        If the size is not a finite number above zero.

    Source
    ------
    1 in = 25.4 mm exactly.

    Examples
    --------
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
