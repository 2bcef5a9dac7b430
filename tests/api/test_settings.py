import os
import subprocess
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connection

from api.environment import TABLE, GivenSettings, example
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
        ({"PUBLIC_URL": "spares.example"}, "PUBLIC_URL must be an address without a path"),
        ({"LOG_FORMAT": "xml"}, "LOG_FORMAT must be one of text, json"),
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


def test_a_command_says_in_one_line_why_it_does_not_start() -> None:
    started = completed(
        ("manage.py", "check"), {"PATH": os.environ["PATH"], "PRODUCTION": "perhaps"}, timeout=60
    )
    assert started.returncode == 1
    assert started.stderr == "Not started: PRODUCTION must be true or false, not 'perhaps'.\n"


def test_a_command_says_in_a_sentence_that_the_database_is_away() -> None:
    away = {"PATH": os.environ["PATH"], "DATABASE_URL": "postgresql://nobody@127.0.0.1:1/spares"}
    started = completed(("manage.py", "migrate"), away, timeout=60)
    assert started.returncode == 1
    assert started.stderr.startswith("The database of DATABASE_URL cannot be reached: connection failed")
    assert "Traceback" not in started.stderr


@pytest.mark.parametrize(
    ("given", "hosts"),
    [
        ("https://spares.example:8443/", ["spares.example", "localhost", "127.0.0.1", "[::1]"]),
        ("", ["localhost"]),
    ],
)
def test_the_public_address_is_a_host_and_may_send_forms(given: str, hosts: list[str]) -> None:
    said = "import api.settings as s; print(s.ALLOWED_HOSTS, s.CSRF_TRUSTED_ORIGINS)"
    done = completed(("-c", said), {"PATH": os.environ["PATH"], "PUBLIC_URL": given}, timeout=60)
    origins = ["https://spares.example:8443"] if given else []
    assert done.stdout.strip() == f"{hosts if given else [*hosts, '127.0.0.1', '[::1]']} {origins}"


def test_the_example_is_made_from_the_table() -> None:
    assert (HOUSE / ".env.example").read_text() == example()


def test_every_setting_is_used() -> None:
    places = ("settings.py", "operations/gunicorn_settings.py")
    text = "".join((HOUSE / "api" / place).read_text() for place in places)
    assert [setting.name for setting in TABLE if f'GIVEN["{setting.name}"]' not in text] == []


def test_a_file_of_settings_is_read_and_the_environment_is_stronger(tmp_path: Path) -> None:
    file = tmp_path / "plant.env"
    file.write_text("# night\nNIGHTLY_HOUR=4\nSESSION_HOURS='12'\n")
    given = GivenSettings.of_process(TABLE, {"ENV_FILE": str(file), "SESSION_HOURS": "8"})
    assert (given["NIGHTLY_HOUR"], given["SESSION_HOURS"], given["LOG_FORMAT"]) == (4, 8, "text")
    assert given.source("NIGHTLY_HOUR") == str(file)


def read_all(process: dict[str, str]) -> list[object]:
    given = GivenSettings.of_process(TABLE, process)
    return [given[name] for name in given.table]


@pytest.mark.parametrize(
    ("line", "environment", "said"),
    [
        ("SESION_HOURS=8", {}, "SESION_HOURS in .* is not a setting. Is SESSION_HOURS meant?"),
        ("COLOUR=red", {}, "COLOUR in .* is not a setting. The command show_settings lists them all."),
        (
            "",
            {"ALLOWED_HOST": "x"},
            "ALLOWED_HOST in the environment is not a setting. Is ALLOWED_HOSTS meant?",
        ),
        ("TIME_ZONE=Berlin", {}, "TIME_ZONE must be a time zone of the IANA database"),
        ("TRUSTED_PROXIES=10.0.0.300", {}, "TRUSTED_PROXIES must list addresses and networks"),
    ],
)
def test_a_name_that_no_setting_has_is_refused(
    line: str, environment: dict[str, str], said: str, tmp_path: Path
) -> None:
    file = tmp_path / "plant.env"
    file.write_text(line)
    with pytest.raises(ImproperlyConfigured, match=said):
        read_all({"ENV_FILE": str(file), **environment})


def test_a_file_that_is_not_there_is_refused() -> None:
    with pytest.raises(ImproperlyConfigured, match="which is no file"):
        GivenSettings.of_process(TABLE, {"ENV_FILE": "/nowhere.env"})


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
