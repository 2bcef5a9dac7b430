"""Write `api/edge/openapi/answers.json`: an answer of the demo plant for each component of the OpenAPI document.

DATABASE_URL names a database with the demo plant and a stocking run; what is written meanwhile is rolled back.
"""

import json
import os
from pathlib import Path
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
os.environ.setdefault("ALLOWED_HOSTS", "testserver")
django.setup()

from django.contrib.auth import get_user_model  # noqa: E402
from django.db import transaction  # noqa: E402
from rest_framework.test import APIClient  # noqa: E402

from api.edge import schema  # noqa: E402
from api.edge.openapi import examples  # noqa: E402
from tests.api.contract_acts import Acts, fill  # noqa: E402
from tests.api.contract_walk import Walk  # noqa: E402
from tests.jobs import run_queued_jobs  # noqa: E402

FILE = Path(examples.__file__).parent / "answers.json"
LONGEST_LIST, MOST_KEYS = 1, 4


def shortened(value: Any) -> Any:
    if isinstance(value, list):
        plain = not any(isinstance(one, dict | list) for one in value)
        return [shortened(one) for one in value[: 4 if plain else LONGEST_LIST]]
    if isinstance(value, dict):
        return {name: shortened(one) for name, one in value.items()}
    return value


def weight(value: Any) -> int:
    """An example with much in it says more."""
    if isinstance(value, dict):
        return sum(weight(one) for one in value.values())
    if isinstance(value, list):
        return 1 + sum(weight(one) for one in value[:1])
    return int(value is not None)


def keep(found: dict[str, Any], document: dict[str, Any], path: str, method: str, response: Any) -> None:
    status, kind = str(response.status_code), response.headers.get("Content-Type", "")
    if response.status_code >= 300 or "json" not in kind:
        return
    content = document["paths"][path][method]["responses"].get(status, {}).get("content", {})
    described = content.get("application/json", {}).get("schema", {})
    body = response.json()
    name = examples.component_of(described)
    if not name:
        return
    members = document["components"]["schemas"][name].get("properties", {})
    listed = examples.component_of(members.get("results", {}).get("items", {}))
    if listed and set(members) == examples.PAGE:
        name, rows = listed, body["results"]
    else:
        rows = [body]
    for row in map(shortened, rows):
        if name not in found or weight(row) > weight(found[name]):
            found[name] = row


def main() -> None:
    document = schema.document()
    client = APIClient()
    found: dict[str, Any] = {}
    with transaction.atomic():
        client.force_login(get_user_model().objects.create_superuser("examples"))
        fill(client)
        for asked in Walk(client, document, calculate=run_queued_jobs):
            keep(found, document, asked.path, "get", asked.response)
            print(asked.response.status_code, asked.address)
        for act in Acts(client, document):
            keep(found, document, act.path, act.method, act.response)
            print(
                act.response.status_code,
                act.method,
                act.address,
                act.response.content[:300] if act.response.status_code > 299 else "",
            )
        transaction.set_rollback(True)
    FILE.write_text(json.dumps(dict(sorted(found.items())), indent=1, ensure_ascii=False) + "\n", "utf-8")


if __name__ == "__main__":
    main()
