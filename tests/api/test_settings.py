import os
import subprocess

import pytest
from django.db import connection

from api.settings import SHORT_QUERIES, database
from tests.programs import HOUSE, completed

SECRET = "k9" * 40


def start(**environment: str) -> subprocess.CompletedProcess[str]:
    return completed(("-c", "import api.settings"), {"PATH": os.environ["PATH"], **environment}, timeout=60)


@pytest.mark.parametrize(
    ("environment", "said"),
    [
        ({"PRODUCTION": "true"}, "SECRET_KEY must be set to a secret of your own"),
        ({"PRODUCTION": "true", "SECRET_KEY": "short"}, "at least 50 characters"),
        ({"PRODUCTION": "true", "SECRET_KEY": SECRET, "DEBUG": "true"}, "DEBUG must be off"),
        ({"PRODUCTION": "perhaps"}, "PRODUCTION must be true or false"),
        ({"MAX_BODY_BYTES": "1_000_000"}, "MAX_BODY_BYTES must be a whole number"),
        ({"REQUESTS_PER_MINUTE": "0"}, "REQUESTS_PER_MINUTE must be a whole number from 1"),
        ({"DATABASE_URL": "mysql://x/y"}, "DATABASE_URL must begin with"),
        ({"DATABASE_URL": "nonsense"}, "DATABASE_URL"),
        ({"DATABASE_REPLICA_URL": "postgresql://x/y"}, "DATABASE_REPLICA_URL needs PostgreSQL there and in"),
        ({"DATABASE_REPLICA_URL": "mysql://x/y"}, "DATABASE_REPLICA_URL must begin with"),
        ({"LOG_FORMAT": "xml"}, "LOG_FORMAT must be one of json, text"),
        ({"LOG_LEVEL": "loud"}, "LOG_LEVEL must be one of"),
    ],
)
def test_it_refuses_to_start_with_a_value_it_cannot_use(environment: dict[str, str], said: str) -> None:
    started = start(**environment)
    assert started.returncode != 0
    assert said in started.stderr.strip().splitlines()[-1]


def test_it_starts_in_production_with_a_secret_of_its_own() -> None:
    assert start(PRODUCTION="true", SECRET_KEY=SECRET, LOG_FORMAT="json").returncode == 0


def test_it_starts_with_an_empty_environment() -> None:
    assert start().returncode == 0


def test_every_setting_of_the_example_is_read() -> None:
    text = (HOUSE / "api" / "settings.py").read_text()
    example = (HOUSE / ".env.example").read_text().splitlines()
    names = [line.lstrip("# ").partition("=")[0] for line in example if "=" in line]
    assert len(names) > 8
    assert [name for name in names if f'"{name}"' not in text] == []


@pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL compiles queries")
def test_no_query_is_compiled_and_none_takes_a_second_process(db: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_setting('jit'), current_setting('max_parallel_workers_per_gather')")
        assert cursor.fetchone() == ("off", "0")


@pytest.mark.parametrize(
    ("address", "environment"),
    [
        ("postgresql://x/y?options=-c%20work_mem%3D8MB", "-c jit=on"),
        ("postgresql://x/y", "-c work_mem=8MB"),
    ],
)
def test_options_of_the_operator_come_last(
    address: str, environment: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PGOPTIONS", environment)
    assert str(database(address)["OPTIONS"]["options"]).removeprefix(SHORT_QUERIES) == " -c work_mem=8MB"  # type: ignore[index]
