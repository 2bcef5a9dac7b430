"""Rows that are made once for the tests of a module or a folder."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from django.db import connection, transaction
from pytest_django import DjangoDbBlocker

T = TypeVar("T")


@contextmanager
def shared_rows(blocker: DjangoDbBlocker, make: Callable[[], T]) -> Iterator[T]:
    """What `make` gives, in a transaction around those of the tests, rolled back in the end; for a fixture of that scope."""
    with blocker.unblock(), transaction.atomic():
        made = make()
        # PostgreSQL puts off what keys ask, and Django has it asked after each test: what a test has checked is undone with
        # the test, so that each would check all of these rows again.
        connection.check_constraints()
        yield made
        transaction.set_rollback(True)
