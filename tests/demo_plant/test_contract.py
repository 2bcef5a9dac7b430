"""What the demo plant answers, against the OpenAPI document: every GET, and every example of a request."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from rest_framework.test import APIClient

from api.edge import schema
from tests.api.answer_schemas import check_answer, description_of, validator
from tests.api.contract_acts import Acts, fill
from tests.api.contract_walk import Walk
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
TOLD = ("ETag", "Link", "Location", "Retry-After", "Idempotency-Replayed", "WWW-Authenticate")
MUST_WORK = {
    *(
        "book_movement",
        "reverse_movement",
        "book_piece_that_record_lacks",
        "record_empty_shelf",
        "reserve_part",
    ),
    *(
        "release_reservation",
        "reserve_parts_of_job_as_kit",
        "record_where_kit_stands",
        "request_count",
        "record_count",
    ),
    *("record_request", "record_inspection", "record_removal_of_installation", "merge_item_into_another"),
    *("send_work_order", "send_many_work_orders", "send_supply_order", "check_delivery_and_book_it"),
    *(
        "accept_recommendation",
        "record_substitution_rule",
        "check_interchange",
        "calculate_drive",
        "run_down_item",
    ),
    *("identify_sprocket_by_its_measurements", "judge_delivered_part", "read_attributes_of_descriptions"),
    *("fit_lives_of_units", "evaluate_stock_level", "back_test_rules_on_given_demand", "set_stocking_terms"),
}


SEEN = {
    *(
        "stock.moved",
        "reservation.made",
        "reservation.released",
        "kit.made",
        "kit.staged",
    ),
    *(
        "kit.released",
        "delivery.checked",
        "fit_question.opened",
        "substitution_rule.given",
        "work_order.changed",
    ),
    *("substitution_rule.withdrawn", "installation.begun", "installation.ended", "item.merged"),
}
"""Types of events that the demo plant and the acts write."""


@pytest.fixture
def manager(demo_plant: None, db: None) -> APIClient:
    client = APIClient()
    client.force_login(get_user_model().objects.create_superuser("contract"))
    return client


@pytest.fixture
def document() -> dict[str, Any]:
    return schema.document()


def check(document: dict[str, Any], path: str, method: str, response: Any) -> None:
    if response.status_code != 204:
        check_answer(document, path, method, response)
    described = description_of(document, path, method, response.status_code).get("headers", {})
    assert {name for name in TOLD if name in response.headers} <= set(described), (method, path)


def test_every_answer_is_as_described(manager: APIClient, document: dict[str, Any]) -> None:
    fill(manager)
    asked = 0
    for one in Walk(manager, document, calculate=run_queued_jobs):
        assert one.response.status_code == 200, (one.address, one.response.content[:500])
        check(document, one.path, "get", one.response)
        asked += 1
    assert asked > len([path for path, item in document["paths"].items() if "get" in item])


@pytest.mark.sqlite
def test_every_example_of_a_request_is_answered_as_described(
    manager: APIClient, document: dict[str, Any]
) -> None:
    fill(manager)
    done = set()
    for one in Acts(manager, document):
        assert one.response.status_code < 500, one.address
        check(document, one.path, one.method, one.response)
        if one.response.status_code < 300:
            done.add(one.name)
    assert MUST_WORK - done == set()
    assert set(events_since(manager, document, 0)) >= SEEN


def events_since(manager: APIClient, document: dict[str, Any], after: int) -> Iterator[str]:
    """The type of each event that the demo plant and the acts have written, after it was held against its schema."""
    checked = {
        name: validator(document, {"$ref": address})
        for name, address in document["components"]["schemas"]["Event"]["discriminator"]["mapping"].items()
    }
    while True:
        page = manager.get("/api/v1/events/", {"after": after, "limit": 500}).json()
        for event in page["results"]:
            checked[event["type"]].validate(event)
            yield event["type"]
        after = page["after"]
        if page["next"] is None:
            return
