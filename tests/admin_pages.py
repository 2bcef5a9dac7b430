"""What every admin page must be: found, quick whatever the number of rows, and fit for a strict content policy."""

import re
from collections.abc import Callable
from typing import Any

from django.contrib import admin
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories import AdminFactory

INLINE = re.compile(
    r"""<style|\sstyle=|\son[a-z]+=|javascript:|<script(?![^>]*\bsrc=)(?![^>]*type="application/json")""",
    re.I,
)
MOST_QUERIES = 22


def models_of(*apps: str) -> list[Any]:
    return [model for model in admin.site._registry if model._meta.app_label in apps]


def address(model: Any, page: str, *args: Any) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{page}", args=args)


def queries_of(client: Client, url: str) -> int:
    """Queries of one page, which must be found and hold nothing inline."""
    with CaptureQueriesContext(
        connection,
    ) as queries:
        response = client.get(url)
    assert response.status_code == 200, url
    found = INLINE.search(response.content.decode())
    assert found is None, (url, found)
    return len(queries)


def costs_of_lists(app: str, add_rows: Callable[[], object]) -> dict[Any, tuple[int, int]]:
    """Queries of the list of each record, before rows are added to all of them and after."""
    client = Client()
    client.force_login(AdminFactory())
    lists = {model: address(model, "changelist") for model in models_of(app)}
    before = {model: queries_of(client, url) for model, url in lists.items()}
    add_rows()
    return {model: (before[model], queries_of(client, url)) for model, url in lists.items()}
