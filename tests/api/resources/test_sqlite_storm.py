import json
import shutil
from pathlib import Path

import pytest
from django.db import connection

from tests.api.sqlite_storm import PROCESSES
from tests.processes import surroundings
from tests.programs import completed

TAKES = 3


@pytest.mark.django_db
def test_sixteen_processes_hear_of_no_lock(migrated_file: Path, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("its own SQLite file is made where the suite runs on SQLite")
    url = f"sqlite:///{shutil.copy(migrated_file, tmp_path / 'storm.sqlite3')}"
    words = ("-m", "tests.api.sqlite_storm", str(TAKES))
    ran = completed(words, surroundings(url), timeout=300)
    assert ran.returncode == 0, ran.stderr[-2000:]
    found = json.loads(ran.stdout.splitlines()[-1])
    stock = PROCESSES * TAKES
    assert set(found["statuses"]) <= {"201", "409"}
    assert sum(found["statuses"].values()) == 2 * PROCESSES * TAKES
    assert found["on_hand"] == stock - found["issues"]
    assert found["differences"] == []
    assert "locked" not in ran.stderr
