import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/areas/"


def test_it_says_how_others_refer_to_it(as_manager: APIClient) -> None:
    make.PlantFactory()
    made = as_manager.post(PATH, {"plant": "WEIR", "code": "KILN", "name": "Kilning"})
    assert (made.status_code, made.json()["path"]) == (201, "WEIR/KILN")


def test_a_code_is_given_once_in_a_plant(as_manager: APIClient) -> None:
    make.AreaFactory()
    response = as_manager.post(PATH, {"plant": "WEIR", "code": "STEEP", "name": "Another"})
    assert response.status_code == 409
    assert response.json()["detail"] == "This plant already has an area of that code."


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {"plant": "NOWHERE", "code": "A/B", "name": "n" * 81}
    assert set(errors(as_manager.post(PATH, wrong))) == {f"/{name}" for name in wrong}


def test_one_with_equipment_cannot_be_deleted(as_manager: APIClient) -> None:
    path = f"{PATH}{make.EquipmentFactory().area.pk}/"
    assert as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"]).status_code == 409


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.AreaFactory()
    make.AreaFactory(plant=make.PlantFactory(code="MILL"), code="KILN", name="Kilning")
    assert names(as_viewer.get(f"{PATH}?plant=MILL"), "path") == ["MILL/KILN"]
    assert names(as_viewer.get(f"{PATH}?q=steep"), "code") == ["STEEP"]
    assert names(as_viewer.get(f"{PATH}?code=STEEP,KILN&ordering=-plant"), "plant") == ["WEIR", "MILL"]
