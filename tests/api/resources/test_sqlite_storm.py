import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from tests.api.sqlite_storm import PROCESSES

TAKES = 3


def test_sixteen_processes_hear_of_no_lock(migrated_file: Path, tmp_path: Path) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("its own SQLite file is made where the suite runs on SQLite")
    environment = os.environ | {
        "DATABASE_URL": f"sqlite:///{shutil.copy(migrated_file, tmp_path / 'storm.sqlite3')}"
    }
    ran = subprocess.run(
        [sys.executable, "-m", "tests.api.sqlite_storm", str(TAKES)],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    found = json.loads(ran.stdout.splitlines()[-1])
    stock = PROCESSES * TAKES
    assert set(found["statuses"]) <= {"201", "409"}
    assert sum(found["statuses"].values()) == 2 * PROCESSES * TAKES
    assert found["on_hand"] == stock - found["issues"]
    assert found["differences"] == []
    assert "locked" not in ran.stderr
