"""What every test stands on."""

import gc
import os
import re
import shutil
from collections.abc import Callable, Iterable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from django.core.cache import cache
from django.db import connection
from django.db.backends.sqlite3.base import DatabaseOperations
from django.utils import timezone
from pytest_django import DjangoDbBlocker
from rest_framework.test import APIClient
from whitenoise.middleware import WhiteNoiseMiddleware

from api.models import AccessToken, Role
from tests import chromium
from tests.examples import IS_LONG, some_of
from tests.processes import dumped, manage, shared_database

browser, chromium_here = chromium.browser, chromium.chromium_here
MIGRATED_FILE = Path(os.environ["MIGRATED_FILE"]) if os.environ.get("MIGRATED_FILE") else None
"""Where the suite on SQLite leaves a migrated file for the checks and for the suite on PostgreSQL beside it."""
LOGS = [
    import_module("inventory.migrations.0002_ledger_is_append_only"),
    import_module("api.migrations.0005_change_log_is_append_only"),
]


@pytest.fixture(autouse=True, scope="session")
def logs_step_aside_for_the_flush_between_tests() -> Iterator[None]:
    """Transactional tests empty the tables of SQLite by DELETE, which the ledger and the change log refuse.

    The triggers come off and on again in the transaction of that flush, here and nowhere else:
    the shipped database has no switch. PostgreSQL truncates, which its row triggers let pass.
    """
    flush = DatabaseOperations.execute_sql_flush

    def flush_with_the_logs(self: Any, statements: Iterable[str]) -> None:
        statements = list(statements)
        for log in LOGS:
            if any(f'"{log.TABLE}"' in statement for statement in statements):
                statements = [*log.REMOVE_ON_SQLITE, *statements, *log.ON_SQLITE]
        flush(self, statements)

    DatabaseOperations.execute_sql_flush = flush_with_the_logs
    yield
    DatabaseOperations.execute_sql_flush = flush


@pytest.fixture(autouse=True, scope="session")
def static_files_are_listed_once() -> Iterator[None]:
    """Every test client loads the middleware anew, which would list every static file of every app each time."""
    scan, listed = WhiteNoiseMiddleware.add_files_from_finders, dict[str, Any]()

    def scan_once(self: WhiteNoiseMiddleware) -> None:
        if not listed:
            scan(self)
            listed.update(self.files)
        self.files.update(listed)

    WhiteNoiseMiddleware.add_files_from_finders = scan_once
    yield
    WhiteNoiseMiddleware.add_files_from_finders = scan


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Path | None:
    """What the migrations leave is kept before a test writes or a flush empties anything: of SQLite a file, of PostgreSQL a dump.

    None where no program of PostgreSQL makes the dump.
    """
    folder = tmp_path_factory.mktemp("as-migrated")
    with django_db_blocker.unblock():
        url = shared_database(folder)
    if connection.vendor != "sqlite":
        return dumped(url, folder / "migrated.sql")
    file = folder / "shared.sqlite3"
    if MIGRATED_FILE and not MIGRATED_FILE.exists():
        part = MIGRATED_FILE.with_suffix(".part")
        shutil.copy(file, part)
        part.rename(MIGRATED_FILE)
    return file


@pytest.fixture(scope="session")
def migrated_file(django_db_setup: Path | None, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file to copy, for processes of their own: all migrations together take many seconds."""
    if connection.vendor == "sqlite":
        assert django_db_setup is not None
        return django_db_setup
    if MIGRATED_FILE and MIGRATED_FILE.exists():
        return MIGRATED_FILE
    file = tmp_path_factory.mktemp("migrated") / "migrated.sqlite3"
    done = manage(f"sqlite:///{file}", "migrate", "-v0")
    assert done.returncode == 0, done.stderr
    return file


hypothesis.settings.register_profile(
    "ci", max_examples=some_of(60), derandomize=True, deadline=None, print_blob=True
)
hypothesis.settings.register_profile("search", max_examples=2_000, deadline=None)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))

ClientFor = Callable[[str], APIClient]
DATABASE_FIXTURES = {"db", "transactional_db", "live_server", "demo_plant", "prepared", "cluster"}
"""Each asks for the database of the test, or for one of its kind for a process of its own."""

WITHOUT_DATABASE = {
    "api/wording",
    *("drives/chain", "drives/place", "drives/reliability"),
    *("inventory/descriptions", "inventory/identification", "inventory/interchange"),
    *("inventory/standards", "inventory/stocking"),
}
"""Folders of which no test asks for the database: its suites do not read them."""
WITH_DATABASE = {
    *("api/answers", "api/resources", "attacks", "benchmarks", "demo_plant"),
    *("drives/assortment", "drives/duplicates", "drives/feed", "drives/figures", "drives/lessons"),
    "inventory/catalogue",
}
"""Folders of which every test asks for it."""


def pytest_configure(config: pytest.Config) -> None:
    # By default, the collector of garbage comes after every 700 new objects and takes a seventh of the time.
    gc.set_threshold(100_000, 10, 20)
    config.addinivalue_line("filterwarnings", "ignore:No directory at:UserWarning")


def pytest_report_header() -> str:
    return f"database: {connection.vendor}"


@pytest.fixture(autouse=True)
def no_calls_counted_yet() -> None:
    cache.clear()


@pytest.fixture(autouse=True)
def nothing_but_the_caller_is_asked_for(request: pytest.FixtureRequest) -> Iterator[None]:
    if request.node.get_closest_marker("no_rows") is None:
        yield
        return

    def refuse_rows(execute: Any, sql: str, parameters: Any, many: bool, context: Any) -> Any:
        assert not re.search('"(inventory|drives)_', sql), sql
        return execute(sql, parameters, many, context)

    with connection.execute_wrapper(refuse_rows):
        yield


@pytest.fixture
def client_for(db: None) -> ClientFor:
    """A client with a token of the role, noted as used just now so that a request costs no query for it."""

    def client(role: str) -> APIClient:
        _, secret = AccessToken.objects.issue(f"the {role}", role=role, last_used_at=timezone.now())
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
        return client

    return client


@pytest.fixture
def as_storeroom(client_for: ClientFor) -> APIClient:
    return client_for(Role.STOREROOM)


@pytest.fixture
def as_manager(client_for: ClientFor) -> APIClient:
    return client_for(Role.MANAGER)


@pytest.fixture
def as_integration(client_for: ClientFor) -> APIClient:
    return client_for(Role.INTEGRATION)


@pytest.fixture
def as_viewer(client_for: ClientFor) -> APIClient:
    return client_for(Role.VIEWER)


@pytest.fixture
def as_stranger(db: None) -> APIClient:
    """Nobody: no credentials at all."""
    return APIClient()


def pytest_collection_finish() -> None:
    """What was collected here stays to the end: the collector of garbage need not go through it again and again."""
    gc.collect()
    gc.freeze()


def asks_for_the_database(item: pytest.Item) -> bool:
    """Where this is false, pytest-django refuses every query: the answer is the same on every database."""
    names = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(names & DATABASE_FIXTURES)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only",
        action="store_true",
        help="leave out what asks for no database",
    )
    parser.addoption("--without-database", action="store_true", help="leave out what asks for a database")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    left_out = set[str]()
    if config.getoption("--database-only"):
        left_out = WITHOUT_DATABASE
    elif config.getoption("--without-database"):
        left_out = WITH_DATABASE
    return True if within(collection_path, left_out) else None


def within(path: Path, folders: set[str]) -> bool:
    return any(path.is_relative_to(Path(__file__).parent / folder) for folder in folders)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for option, is_asked_for, wholly in (
        ("--database-only", True, WITH_DATABASE),
        ("--without-database", False, WITHOUT_DATABASE),
    ):
        if config.getoption(option):
            left_out = [item for item in items if asks_for_the_database(item) != is_asked_for]
            if misplaced := [item.nodeid for item in left_out if within(item.path, wholly)]:
                raise pytest.UsageError(
                    f"No suite would run these tests, as their folder stands in tests/conftest.py: {misplaced}"
                )
            items[:] = [item for item in items if asks_for_the_database(item) == is_asked_for]
            config.hook.pytest_deselected(items=left_out)
    if connection.vendor == "postgresql":
        if not IS_LONG:
            on_sqlite = {item for item in items if any(map(item.get_closest_marker, ("no_rows", "sqlite")))}
            items[:] = [item for item in items if item not in on_sqlite]
            config.hook.pytest_deselected(items=list(on_sqlite))
        return
    skip = pytest.mark.skip(reason="needs PostgreSQL")
    for item in items:
        if item.get_closest_marker("postgresql"):
            item.add_marker(skip)
