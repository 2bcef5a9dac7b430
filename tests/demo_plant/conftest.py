"""The demo plant, loaded once for all tests of this folder: it takes some ten seconds."""

from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.db import transaction
from pytest_django import DjangoDbBlocker


@pytest.fixture(scope="package")
def demo_plant(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """In a transaction that is rolled back in the end, around those of the tests."""
    with django_db_blocker.unblock(), transaction.atomic():
        call_command("demo", "--no-serve")
        yield
        transaction.set_rollback(True)
