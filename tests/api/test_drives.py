import pytest

from tests import factories as make
from tests.api.records import API, change, errors, names

pytestmark = pytest.mark.django_db
DRIVES = f"{API}drives/"


def body(**more):
    return {
        "tag": "KILN-C1-D1",
        "equipment": make.EquipmentFactory().tag,
        "name": "Head drive of the kiln conveyor",
    } | more


def test_a_drive_is_known_by_its_tag_and_fills_in_its_chain(as_manager):
    response = as_manager.post(DRIVES, body(chain="60", strands=2, power_kw=5.5))

    assert response.status_code == 201, response.content
    assert response["Location"].endswith("/drives/KILN-C1-D1/")
    shown = as_manager.get(f"{DRIVES}KILN-C1-D1/").json()
    assert (shown["chain"], shown["pitch_mm"], shown["transverse_pitch_mm"]) == ("12A", 19.05, 22.78)


def test_a_chain_outside_any_standard_keeps_its_own_dimensions(as_manager):
    own = {"pitch_mm": 30.0, "roller_diameter_mm": 15.0, "inner_width_mm": 18.0}

    shown = as_manager.post(DRIVES, body(**own)).json()

    assert {name: shown[name] for name in own} == own
    assert not shown["chain"]


def test_it_lists_its_positions(as_viewer):
    position = make.PositionFactory()

    assert as_viewer.get(f"{DRIVES}{position.drive.tag}/").json()["positions"] == [position.tag]


def test_every_bad_member_is_named_at_once(as_manager):
    response = as_manager.post(
        DRIVES,
        body(chain="09Q", power_kw=-1, environment=["tropical"], hours_per_year=9000, equipment="NOTHING"),
    )

    assert response.status_code == 400
    assert {"/chain", "/power_kw", "/environment/0", "/hours_per_year", "/equipment"} <= set(errors(response))


def test_an_adjustment_has_its_ends_in_order(as_manager):
    response = as_manager.post(DRIVES, body(centre_adjustment_min_mm=5, centre_adjustment_max_mm=-5))

    assert response.status_code == 400
    assert "centre_adjustment_min_mm" in response.json()["detail"]


def test_it_filters_by_what_surrounds_it(as_viewer):
    wet = make.DriveFactory(environment=["washdown", "chloride"])
    make.DriveFactory(environment=["clean_dry"])

    assert names(as_viewer.get(DRIVES, {"environment": "washdown"}), "tag") == [wet.tag]


def test_it_filters_by_power_and_chain(as_viewer):
    strong = make.DriveFactory(power_kw=7.5)
    make.DriveFactory(power_kw=1.1)

    assert names(as_viewer.get(DRIVES, {"power_kw__gte": "5", "chain": "08B"}), "tag") == [strong.tag]


def test_a_drive_that_has_places_is_not_deleted(as_manager):
    position = make.PositionFactory()
    path = f"{DRIVES}{position.drive.tag}/"

    response = as_manager.delete(path, HTTP_IF_MATCH=as_manager.get(path)["ETag"])

    assert response.status_code == 409
    assert position.tag in response.content.decode()


def test_a_change_leaves_the_rest_as_it_was(as_manager):
    drive = make.DriveFactory()

    shown = change(as_manager, f"{DRIVES}{drive.tag}/", {"power_kw": 2.2}).json()

    assert (shown["power_kw"], shown["links"]) == (2.2, 114)
