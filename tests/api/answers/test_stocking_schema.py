"""What the stocking answers are said to be against what they are."""

from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator
from rest_framework.test import APIClient

from inventory.models import StockPolicy
from tests import factories as make
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
API = "/api/v1/"


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    built: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return built


@pytest.fixture
def plant(as_manager: APIClient) -> APIClient:
    """One drive with a sprocket fitted, a policy below its point, and a run over it."""
    installed = make.InstallationFactory()
    room = make.StoreroomFactory()
    StockPolicy.objects.create(item=installed.item, storeroom=room, reorder_point=3, order_up_to=4)
    make.stock(installed.item, room, 1)
    assert as_manager.post(f"{API}stocking/runs/").status_code == 202
    run_queued_jobs()
    return as_manager


def assert_described(document: dict[str, Any], path: str, response: Any, method: str = "get") -> None:
    described = document["paths"][f"{API}{path}"][method]["responses"][str(response.status_code)]
    schema = described["content"]["application/json"]["schema"]
    Draft202012Validator({**schema, "components": document["components"]}).validate(response.json())


@pytest.mark.parametrize(
    ("path", "query"),
    [
        ("recommendations/", ""),
        ("reorder-list/", ""),
        ("stocking/runs/", ""),
        ("jobs/", ""),
    ],
)
def test_lists_are_as_described(document: dict[str, Any], plant: APIClient, path: str, query: str) -> None:
    response = plant.get(f"{API}{path}{query}")
    assert response.json().get("results", [True])
    assert_described(document, path, response)


@pytest.mark.parametrize(
    ("path", "query"), [("stocking/frontier/", "?budget=200"), ("exposure/", ""), ("stocking/backtest/", "")]
)
def test_what_a_job_calculates_is_as_described_before_and_after(
    document: dict[str, Any], plant: APIClient, path: str, query: str
) -> None:
    accepted = plant.get(f"{API}{path}{query}")
    assert accepted.status_code == 202
    assert_described(document, path, accepted)
    run_queued_jobs()
    found = plant.get(f"{API}{path}{query}")
    assert found.status_code == 200
    assert_described(document, path, found)


def test_single_ones_and_acts_are_as_described(document: dict[str, Any], plant: APIClient) -> None:
    for name in ("recommendations/", "stocking/runs/"):
        key = plant.get(f"{API}{name}").json()["results"][0]["id"]
        assert_described(document, f"{name}{{id}}/", plant.get(f"{API}{name}{key}/"))
    key = plant.get(f"{API}recommendations/").json()["results"][0]["id"]
    accepted = plant.post(f"{API}recommendations/{key}/accept/")
    assert_described(document, "recommendations/{id}/accept/", accepted, "post")
    assert_described(document, "stocking/runs/", plant.post(f"{API}stocking/runs/"), "post")
