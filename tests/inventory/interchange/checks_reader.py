"""Reads the tables beside the tests; each row says what it was taken from or computed by."""

import csv
from fractions import Fraction
from pathlib import Path

CHECKS = Path(__file__).parent / "checks"
MM_PER_INCH = 25.4


def rows(name):
    with (CHECKS / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def inches_mm(text):
    """Inch text such as '1 15/16' in mm, without help from the code under test."""
    return float(sum(Fraction(piece) for piece in text.split())) * MM_PER_INCH
