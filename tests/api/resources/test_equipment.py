import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/equipment/"
ELEVATOR = {"tag": "KILN-EL1", "name": "Bucket elevator"}


def test_its_area_may_be_named_in_full_in_short_or_by_id(as_manager: APIClient) -> None:
    area = make.AreaFactory()
    for n, reference in enumerate(("WEIR/STEEP", "STEEP", area.pk)):
        made = as_manager.post(PATH, ELEVATOR | {"tag": f"EL-{n}", "area": reference})
        assert (made.status_code, made.json()["area"], made.json()["plant"]) == (201, "WEIR/STEEP", "WEIR")


def test_a_short_name_that_two_plants_have_is_asked_about(as_manager: APIClient) -> None:
    make.AreaFactory()
    make.AreaFactory(plant=make.PlantFactory(code="MILL"))
    found = errors(as_manager.post(PATH, ELEVATOR | {"area": "STEEP"}))
    assert found["/area"] == "More than one plant has an area STEEP: give it as MILL/STEEP."


@pytest.mark.parametrize("area", ["NOWHERE", "WEIR/NOWHERE", "/STEEP", "", None, 7.5, 10**30])
def test_an_area_that_is_not_there_is_refused(area: object, as_manager: APIClient) -> None:
    make.AreaFactory()
    assert set(errors(as_manager.post(PATH, ELEVATOR | {"area": area}))) == {"/area"}


@pytest.mark.parametrize("tag", ["A//B", "/B", "A/", "..", "", "T" * 41, "EL\u200b1", "EL\n1", 7])
def test_a_tag_can_stand_in_an_address(tag: object, as_manager: APIClient) -> None:
    make.AreaFactory()
    wrong = {"tag": tag, "area": "STEEP", "name": "x", "standby": 1}
    assert set(errors(as_manager.post(PATH, wrong))) == {"/tag", "/standby"}


def test_a_tag_of_any_letters_is_found(as_manager: APIClient) -> None:
    make.AreaFactory()
    for tag in ("Gärkeller 2.1", "+EL&1?", "轴-1"):
        made = as_manager.post(PATH, {"tag": tag, "area": "STEEP", "name": "x"})
        assert as_manager.get(made["Location"]).json()["tag"] == tag


def test_a_tag_is_given_once(as_manager: APIClient) -> None:
    make.EquipmentFactory()
    response = as_manager.post(PATH, {"tag": "STEEP-EL1", "area": "STEEP", "name": "Another"})
    assert (response.status_code, set(errors(response))) == (409, {"/tag"})


def test_one_with_drives_cannot_be_deleted(as_manager: APIClient) -> None:
    path = f"{PATH}{make.DriveFactory(tag='D-1').equipment.tag}/"
    response = as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"])
    assert (response.status_code, response.json()["blockers"]) == (409, [{"kind": "drive", "name": "D-1"}])


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.EquipmentFactory()
    area = make.AreaFactory(plant=make.PlantFactory(code="MILL"), code="KILN")
    make.EquipmentFactory(tag="KILN-C1", area=area, name="Conveyor", standby=True)
    assert names(as_viewer.get(f"{PATH}?plant=MILL"), "tag") == ["KILN-C1"]
    assert names(as_viewer.get(f"{PATH}?area=STEEP"), "tag") == ["STEEP-EL1"]
    assert names(as_viewer.get(f"{PATH}?standby=true"), "tag") == ["KILN-C1"]
    assert names(as_viewer.get(f"{PATH}?q=bucket el1"), "tag") == ["STEEP-EL1"]
    assert names(as_viewer.get(f"{PATH}?ordering=-tag"), "tag") == ["STEEP-EL1", "KILN-C1"]
