"""The same script of requests on SQLite and on PostgreSQL has the same answers: status, content type, body.

Proves it for the requests of `same_requests.py`, ids and what is made of them aside: the run on PostgreSQL plays the script on
both and compares. Does not prove that the answers are right, nor anything of requests that the script lacks.
"""

import json
import shutil
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.proof.conftest import Prepared, prepare
from tests.proof.service import program


def answers(url: str) -> list[list[Any]]:
    done = program(url, "-m", "tests.proof.same_requests")
    assert done.returncode == 0, done.stderr[-3_000:]
    return [json.loads(line) for line in done.stdout.splitlines()]


def apart(one: Any, two: Any, at: str = "") -> str:
    """The first place at which two bodies differ."""
    if isinstance(one, dict) and isinstance(two, dict) and one.keys() == two.keys():
        return next(
            (apart(one[name], two[name], f"{at}/{name}") for name in one if one[name] != two[name]), ""
        )
    if isinstance(one, list) and isinstance(two, list) and len(one) == len(two):
        pairs = enumerate(zip(one, two, strict=True))
        return next((apart(a, b, f"{at}/{number}") for number, (a, b) in pairs if a != b), "")
    return f"{at}: {one!r} and {two!r}"


@pytest.mark.postgresql
def test_one_script_has_the_same_answers_on_both_databases(
    prepared: Prepared, migrated_file: Path, tmp_path: Path
) -> None:
    sqlite = f"sqlite:///{shutil.copy(migrated_file, tmp_path / 'answers.sqlite3')}"
    prepare(sqlite)
    here, there = answers(prepared.copy("answers")), answers(sqlite)
    differing = [(one, two) for one, two in zip(here, there, strict=True) if one != two]
    told = "\n".join(f"{one[:3]} and {two[2]}: {apart(one[4], two[4])}" for one, two in differing[:20])
    assert not differing, f"{len(differing)} of {len(here)} answers differ:\n{told}"
    statuses = Counter(status for _, _, status, _, _ in here)
    assert len(here) > 400
    assert max(statuses) < 500
    assert {200, 201, 204, 400, 404, 405, 409, 412, 428} <= set(statuses)
