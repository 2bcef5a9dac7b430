from itertools import permutations
from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from inventory.models import SupplyOrder
from tests import factories as make
from tests.api.records import errors, names
from tests.api.resources.test_record_schema import NASTY, answer_of, body_of
from tests.conftest import ClientFor

pytestmark = pytest.mark.django_db
LIST = "/api/v1/supply-orders/"
PATH = f"{LIST}purchasing/PO-1/"
TEMPLATE = f"{LIST}{{source}}/{{external_id}}/"
SENT = {
    "item": "SPR-A",
    "storeroom": "MAIN",
    "quantity": 3,
    "ordered_at": "2024-03-04T06:30:00Z",
    "promised_on": "2024-03-25",
    "received": 0,
    "received_at": None,
    "emergency": False,
    "unit_price": "12.50",
    "currency": "EUR",
    "status": "open",
    "updated_at": "2024-03-04T07:00:00Z",
}
CAME: dict[str, Any] = {
    "received": 3,
    "received_at": "2024-03-20T10:00:00Z",
    "status": "received",
    "updated_at": "2024-03-20T10:05:00Z",
}


@pytest.fixture(autouse=True)
def shelves(db: None) -> None:
    make.ItemFactory(stock_number="SPR-A"), make.StoreroomFactory()


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    built: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return built


def test_a_new_order_is_recorded_as_it_was_sent(as_integration: APIClient) -> None:
    made = as_integration.put(PATH, SENT)
    assert made.status_code == 201, made.content
    told = SENT | {"source": "purchasing", "external_id": "PO-1", "outstanding": 3, "applied": True}
    assert told.items() <= made.json().items()


def test_the_tag_of_the_answer_is_that_of_the_order(as_integration: APIClient) -> None:
    made = as_integration.put(PATH, SENT)
    found = as_integration.get(PATH)
    assert found["ETag"] == made["ETag"]
    assert found.json() == {name: value for name, value in made.json().items() if name != "applied"}
    assert as_integration.get(PATH, HTTP_IF_NONE_MATCH=made["ETag"]).status_code == 304


def test_only_the_needed_members_must_be_given(as_integration: APIClient) -> None:
    body = {name: SENT[name] for name in ("item", "storeroom", "quantity", "ordered_at", "updated_at")}
    shown = as_integration.put(PATH, body).json()
    assert (shown["status"], shown["received"], shown["unit_price"], shown["currency"]) == (
        "open",
        0,
        None,
        "EUR",
    )


def test_the_same_again_changes_nothing(as_integration: APIClient) -> None:
    first = as_integration.put(PATH, SENT)
    again = as_integration.put(PATH, SENT)
    assert (again.status_code, again.json()["applied"]) == (200, False)
    assert again["ETag"] == first["ETag"]


def test_a_newer_message_is_applied(as_integration: APIClient) -> None:
    as_integration.put(PATH, SENT)
    newer = as_integration.put(PATH, SENT | CAME)
    assert (newer.status_code, newer.json()["applied"]) == (200, True)
    assert (newer.json()["outstanding"], newer.json()["status"]) == (0, "received")


@pytest.mark.parametrize("updated_at", [SENT["updated_at"], "2024-03-03T07:00:00Z"])
def test_what_is_no_newer_is_answered_and_not_applied(updated_at: str, as_integration: APIClient) -> None:
    as_integration.put(PATH, SENT)
    older = as_integration.put(PATH, SENT | {"quantity": 9, "updated_at": updated_at})
    assert (older.status_code, older.json()["applied"], older.json()["quantity"]) == (200, False, 3)


def test_any_order_of_delivery_ends_in_the_same_order(as_integration: APIClient) -> None:
    part = {"received": 1, "received_at": "2024-03-18T10:00:00Z", "updated_at": "2024-03-18T10:05:00Z"}
    for number, messages in enumerate(permutations([SENT, SENT | part, SENT | CAME])):
        path = f"{LIST}purchasing/PO-{number}/"
        for message in messages:
            assert as_integration.put(path, message).status_code in (200, 201)
        assert CAME.items() <= as_integration.get(path).json().items()


def test_what_was_read_can_be_put_back(as_integration: APIClient) -> None:
    as_integration.put(PATH, SENT)
    again = as_integration.put(PATH, as_integration.get(PATH).json())
    assert (again.status_code, again.json()["applied"]) == (200, False)


def test_the_address_names_the_order(as_integration: APIClient) -> None:
    as_integration.put(PATH, SENT)
    response = as_integration.put(PATH, SENT | {"external_id": "PO-2", "id": 77})
    assert set(errors(response)) == {"/external_id", "/id"}


def test_a_message_without_its_version_is_refused(as_integration: APIClient) -> None:
    response = as_integration.put(PATH, {name: SENT[name] for name in SENT if name != "updated_at"})
    assert (response.status_code, set(errors(response))) == (400, {"/updated_at"})


def test_every_bad_member_is_named_at_once(as_integration: APIClient) -> None:
    wrong = {
        "item": "NOTHING",
        "storeroom": 7.5,
        "quantity": 0,
        "ordered_at": "today",
        "promised_on": "soon",
        "received": -1,
        "received_at": 7,
        "emergency": "no",
        "unit_price": 12.5,
        "currency": "eur",
        "status": "lost",
        "updated_at": None,
    }
    assert set(errors(as_integration.put(PATH, wrong))) == {f"/{name}" for name in wrong}
    assert not SupplyOrder.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "member"),
    [
        ({"received": 4, "received_at": "2024-03-20T10:00:00Z"}, "/received"),
        ({"received": 3, "status": "received"}, "/received_at"),
        ({"received": 3, "received_at": "2100-01-01T00:00:00Z"}, "/received_at"),
        ({"received": 3, "received_at": "2024-03-01T00:00:00Z"}, "/received_at"),
        ({"ordered_at": "2100-01-01T00:00:00Z"}, "/ordered_at"),
        ({"updated_at": "2100-01-01T00:00:00Z"}, "/updated_at"),
    ],
)
def test_what_cannot_be_names_its_member(
    wrong: dict[str, Any], member: str, as_integration: APIClient
) -> None:
    assert set(errors(as_integration.put(PATH, SENT | wrong))) == {member}


def test_a_name_that_is_too_long_is_refused(as_integration: APIClient) -> None:
    assert set(errors(as_integration.put(f"{LIST}{'x' * 41}/PO-1/", SENT))) == {"/source"}
    assert set(errors(as_integration.put(f"{LIST}purchasing/{'x' * 61}/", SENT))) == {"/external_id"}


@pytest.mark.parametrize(
    ("role", "status"), [("integration", 201), ("manager", 201), ("storeroom", 403), ("viewer", 403)]
)
def test_who_may_write(role: str, status: int, client_for: ClientFor) -> None:
    assert client_for(role).put(PATH, SENT).status_code == status


def test_a_stranger_reads_and_writes_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.put(PATH, SENT).status_code == 401
    assert [as_stranger.get(path).status_code for path in (LIST, PATH)] == [401, 401]


@pytest.mark.parametrize("method", ["post", "patch", "delete"])
def test_other_ways_of_writing_are_not_taken(method: str, as_integration: APIClient) -> None:
    as_integration.put(PATH, SENT)
    response = getattr(as_integration, method)(PATH, {}, HTTP_IF_MATCH="*")
    assert (response.status_code, response["Allow"]) == (405, "GET, PUT, HEAD, OPTIONS")


def test_what_is_not_there_is_not_found(as_viewer: APIClient) -> None:
    for name in ("PO-1", "%00", "☃", "9" * 40):
        assert as_viewer.get(f"{LIST}purchasing/{name}/").status_code == 404


def test_a_list_costs_the_same_queries_however_long(
    as_viewer: APIClient, django_assert_num_queries: Any
) -> None:
    for _ in range(5):
        make.SupplyOrderFactory()
    with django_assert_num_queries(2):
        assert len(as_viewer.get(LIST).json()["results"]) == 5


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("", ["PO-2", "PO-1"]),
        ("item=SPR-A", ["PO-1"]),
        ("source=purchasing&storeroom=MAIN", ["PO-2", "PO-1"]),
        ("external_id=PO-2", ["PO-2"]),
        ("status=received,cancelled", ["PO-2"]),
        ("emergency=true", ["PO-2"]),
        ("received__gte=1", ["PO-2"]),
        ("quantity__lte=1", ["PO-1"]),
        ("unit_price__gte=50", ["PO-2"]),
        ("ordered_at__gte=2024-03-05T00:00:00Z", ["PO-2"]),
        ("received_at__lte=2024-03-30T00:00:00Z", ["PO-2"]),
        ("updated_at__gte=2024-03-05T00:00:00Z", ["PO-2"]),
        ("promised_on__lte=2024-03-31", ["PO-1"]),
        ("q=SPR-A", ["PO-1"]),
        ("ordering=updated_at", ["PO-1", "PO-2"]),
        ("storeroom=NORTH", []),
    ],
)
def test_it_is_filtered(query: str, numbers: list[str], as_viewer: APIClient) -> None:
    make.SupplyOrderFactory(
        external_id="PO-1", item=make.ItemFactory(stock_number="SPR-A"), promised_on="2024-03-25"
    )
    make.SupplyOrderFactory(
        external_id="PO-2",
        ordered_at=make.MORNING.replace(day=6),
        received_at=make.MORNING.replace(day=9),
        source_updated_at=make.MORNING.replace(day=9),
        quantity=2,
        received_quantity=2,
        status="received",
        emergency=True,
        unit_price="60",
    )
    assert names(as_viewer.get(f"{LIST}?{query}"), "external_id") == numbers


def test_a_filter_that_is_not_understood_is_refused(as_viewer: APIClient) -> None:
    response = as_viewer.get(f"{LIST}?status=lost&nosuch=1&promised_on__gte=soon")
    assert {row["parameter"] for row in response.json()["errors"]} == {"status", "nosuch", "promised_on__gte"}


def test_it_is_as_described(document: dict[str, Any], as_integration: APIClient) -> None:
    body_of(document, TEMPLATE, "put").validate(SENT)
    made = as_integration.put(PATH, SENT)
    answer_of(document, TEMPLATE, "put", "201").validate(made.json())
    answer_of(document, TEMPLATE, "put", "200").validate(as_integration.put(PATH, SENT).json())
    answer_of(document, TEMPLATE, "get", "200").validate(as_integration.get(PATH).json())
    answer_of(document, LIST, "get", "200").validate(as_integration.get(LIST).json())


def test_no_value_makes_it_fail(document: dict[str, Any], as_integration: APIClient) -> None:
    known = document["paths"][TEMPLATE]["put"]["responses"]
    for value in NASTY:
        response = as_integration.put(PATH, dict.fromkeys(SENT, value))
        assert str(response.status_code) in known, (value, response.content)
        refused = {row["pointer"].split("/")[1] for row in response.json()["errors"]}
        taken = {name: value for name in SENT if name not in refused}
        assert as_integration.put(PATH, SENT | taken).status_code in (200, 201, 400), taken
