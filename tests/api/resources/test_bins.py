import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/bins/"


def test_it_belongs_to_a_storeroom(as_manager: APIClient) -> None:
    room = make.StoreroomFactory()
    for reference in ("MAIN", room.pk):
        made = as_manager.post(PATH, {"storeroom": reference, "code": f"B-{reference}"})
        assert (made.status_code, made.json()["storeroom"]) == (201, "MAIN")


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"storeroom": "NOWHERE", "code": "A//7"}
    assert set(errors(as_manager.post(PATH, wrong))) == {"/storeroom", "/code"}


def test_a_code_is_given_once_in_a_storeroom(as_manager: APIClient) -> None:
    make.BinFactory(code="A-07")
    response = as_manager.post(PATH, {"storeroom": "MAIN", "code": "A-07"})
    assert response.status_code == 409
    assert response.json()["detail"] == "This storeroom already has a bin of that code."
    assert "'A-07'" in str(errors(as_manager.post(PATH, {"storeroom": "MAIN", "code": "a-07"}))["/code"])
    make.StoreroomFactory(code="NORTH")
    assert as_manager.post(PATH, {"storeroom": "NORTH", "code": "A-07"}).status_code == 201


def test_one_with_stock_cannot_be_deleted(as_manager: APIClient) -> None:
    place = make.BinFactory()
    make.stock(make.ItemFactory(), place.storeroom, 1, bin=place)
    path = f"{PATH}{place.pk}/"
    assert as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"]).status_code == 409


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.BinFactory(code="A-07")
    make.BinFactory(code="B-01", storeroom=make.StoreroomFactory(code="NORTH"))
    assert names(as_viewer.get(f"{PATH}?storeroom=NORTH"), "code") == ["B-01"]
    assert names(as_viewer.get(f"{PATH}?q=a-0"), "code") == ["A-07"]
    assert names(as_viewer.get(f"{PATH}?ordering=-storeroom"), "code") == ["B-01", "A-07"]
