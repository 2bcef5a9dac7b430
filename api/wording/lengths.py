"""Lengths as a reader has them: in millimetres, and in inches too where they are inch sizes or the reader chose inches.

Never in inches alone: 25 mm is not 1 in.
"""

from contextvars import ContextVar
from math import floor, log10

from api.wording.separators import localized
from inventory.standards.sizes import MM_PER_INCH, inch_text

inches_first = ContextVar("inches_first", default=False)
"""Whether whoever reads has chosen inches."""

INCH_DECIMALS = 3
"""0.001 in is 0.025 mm: as fine as a caliper reads."""
MM_DECIMALS = 2


def mm_text(mm: float, decimals: int = MM_DECIMALS) -> str:
    """At most so many decimals, more only where nothing would be left of a small length.

    >>> mm_text(49.2125), mm_text(25.0), mm_text(0.015, 1)
    ('49.21', '25', '0.015')
    """
    least = 1 - floor(log10(abs(mm))) if mm else 0
    text = f"{float(mm):.{max(decimals, least)}f}"
    return localized(text.rstrip("0").rstrip(".") if "." in text else text)


def inch_decimals(mm: float, decimals: int = INCH_DECIMALS) -> str:
    return localized(f"{float(mm) / MM_PER_INCH:.{decimals}f}")


def size_text(mm: float, decimals: int = MM_DECIMALS) -> str:
    """A size that has a name: `25 mm`, `1 15/16 in (49.21 mm)`."""
    fraction = inch_text(float(mm))
    if fraction is None and inches_first.get():
        fraction = f"{inch_decimals(mm, max(decimals + 1, INCH_DECIMALS))} in"
    written = f"{mm_text(mm, decimals)} mm"
    return f"{fraction} ({written})" if fraction else written


def length_text(mm: float, decimals: int | None = None, *, least: int = 0) -> str:
    """A measured or calculated length, `8.50 mm` with two decimals, else `8.5 mm`; or `0.335 in (8.50 mm)`."""
    most = max(MM_DECIMALS if decimals is None else decimals, least)
    number = mm_text(mm, most) if decimals is None else localized(f"{float(mm):.{most}f}")
    if not inches_first.get():
        return f"{number} mm"
    return f"{inch_decimals(mm, max(most + 1, INCH_DECIMALS))} in ({number} mm)"


def sizes_text(one_mm: float, other_mm: float) -> str:
    """Two sizes of one section, the unit once: `8 × 7 mm`, `1/4 × 1/4 in (6.35 × 6.35 mm)`."""
    sizes_mm = (one_mm, other_mm)
    written = f"{' × '.join(mm_text(mm) for mm in sizes_mm)} mm"
    fractions = [(inch_text(float(mm)) or "").removesuffix(" in") for mm in sizes_mm]
    if not all(fractions) and not inches_first.get():
        return written
    sides = (text or inch_decimals(mm) for text, mm in zip(fractions, sizes_mm, strict=True))
    return f"{' × '.join(sides)} in ({written})"
