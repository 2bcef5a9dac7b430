"""Published worked figures kept beside the tests, one file per subject, each row with its source."""

import csv
from fractions import Fraction
from pathlib import Path

CHECKS = Path(__file__).parent / "checks"
MM_PER_INCH = 25.4


def published(name: str) -> list[dict[str, str]]:
    with (CHECKS / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def inches(text: str) -> float:
    """Inch text such as '1 15/16' as a number of inches, without help from the code under test."""
    return float(sum(Fraction(part) for part in text.split()))
