from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from inventory.models import StockingTerms
from tests import factories as make
from tests.api.records import errors
from tests.api.resources.test_record_schema import NASTY, answer_of, body_of
from tests.conftest import ClientFor

pytestmark = pytest.mark.django_db
PATH = "/api/v1/stocking/terms/"
START = {
    "holding_rate_per_year": 0.2,
    "order_cost": None,
    "currency": "EUR",
    "hours_to_expedite": None,
    "planning_days": 7.0,
    "staging_days": 1,
    "chain_joints": 0,
    "worst_grade": "with_work",
    "are_set": False,
    "updated_at": None,
}
OWN = {
    "holding_rate_per_year": 0.25,
    "order_cost": "18.00",
    "currency": "EUR",
    "hours_to_expedite": 30.0,
    "planning_days": 3.0,
    "staging_days": 2,
    "chain_joints": 1,
    "worst_grade": "drop_in",
}


def put(client: APIClient, body: Any) -> Any:
    return client.put(PATH, body, HTTP_IF_MATCH=client.get(PATH)["ETag"])


def test_before_anybody_set_them_they_are_the_start_values(as_viewer: APIClient) -> None:
    assert as_viewer.get(PATH).json() == START
    assert not StockingTerms.objects.exists()


def test_the_first_put_sets_them(as_manager: APIClient) -> None:
    response = put(as_manager, OWN)
    assert response.status_code == 200, response.content
    assert (OWN | {"are_set": True}).items() <= response.json().items()
    found = as_manager.get(PATH)
    assert (found.json(), found["ETag"]) == (response.json(), response["ETag"])


def test_a_put_replaces_them_whole(as_manager: APIClient) -> None:
    put(as_manager, OWN)
    again = put(as_manager, {"holding_rate_per_year": 0.3}).json()
    assert (
        START | {"holding_rate_per_year": 0.3, "are_set": True, "updated_at": again["updated_at"]}
    ) == again
    assert StockingTerms.objects.count() == 1


def test_the_start_values_can_be_put_back_as_read(as_manager: APIClient) -> None:
    assert put(as_manager, as_manager.get(PATH).json()).json()["are_set"] is True


def test_a_change_names_the_version_that_it_was_made_from(as_manager: APIClient) -> None:
    assert as_manager.put(PATH, OWN).status_code == 428
    etag = as_manager.get(PATH)["ETag"]
    put(as_manager, OWN)
    assert as_manager.put(PATH, OWN, HTTP_IF_MATCH=etag).status_code == 412
    assert as_manager.get(PATH, HTTP_IF_NONE_MATCH=as_manager.get(PATH)["ETag"]).status_code == 304


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {
        "holding_rate_per_year": 11,
        "order_cost": 18.0,
        "currency": "eur",
        "hours_to_expedite": -1,
        "planning_days": "a week",
        "staging_days": 61,
        "chain_joints": -1,
        "worst_grade": "unfit",
        "are_set": True,
        "colour": "red",
    }
    assert set(errors(put(as_manager, wrong))) == {f"/{name}" for name in wrong}


def test_keeping_stock_costs_something(as_manager: APIClient) -> None:
    assert "/holding_rate_per_year" in errors(put(as_manager, {"holding_rate_per_year": 0}))


@pytest.mark.parametrize("role", ["storeroom", "integration", "viewer"])
def test_the_wrong_role_may_not_set_them(role: str, client_for: ClientFor) -> None:
    assert put(client_for(role), OWN).status_code == 403


def test_a_stranger_reads_and_writes_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.get(PATH).status_code == 401
    assert as_stranger.put(PATH, OWN, HTTP_IF_MATCH="*").status_code == 401


@pytest.mark.parametrize("method", ["post", "patch", "delete"])
def test_they_are_neither_added_nor_deleted(method: str, as_manager: APIClient) -> None:
    make.StockingTermsFactory()
    assert getattr(as_manager, method)(PATH, {}, HTTP_IF_MATCH="*").status_code == 405


def test_a_query_that_is_not_understood_is_refused(as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?currency=EUR").status_code == 400


def test_they_are_as_described(as_manager: APIClient) -> None:
    document: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    answer_of(document, PATH, "get", "200").validate(as_manager.get(PATH).json())
    body_of(document, PATH, "put").validate(OWN)
    answer_of(document, PATH, "put", "200").validate(put(as_manager, OWN).json())


def test_no_value_makes_it_fail(as_manager: APIClient) -> None:
    for value in NASTY:
        refused = errors(put(as_manager, dict.fromkeys(OWN, value)))
        taken = {name: value for name in OWN if f"/{name}" not in refused}
        assert put(as_manager, OWN | taken).status_code in (200, 400), taken
