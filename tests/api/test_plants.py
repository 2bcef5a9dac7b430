import pytest

from tests import factories as make
from tests.api.records import API, errors, names

pytestmark = pytest.mark.django_db


def test_a_plant_names_its_storeroom_by_code(as_manager):
    room = make.StoreroomFactory()

    shown = as_manager.post(
        f"{API}plants/", {"code": "MILL", "name": "Mill Road maltings", "storeroom": room.code}
    ).json()

    assert shown["storeroom"] == room.code


def test_a_reference_that_leads_nowhere_is_named(as_manager):
    response = as_manager.post(
        f"{API}plants/",
        {"code": "MILL", "name": "Mill Road", "storeroom": "NOWHERE", "timezone": "Mars/Base"},
    )

    assert set(errors(response)) == {"/storeroom", "/timezone"}


def test_an_area_stands_in_one_plant_once(as_manager):
    area = make.AreaFactory()

    response = as_manager.post(f"{API}areas/", {"plant": area.plant.code, "code": area.code, "name": "Again"})

    assert response.status_code in (400, 409)
    assert "already" in response.content.decode()


def test_equipment_is_found_by_plant_and_words(as_viewer):
    one = make.EquipmentFactory(tag="KILN-C1", name="Kiln conveyor")
    make.EquipmentFactory()

    assert names(as_viewer.get(f"{API}equipment/", {"q": "conveyor", "plant": "WEIR"}), "tag") == [one.tag]


def test_a_plant_with_areas_is_not_deleted(as_manager):
    path = f"{API}plants/{make.AreaFactory().plant.code}/"

    assert as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"]).status_code == 409
