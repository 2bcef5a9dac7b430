"""ISO 286 limits of bores, shafts and keyways."""

from dataclasses import dataclass
from functools import cache

from inventory.number_checks import positive
from inventory.standards.rows import CONFIRMED, source_titles, table_rows

MM_PER_UM = 0.001


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Limits of one class in one range of sizes: deviations from nominal in mm."""

    tolerance_class: str
    feature: str
    over_mm: float
    to_mm: float
    lower_mm: float
    upper_mm: float
    source: str
    confidence: str
    note: str

    @property
    def width_mm(self) -> float:
        return self.upper_mm - self.lower_mm

    @property
    def is_confirmed(self) -> bool:
        return self.confidence in CONFIRMED


@cache
def tolerances() -> tuple[Tolerance, ...]:
    """Every row of the table of limits.

    Returns
    -------
    tuple of Tolerance
        Frozen rows, read once.

    Source
    ------
    ISO 286-2 and GB/T 1095 as named at each row.

    Examples
    --------
    >>> len(tolerances())
    83
    """
    return tuple(
        Tolerance(
            tolerance_class=row["tolerance_class"],
            feature=row["feature"],
            over_mm=float(row["over_mm"]),
            to_mm=float(row["to_mm"]),
            lower_mm=float(row["lower_um"]) * MM_PER_UM,
            upper_mm=float(row["upper_um"]) * MM_PER_UM,
            source=source_titles(row["source"]),
            confidence=row["confidence"],
            note=row["note"],
        )
        for row in table_rows("fits")
    )


def tolerance_mm(tolerance_class: str, diameter_mm: float) -> Tolerance:
    """Limits of a class at a size.

    Parameters
    ----------
    tolerance_class : str
        Class such as ``H8`` or ``k6``; the case of the letter tells hole from shaft.
    diameter_mm : float
        Diameter, or width of a keyway [mm].

    Returns
    -------
    Tolerance
        Lower and upper deviation [mm], with over < d <= to.

    Raises
    ------
    ValueError
        If the class is not in the table, or the size is outside its range.

    Source
    ------
    ISO 286-2 and GB/T 1095 as named at each row.

    Examples
    --------
    >>> tolerance_mm("H8", 25).upper_mm
    0.033
    """
    size = positive("diameter_mm", diameter_mm)
    rows = [row for row in tolerances() if row.tolerance_class == tolerance_class]
    if not rows:
        classes = ", ".join(dict.fromkeys(row.tolerance_class for row in tolerances()))
        raise ValueError(f"`tolerance_class` must be one of {classes}, got {tolerance_class!r}")
    for row in rows:
        if row.over_mm < size <= row.to_mm:
            return row
    least, most = min(row.over_mm for row in rows), max(row.to_mm for row in rows)
    raise ValueError(
        f"`diameter_mm` must be over {least:g} to {most:g} for {tolerance_class}, got {diameter_mm!r}"
    )
