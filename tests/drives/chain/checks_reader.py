"""Reads the published check values beside the tests."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "checks"


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def inputs(row: dict[str, str]) -> dict[str, str]:
    return dict(part.split("=", 1) for part in row["inputs"].split(";") if "=" in part)


def close(value: float, row: dict[str, str]) -> bool:
    return abs(value - float(row["expected"])) <= float(row["abs_tol"])
