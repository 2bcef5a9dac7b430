"""Rows that are made once for the tests of a module or a folder."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from pytest_django import DjangoDbBlocker


@contextmanager
def shared_rows(blocker: DjangoDbBlocker) -> Iterator[None]:
    """A transaction around those of the tests, rolled back in the end; for a fixture of that scope."""
    with blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
