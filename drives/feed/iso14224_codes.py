"""Our words and the codes of the standards, as published tables with a source in every row."""

import csv
from functools import cache
from pathlib import Path

TABLE = Path(__file__).parent / "tables" / "standard_codes.csv"


@cache
def standard_codes() -> tuple[dict[str, str], ...]:
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))
