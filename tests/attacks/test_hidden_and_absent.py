"""What lies at another site is answered as what is nowhere: at every address, and named in every body.

A number that stands once for all sites is the exception: whoever takes one that is taken is refused, without a word on whose it is.
"""

import json
import re
from collections.abc import Iterator
from functools import cache
from itertools import count
from typing import Any

import pytest
from django.core.cache import cache as counts
from django.db import transaction
from rest_framework.test import APIClient

from api.edge import schema
from api.edge.openapi.examples import table
from api.edge.openapi.operations import operations
from tests.attacks.sites import HIDDEN, WEIR, Site

pytestmark = pytest.mark.django_db
UNSAID = {"instance", "request_id"}
ABSENT, NOBODYS = "NONE", 99_999_999
AT_SITE = {
    **dict.fromkeys(("storeroom", "plant", "source"), "{}"),
    **dict.fromkeys(("to_storeroom", "from_storeroom"), "{}-N"),
    "area": "{0}/{0}-A",
    "equipment": "{}-EL1",
    "drive": "{}-D1",
    "position": "{}-P1",
    "bin": "{}-B1",
    "external_id": "1",
}
BY_NUMBER = {"movement": "movements", "installation": "installations"}
TAKES_A_NUMBER = ("put /api/v1/supply-orders/", "put /api/v1/work-orders/", "put /api/v1/meter-readings/")
_keys = count()


@cache
def described() -> list[tuple[str, str, str, frozenset[str]]]:
    """Method, path and id of each operation, and the members of its body."""
    document = schema.document()
    found = []
    for path, method, operation in operations(document):
        content = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
        part = content.get("schema", {}).get("$ref", "").rpartition("/")[2]
        members = document["components"]["schemas"].get(part, {}).get("properties", {})
        found.append((method, path, operation["operationId"], frozenset(members)))
    return found


def sent(client: APIClient, method: str, address: str, body: Any = None) -> Any:
    """The answer; nothing of it stays."""
    counts.clear()
    more = {"HTTP_IF_MATCH": "*", "HTTP_IDEMPOTENCY_KEY": f"k-{next(_keys)}"}
    with transaction.atomic():
        response = getattr(client, method)(address, body, **more)
        transaction.set_rollback(True)
    return response


def said(response: Any, *names: object) -> tuple[int, str]:
    """What is told, whatever the thing that was named is called."""
    text = response.content.decode()
    if "json" in response["Content-Type"]:
        text = json.dumps({name: one for name, one in response.json().items() if name not in UNSAID})
    text = re.sub(r'"message": \d+', '"message": 0', text)  # PostgreSQL gives no number twice.
    for name in sorted(map(str, names), key=len, reverse=True):
        text = re.sub(rf"\b{re.escape(name)}\b", "NAME", text)
    return response.status_code, text


def at(path: str, key: object) -> str:
    parts = iter(str(key).split("/"))
    return re.sub(r"\{\w+\}", lambda _: next(parts), path)


def collection_of(path: str) -> str:
    return path.split("/")[3]


def body_of(name: str, there: Site) -> Any:
    """The example of the document, about that site."""

    def about(value: Any) -> Any:
        if isinstance(value, list):
            return [about(one) for one in value]
        if not isinstance(value, dict):
            return value
        known = {one: text.format(there.code) for one, text in AT_SITE.items()} | {"item": "SPR-BOTH"}
        return {one: known[one] if one in known and inner else about(inner) for one, inner in value.items()}

    return about(table("requests").get(name, {}))


def test_a_hidden_record_is_as_absent_at_every_address(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    tried = set()
    for method, path, name, _ in described():
        collection = collection_of(path)
        if "{" not in path or collection not in zeta.keys:
            continue
        key = zeta.keys[collection]
        absent = f"{ABSENT}/1" if "/" in str(key) else ABSENT if isinstance(key, str) else NOBODYS
        body = None if method == "get" else body_of(name, weir)
        hidden, nowhere = (sent(at_weir, method, at(path, one), body) for one in (key, absent))
        if f"{method} {path}".startswith(TAKES_A_NUMBER) and nowhere.status_code == 201:
            assert hidden.status_code == 409, path
            assert HIDDEN not in str(said(hidden, *str(key).split("/"))), path
        else:
            assert said(hidden, key) == said(nowhere, absent), (method, path)
            assert hidden.status_code in (400, 403, 404, 405), (method, path)
        tried.add(collection)
    assert tried == set(zeta.keys)


def naming(body: Any, members: frozenset[str], there: Site | None) -> Iterator[tuple[str, Any]]:
    """The body with one name after the other taken from a site, or from nowhere."""

    def name_of(member: str) -> Any:
        if records := BY_NUMBER.get(member):
            return there.keys[records] if there else NOBODYS
        return AT_SITE[member].format(there.code if there else ABSENT)

    for member in sorted(members & (AT_SITE.keys() | BY_NUMBER.keys())):
        yield member, body | {member: name_of(member)}
    for outer, value in body.items():
        nested = value if isinstance(value, dict) else value[0] if isinstance(value, list) and value else None
        if isinstance(nested, dict):
            for member, one in naming(nested, frozenset(nested), there):
                yield f"{outer}/{member}", body | {outer: [one] if isinstance(value, list) else one}


def test_a_hidden_record_is_as_absent_in_every_body(at_weir: APIClient, weir: Site, zeta: Site) -> None:
    named = set()
    line = {"item": "SPR-BOTH", "quantity": 1, "storeroom": WEIR}
    for method, path, name, members in described():
        key = weir.keys.get(collection_of(path))
        if not members or ("{" in path and key is None):
            continue
        address, body = at(path, key), body_of(name, weir)
        if name in ("send_work_order", "send_supply_order", "send_meter_reading"):
            address = at(path, "new/7")
            body |= {"parts_used": [line], "parts_needed": [line]} if "parts_used" in members else {}
        elif not body and method in ("put", "patch", "post"):
            own = at_weir.get(at(path, key) if "{" in path else f"{path}{key}/")
            body = own.json() if own.status_code == 200 else {}
        pairs = zip(naming(body, members, zeta), naming(body, members, None), strict=True)
        for (member, hidden), (_, absent) in pairs:
            answers = [sent(at_weir, method, address, one) for one in (hidden, absent)]
            if (name, member) == ("send_many_work_orders", "messages/source"):
                continue  # A number of its own, below.
            names = [HIDDEN, ABSENT, NOBODYS, *(zeta.keys[one] for one in BY_NUMBER.values())]
            assert said(answers[0], *names) == said(answers[1], *names), (name, member)
            named.add(member.rpartition("/")[2])
    assert named >= (AT_SITE.keys() | BY_NUMBER.keys()) - {"external_id"}


AT = "2026-03-01T06:30:00Z"
JOB = {"title": "taken over", "status": "cancelled", "updated_at": AT}
TAKEN = {
    "requests": {
        "item": "SPR-BOTH",
        "storeroom": WEIR,
        "at": AT,
        "result": "not_filled",
        "reference": "ZETA-R1",
    },
    "delivery-checks": {
        "source": WEIR,
        "external_id": "1",
        "quantity": 1,
        "wrong": "bent",
        "reference": "ZETA-D1",
    },
    "equipment": {"tag": "ZETA-EL1", "area": "WEIR/WEIR-A", "name": "x"},
    "drives": {"tag": "ZETA-D1", "equipment": "WEIR-EL1", "name": "x"},
    "positions": {"tag": "ZETA-P1", "drive": "WEIR-D1", "role": "driven"},
    "work-orders/bulk": {"messages": [{**JOB, "source": HIDDEN, "external_id": "1"}]},
}


@pytest.mark.parametrize("resource", TAKEN)
def test_a_number_that_is_taken_elsewhere_is_refused_and_not_whose_it_is(
    resource: str, at_weir: APIClient, weir: Site, zeta: Site
) -> None:
    body = TAKEN[resource]
    response = sent(at_weir, "post", f"/api/v1/{resource}/", body)
    assert response.status_code == (200 if "bulk" in resource else 409), response.content
    told = response.json() | {"instance": "", "request_id": ""}
    assert not told.keys() & {"request", "delivery_check", "movement"}
    for own in re.findall(r"ZETA[-\w]*", json.dumps(body)):
        told = json.loads(json.dumps(told).replace(own, "OWN"))
    assert HIDDEN not in json.dumps(told)
    assert re.search("exists already|already exists", json.dumps(told))
