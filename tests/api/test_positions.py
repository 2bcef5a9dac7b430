import pytest

from tests import factories as make
from tests.api.records import API, change, errors, names

pytestmark = pytest.mark.django_db
POSITIONS = f"{API}positions/"


def body(**more):
    return {"tag": "KILN-C1-D1-DRV", "drive": make.DriveFactory().tag, "role": "driver"} | more


def test_a_place_says_what_it_asks_for(as_manager):
    response = as_manager.post(
        POSITIONS,
        body(
            teeth=19,
            shaft_kind="keyed",
            shaft_diameter_mm=49.2125,
            key_width_mm=12.7,
            key_standard="ASME B17.1",
        ),
    )

    assert response.status_code == 201, response.content
    shown = as_manager.get(f"{POSITIONS}KILN-C1-D1-DRV/").json()
    assert shown["shaft_diameter_mm"] == 49.2125
    assert shown["fitted"] is None


def test_it_shows_the_unit_that_sits_there(as_viewer):
    unit = make.InstallationFactory()

    fitted = as_viewer.get(f"{POSITIONS}{unit.position.tag}/").json()["fitted"]

    assert (fitted["installation"], fitted["item"]) == (unit.pk, unit.item.stock_number)


def test_every_bad_member_is_named_at_once(as_manager):
    response = as_manager.post(
        POSITIONS, body(role="pusher", teeth=5, shaft_diameter_mm=-25, hub_style="Q", drive="NOTHING")
    )

    assert response.status_code == 400
    assert {"/role", "/teeth", "/shaft_diameter_mm", "/hub_style", "/drive"} <= set(errors(response))


def test_an_inch_in_a_millimetre_member_is_asked_about(as_manager):
    response = as_manager.post(POSITIONS, body(shaft_diameter_mm=1.9375))

    assert response.status_code == 400
    assert "49.2125" in errors(response)["/shaft_diameter_mm"]


def test_it_filters_by_drive_role_and_what_sits_there(as_viewer):
    unit = make.InstallationFactory()
    bare = make.DrivenFactory(drive=unit.position.drive)

    assert names(as_viewer.get(POSITIONS, {"fitted": "true"}), "tag") == [unit.position.tag]
    assert names(as_viewer.get(POSITIONS, {"role": "driven", "drive": bare.drive.tag}), "tag") == [bare.tag]
    assert names(as_viewer.get(POSITIONS, {"item": unit.item.stock_number}), "tag") == [unit.position.tag]


def test_a_place_with_a_history_is_not_deleted(as_manager):
    unit = make.InstallationFactory()
    path = f"{POSITIONS}{unit.position.tag}/"

    assert as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"]).status_code == 409


def test_a_value_can_be_taken_back_to_not_known(as_manager):
    position = make.PositionFactory()

    shown = change(as_manager, f"{POSITIONS}{position.tag}/", {"teeth": None}).json()

    assert shown["teeth"] is None
