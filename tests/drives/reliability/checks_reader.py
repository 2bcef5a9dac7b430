"""Reads the published check values beside the tests."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drives.reliability.lifetimes import Lifetimes, right_censored

HERE = Path(__file__).parent
ROWS: list[dict[str, Any]] = json.loads((HERE / "checks.json").read_text(encoding="utf-8"))


def check(name: str) -> dict[str, Any]:
    return next(row for row in ROWS if row["id"] == name)


def named(prefix: str) -> list[str]:
    return [row["id"] for row in ROWS if row["id"].startswith(prefix)]


def near(name: str, quantity: str) -> Any:
    row = check(name)
    return pytest.approx(row["expected"][quantity], rel=row["rel_tol"], abs=row["abs_tol"])


def published_lifetimes(name: str) -> Lifetimes:
    given = check(name)["inputs"]
    failures = given["failures"]
    running = given.get("suspension_hours_count") or [[hours, 1] for hours in given.get("suspensions", [])]
    return right_censored(
        failures + [hours for hours, _ in running],
        observed=[True] * len(failures) + [False] * len(running),
        weights=[1] * len(failures) + [count for _, count in running],
    )


def random_lifetimes(rng: np.random.Generator, *, size: int, shape: float) -> Lifetimes:
    """Weibull lifetimes, each against an inspection at a time of its own."""
    lifetimes, inspections = 1000 * rng.weibull(shape, size), 1300 * rng.weibull(shape, size)
    return right_censored(np.minimum(lifetimes, inspections), observed=lifetimes <= inspections)
