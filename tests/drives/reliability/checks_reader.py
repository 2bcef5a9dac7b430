"""Reads the published check values beside the tests."""

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drives.reliability.lives import Lives, right_censored

HERE = Path(__file__).parent
ROWS: list[dict[str, Any]] = json.loads((HERE / "checks.json").read_text(encoding="utf-8"))


def check(name: str) -> dict[str, Any]:
    return next(row for row in ROWS if row["id"] == name)


def named(prefix: str) -> list[str]:
    return [row["id"] for row in ROWS if row["id"].startswith(prefix)]


def near(name: str, quantity: str) -> Any:
    row = check(name)
    return pytest.approx(row["expected"][quantity], rel=row["rel_tol"], abs=row["abs_tol"])


def lives_of(name: str) -> Lives:
    given = check(name)["inputs"]
    failures = given["failures"]
    running = given.get("suspension_hours_count") or [[hours, 1] for hours in given.get("suspensions", [])]
    return right_censored(
        failures + [hours for hours, _ in running],
        observed=[True] * len(failures) + [False] * len(running),
        weights=[1] * len(failures) + [count for _, count in running],
    )


def valve_seats() -> tuple[list[int], list[float], list[bool]]:
    with (HERE / "valve_seat.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return (
        [int(row["id"]) for row in rows],
        [float(row["time"]) for row in rows],
        [row["status"] == "1" for row in rows],
    )


def random_lives(rng: np.random.Generator, *, size: int, shape: float, groups: object = None) -> Lives:
    """Weibull ends, each against a look that comes at a time of its own."""
    ends, looks = 1000 * rng.weibull(shape, size), 1300 * rng.weibull(shape, size)
    return right_censored(np.minimum(ends, looks), observed=ends <= looks, groups=groups)
