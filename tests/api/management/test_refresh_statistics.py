import io

import pytest
from django.core.management import call_command
from django.db import connection

from tests.factories import ItemFactory

pytestmark = pytest.mark.django_db


def test_sqlite_learns_how_its_values_are_spread() -> None:
    ItemFactory()
    out = io.StringIO()
    call_command("refresh_statistics", stdout=out)
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT count(*) FROM sqlite_stat1 WHERE tbl = 'inventory_item'")
            assert cursor.fetchone()[0] > 0
    else:
        assert "by itself" in out.getvalue()
