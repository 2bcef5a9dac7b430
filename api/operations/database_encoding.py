"""A database of PostgreSQL that stores another encoding than UTF-8 cannot hold what people type, and says so only when they do."""

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

HINT = "Make the database again: createdb --encoding=UTF8 --template=template0 --owner=USER NAME."


@register(Tags.database)
def text_is_stored_as_utf8(databases: Sequence[str] | None = None, **more: Any) -> list[CheckMessage]:
    found = [encoding(alias) for alias in databases or () if connections[alias].vendor == "postgresql"]
    return [
        Error(f"The database stores text as {name} and not as UTF8.", hint=HINT, id="api.E002")
        for name in found
        if name != "UTF8"
    ]


def encoding(alias: str) -> str:
    with connections[alias].cursor() as cursor:
        cursor.execute("SHOW server_encoding")
        (name,) = cursor.fetchone()
    return str(name)
