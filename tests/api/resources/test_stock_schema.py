"""What the acts on stock answer, against their description."""

from datetime import timedelta
from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from drives.models import WorkOrder
from inventory.models import CountTask, FitQuestion, Storeroom
from tests import factories as make
from tests.api.answer_schemas import check_answer
from tests.api.records import API, post

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    built: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return built


@pytest.fixture
def main(db: None) -> Storeroom:
    room = make.StoreroomFactory()
    make.stock(make.ItemFactory(stock_number="SPR-1"), room, 5)
    return room


def check(document: dict[str, Any], path: str, response: Any, method: str = "post") -> Any:
    return check_answer(document, f"{API}{path}", method, response)


def test_the_ways_out_answer_as_described(
    document: dict[str, Any], as_storeroom: APIClient, main: Storeroom
) -> None:
    make.stock(make.ItemFactory(stock_number="SPR-2"), main, 1)
    body = {"item": "SPR-1", "storeroom": "MAIN"}
    issue = {**body, "kind": "issue", "quantity": 9}
    check(document, "movements/", post(as_storeroom, f"{API}movements/", issue, key="k-0"))
    found = post(as_storeroom, f"{API}movements/found/", body | {"quantity": 9}, key="k-1")
    shown = check(document, "movements/found/", found)
    gone = post(as_storeroom, f"{API}movements/not-there/", body, key="k-2")
    assert check(document, "movements/not-there/", gone)["next"]
    back = post(as_storeroom, f"{API}movements/{shown['id']}/reverse/", {"reason": "x"}, key="k-3")
    assert check(document, "movements/{id}/reverse/", back)["reverses"] == shown["id"]


def test_what_was_counted_answers_as_described(
    document: dict[str, Any], as_storeroom: APIClient, main: Storeroom
) -> None:
    asked = post(as_storeroom, f"{API}count-tasks/", {"item": "SPR-1", "storeroom": "MAIN"})
    check(document, "count-tasks/", asked)
    path = f"{API}count-tasks/{CountTask.objects.get().pk}/count/"
    check(document, "count-tasks/{id}/count/", post(as_storeroom, path, {"counted": 4}, key="c-1"))
    told = as_storeroom.get(f"{API}count-tasks/accuracy/")
    assert check(document, "count-tasks/accuracy/", told, "get")["counted"] == 1


def test_what_did_not_fit_answers_as_described(
    document: dict[str, Any], as_storeroom: APIClient, main: Storeroom
) -> None:
    back = {"kind": "return", "item": "SPR-1", "storeroom": "MAIN", "quantity": 1}
    back |= {"reason_code": "did_not_fit", "position": make.PositionFactory().tag}
    check(document, "movements/", post(as_storeroom, f"{API}movements/", back))
    check(document, "fit-questions/", as_storeroom.get(f"{API}fit-questions/"), "get")
    path = f"{API}fit-questions/{FitQuestion.objects.get().pk}/answer/"
    check(document, "fit-questions/{id}/answer/", post(as_storeroom, path, {"answer": "24.9"}, key="a"))


@pytest.mark.parametrize("query", ["", "?as_of=2100-01-01T00:00:00Z"])
@pytest.mark.parametrize(
    ("address", "path"), [("stock/", "stock/"), ("items/SPR-1/stock/", "items/{id}/stock/")]
)
def test_the_shelves_answer_as_described(
    address: str, path: str, query: str, document: dict[str, Any], as_viewer: APIClient, main: Storeroom
) -> None:
    assert check(document, path, as_viewer.get(f"{API}{address}{query}"), "get")["results"]


def test_readiness_and_approvals_answer_as_described(
    document: dict[str, Any], as_manager: APIClient, main: Storeroom
) -> None:
    WorkOrder.objects.create(
        source="plan",
        external_id="WO-1",
        source_updated_at=make.MORNING,
        parts_needed=[{"item": "SPR-1", "quantity": 9}, {"item": "NOWHERE"}],
    )
    told = as_manager.get(f"{API}work-orders/plan/WO-1/readiness/")
    path = "work-orders/{source}/{external_id}/readiness/"
    assert len(check(document, path, told, "get")["lines"]) == 2
    unit = make.InstallationFactory(installed_at=make.MORNING)
    body = {"approved_by": "Ines Okafor", "until_on": str(unit.created_at.date() + timedelta(days=2))}
    address = f"{API}installations/{unit.pk}/approvals/"
    check(document, "installations/{id}/approvals/", post(as_manager, address, body))
    check(document, "installations/{id}/approvals/", as_manager.get(address), "get")
