from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.db import connection

from tests.processes import manage, shared_database

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgresql]


def test_a_database_that_cannot_hold_what_people_type_is_refused_before_it_is_migrated(
    tmp_path: Path,
) -> None:
    url = shared_database(tmp_path)
    made = "CREATE DATABASE of_ascii TEMPLATE template0 ENCODING 'SQL_ASCII' LC_COLLATE 'C' LC_CTYPE 'C'"
    with connection.cursor() as cursor:
        cursor.execute(made)
    try:
        refused = manage(urlsplit(url)._replace(path="/of_ascii").geturl(), "migrate")
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP DATABASE of_ascii")
    assert refused.returncode == 1
    assert "The database stores text as SQL_ASCII and not as UTF8." in refused.stderr
    assert "createdb --encoding=UTF8" in refused.stderr
