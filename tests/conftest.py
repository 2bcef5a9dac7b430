"""What every test stands on."""

from collections.abc import Iterable, Iterator
from importlib import import_module
from typing import Any

import pytest
from django.db import connection
from django.db.backends.sqlite3.base import DatabaseOperations

ledger_triggers = import_module("inventory.migrations.0002_ledger_is_append_only")


@pytest.fixture(autouse=True, scope="session")
def ledger_steps_aside_for_the_flush_between_tests() -> Iterator[None]:
    """Transactional tests empty the tables of SQLite by DELETE, which the ledger refuses.

    The triggers come off and on again in the transaction of that flush, here and nowhere else:
    the shipped database has no switch. PostgreSQL truncates, which its row triggers let pass.
    """
    flush = DatabaseOperations.execute_sql_flush

    def flush_with_the_ledger(self: Any, statements: Iterable[str]) -> None:
        statements = list(statements)
        if any(ledger_triggers.TABLE in statement for statement in statements):
            statements = [
                *ledger_triggers.REMOVE_ON_SQLITE,
                *statements,
                *ledger_triggers.ON_SQLITE,
            ]
        flush(self, statements)

    DatabaseOperations.execute_sql_flush = flush_with_the_ledger
    yield
    DatabaseOperations.execute_sql_flush = flush


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if connection.vendor == "postgresql":
        return
    skip = pytest.mark.skip(reason="needs PostgreSQL")
    for item in items:
        if item.get_closest_marker("postgresql"):
            item.add_marker(skip)
