"""The service on a SQLite file that a file beside it hinders: `FILE.full` holds the most pages that it may have,
`FILE.read_only` lets nobody write. Without them it is as it should be."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from django.db import connection

from api.wsgi import application as service

WITHOUT_BOUND = 1_073_741_823


def hinder() -> None:
    if connection.vendor != "sqlite":
        return
    name = str(connection.settings_dict["NAME"])
    full, read_only = Path(f"{name}.full"), Path(f"{name}.read_only")
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA max_page_count={full.read_text() if full.exists() else WITHOUT_BOUND}")
        cursor.execute(f"PRAGMA query_only={'ON' if read_only.exists() else 'OFF'}")


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    hinder()
    return service(environ, start_response)
