"""Every list as a file: all rows, in the caller's reach, with no cell that a spreadsheet takes for a formula."""

import csv
import io
from typing import Any

import openpyxl
import pytest
from rest_framework.test import APIClient

from api.edge import schema
from api.edge.list_files import CalculatedMeanwhileError
from api.edge.scope import limit_to
from api.models import AccessToken, Role
from drives.models import Cover
from tests import factories as make
from tests.api.records import API
from tests.jobs import forget_answers, get_calculated

pytestmark = pytest.mark.django_db
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def lines(response: Any) -> list[dict[str, str]]:
    assert (response.status_code, response["Content-Type"]) == (200, "text/csv; charset=utf-8")
    return list(csv.DictReader(io.StringIO(response.getvalue().decode())))


def test_a_file_has_every_row_however_small_the_page(as_viewer: APIClient, monkeypatch: Any) -> None:
    monkeypatch.setattr("api.edge.list_files.MAX_LIMIT", 2)
    for n in range(5):
        make.ItemFactory(stock_number=f"SPR-{n}", description="=1+1" if n == 3 else "wheel")
    found = lines(as_viewer.get(f"{API}items/", {"format": "csv", "ordering": "-stock_number"}))
    assert [row["stock_number"] for row in found] == [f"SPR-{n}" for n in (4, 3, 2, 1, 0)]
    assert found[1]["description"] == "'=1+1"
    assert {"specification.chain", "specification.teeth"} <= set(found[0])


def test_filters_and_the_list_below_a_record_count_too(as_viewer: APIClient) -> None:
    item = make.ItemFactory(stock_number="SPR-1")
    make.stock(item, make.StoreroomFactory(code="MAIN"), 3)
    make.ItemFactory(stock_number="SPR-2")
    found = lines(as_viewer.get(f"{API}items/", {"q": "SPR-1"}, HTTP_ACCEPT="text/csv"))
    assert [row["stock_number"] for row in found] == ["SPR-1"]
    moved = lines(as_viewer.get(f"{API}items/SPR-1/movements/?format=csv"))
    assert [(row["item"], row["change"]) for row in moved] == [("SPR-1", "3")]
    assert lines(as_viewer.get(f"{API}kits/?format=csv")) == []


def test_a_workbook_keeps_numbers_and_harmless_texts(as_viewer: APIClient) -> None:
    make.stock(make.ItemFactory(stock_number="-2"), make.StoreroomFactory(), 7)
    response = as_viewer.get(f"{API}stock/", HTTP_ACCEPT=WORKBOOK)
    assert (response.status_code, response["Content-Type"]) == (200, WORKBOOK)
    sheet = openpyxl.load_workbook(io.BytesIO(response.getvalue())).active
    header, row = [list(cells) for cells in sheet.values]
    shown = dict(zip(header, row, strict=True))
    assert (shown["item"], shown["on_hand"]) == ("'-2", 7)


def test_a_file_has_no_row_that_its_reader_may_not_see(monkeypatch: Any) -> None:
    monkeypatch.setattr("api.edge.list_files.MAX_LIMIT", 1)
    near, far = make.StoreroomFactory(code="NEAR"), make.StoreroomFactory(code="FAR")
    for n, room in enumerate((near, far, near)):
        make.stock(make.ItemFactory(stock_number=f"SPR-{n}"), room, 1)
    token, secret = AccessToken.objects.issue("near", role=Role.VIEWER)
    limit_to({"token": token}, [], [near])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    found = lines(client.get(f"{API}stock/?format=csv"))
    assert [row["storeroom"] for row in found] == ["NEAR", "NEAR"]


def test_every_operation_that_lists_gives_files(as_manager: APIClient) -> None:
    lists = {
        path: one["get"]["responses"]["200"]["content"].keys()
        for path, one in schema.document()["paths"].items()
        if one.get("get", {}).get("summary", "").startswith("List ")
    }
    assert len(lists) > 60
    assert {path for path, forms in lists.items() if not forms >= {"text/csv", WORKBOOK}} == set()
    for path in lists:
        if "{" not in path:
            query = {"format": "csv"} | ({"budget": "1000"} if "/frontier/" in path else {})
            assert lines(get_calculated(as_manager, path, query)) is not None, path


def test_a_list_that_is_not_calculated_yet_is_no_file(as_viewer: APIClient) -> None:
    asked = as_viewer.get(f"{API}exposure/", HTTP_ACCEPT="text/csv")
    assert (asked.status_code, asked["Content-Type"]) == (202, "application/json")
    assert asked.json()["state"] == "queued"


def test_a_file_holds_rows_of_one_calculation(as_viewer: APIClient, monkeypatch: Any) -> None:
    monkeypatch.setattr("api.edge.list_files.MAX_LIMIT", 1)
    for _ in range(2):
        Cover.objects.create(position=make.PositionFactory(), item=make.ItemFactory(), grade="drop_in")
    calculated = get_calculated(as_viewer, f"{API}exposure/", {"format": "csv"})
    assert len(lines(calculated)) == 2
    begun = as_viewer.get(f"{API}exposure/", {"format": "csv"})
    forget_answers()
    with pytest.raises(CalculatedMeanwhileError):
        begun.getvalue()


def test_a_refusal_stays_readable_and_a_single_record_is_no_file(as_viewer: APIClient) -> None:
    refused = as_viewer.get(f"{API}items/?format=csv&colour=blue")
    assert (refused.status_code, refused["Content-Type"]) == (400, "application/problem+json")
    make.ItemFactory(stock_number="SPR-1")
    assert as_viewer.get(f"{API}items/SPR-1/?format=csv").status_code == 406


def test_who_reads_pages_alone_is_led_to_the_one_that_explains(as_viewer: APIClient) -> None:
    led = as_viewer.get(f"{API}items/", HTTP_ACCEPT="text/html")
    assert (led.status_code, led["Location"]) == (303, f"{API}docs/items/")
