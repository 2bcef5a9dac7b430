"""What asks for no database runs on one only (`--database-only` leaves it out): there is none that it could meet."""

import pytest
from django.db import connection

from inventory.models import Item
from tests.conftest import DATABASE_FIXTURES, asks_for_the_database


def test_what_asks_for_no_database_is_refused_every_query(request: pytest.FixtureRequest) -> None:
    assert not asks_for_the_database(request.node)
    with pytest.raises(RuntimeError, match="Database access not allowed"):
        connection.ensure_connection()


@pytest.mark.django_db
def test_a_mark_asks_for_the_database(request: pytest.FixtureRequest) -> None:
    assert asks_for_the_database(request.node)
    assert connection.introspection.table_names()


def test_a_fixture_asks_for_the_database(client_for: object, request: pytest.FixtureRequest) -> None:
    assert "db" in DATABASE_FIXTURES
    assert asks_for_the_database(request.node)
    assert connection.introspection.table_names()


@pytest.mark.django_db
@pytest.mark.no_rows
def test_what_asks_for_its_caller_alone_is_refused_every_row() -> None:
    with pytest.raises(AssertionError, match="inventory_item"):
        Item.objects.count()
