"""Tags and numbers with slashes come in by every door, and have an address of their own."""

import io
from typing import Any

import pytest
from rest_framework.test import APIClient

from api.exchange.files import read_file
from api.exchange.run import run_import
from drives.models import Position
from inventory.models import Item
from tests import factories as make
from tests.api.records import change, errors, post

pytestmark = pytest.mark.django_db
API = "/api/v1/"
NOT_A_KEY = ["/A", "A/", "A//B", "A/../B", "./A", "..", "A/movements", "P/1/substitutes"]


def test_a_number_with_a_slash_is_posted_and_found(as_manager: APIClient) -> None:
    made = as_manager.post(f"{API}items/", {"stock_number": "SPR 1/2-08B/17"})
    assert made.status_code == 201, made.content
    assert made["Location"].endswith(f"{API}items/SPR%201/2-08B/17/")
    for address in ("items/SPR%201/2-08B/17/", "items/SPR%201%2F2-08B%2F17/"):
        assert as_manager.get(f"{API}{address}").json()["stock_number"] == "SPR 1/2-08B/17"
        assert as_manager.get(f"{API}{address}movements/").json()["results"] == []
        assert as_manager.get(f"{API}{address}substitutes/").status_code == 200
    assert change(as_manager, f"{API}items/SPR%201%2F2-08B%2F17/", {"note": "x"}).json()["note"] == "x"


@pytest.mark.parametrize("below", ["", "substitutes/", "exposure/?item=SPR-1"])
def test_a_tag_with_a_slash_has_its_answers(below: str, as_viewer: APIClient) -> None:
    make.PositionFactory(tag="KLN/1/DRV")
    make.ItemFactory(stock_number="SPR-1")
    assert as_viewer.get(f"{API}positions/KLN%2F1%2FDRV/{below}").status_code == 200
    assert as_viewer.get(f"{API}positions/KLN/2/DRV/{below}").status_code == 404


def test_an_order_with_a_slash_is_sent_and_read(as_integration: APIClient) -> None:
    place: Position = make.PositionFactory()
    path = f"{API}work-orders/planning/4711%2F10/"
    body: dict[str, Any] = {"position": place.tag, "updated_at": "2024-03-05T07:30:00Z"}
    assert as_integration.put(path, body).status_code == 201
    assert as_integration.get(path).json()["external_id"] == "4711/10"
    assert as_integration.get(f"{path}readiness/").status_code == 200


@pytest.mark.parametrize("number", NOT_A_KEY)
def test_what_cannot_stand_in_an_address_is_refused_by_either_door(
    number: str, as_manager: APIClient
) -> None:
    refused = post(as_manager, f"{API}items/", {"stock_number": number})
    assert (refused.status_code, set(errors(refused))) == (400, {"/stock_number"})
    content = f"stock_number,description\n{number},x\n".encode()
    report = run_import("items", read_file(io.BytesIO(content)))
    assert [error.fact.code for row in report.row_results for error in row.errors] == ["key_without_address"]
    assert not Item.objects.exists()


def test_a_file_brings_the_same_numbers(as_viewer: APIClient) -> None:
    content = b"stock_number,description\nSPR/1,x\n"
    run_import("items", read_file(io.BytesIO(content)))
    assert as_viewer.get(f"{API}items/SPR%2F1/").status_code == 200
