import pytest

from tests import factories as make
from tests.api.records import API, errors, names, post

pytestmark = pytest.mark.django_db
INSTALLATIONS = f"{API}installations/"
MONDAY = "2026-11-16T08:00:00+01:00"
FRIDAY = "2026-11-20T08:00:00+01:00"


def body(**more):
    return {
        "position": make.PositionFactory().tag,
        "item": make.ItemFactory().stock_number,
        "installed_at": MONDAY,
    } | more


def test_a_unit_is_fitted_and_comes_off_again(as_storeroom):
    unit = post(as_storeroom, INSTALLATIONS, body(installed_why="new chain and sprocket")).json()

    ended = post(
        as_storeroom,
        f"{INSTALLATIONS}{unit['id']}/remove/",
        {"removed_at": FRIDAY, "ended_by": "limit_reached", "mechanism": "wear"},
        key="k-2",
    )

    assert ended.status_code == 200, ended.content
    assert ended.json()["ended_by"] == "limit_reached"
    # Four days on a drive of 6,000 hours a year.
    assert ended.json()["running_hours"] == pytest.approx(4 * 24 * 6000 / 8760, abs=0.1)
    assert ended.json()["age_basis"] == "calendar"


def test_a_second_unit_on_one_place_is_refused(as_storeroom):
    unit = make.InstallationFactory()

    response = post(as_storeroom, INSTALLATIONS, body(position=unit.position.tag))

    assert response.status_code == 409
    assert unit.position.tag in response.json()["detail"] or "fitted" in response.json()["detail"]


def test_nothing_ends_before_it_begins(as_storeroom):
    unit = post(as_storeroom, INSTALLATIONS, body(installed_at=FRIDAY)).json()

    response = post(
        as_storeroom,
        f"{INSTALLATIONS}{unit['id']}/remove/",
        {"removed_at": MONDAY, "ended_by": "failure"},
        key="k-2",
    )

    assert response.status_code == 400
    assert "/removed_at" in errors(response)


def test_a_missing_mechanism_never_blocks_an_end(as_storeroom):
    unit = post(as_storeroom, INSTALLATIONS, body()).json()

    response = post(
        as_storeroom,
        f"{INSTALLATIONS}{unit['id']}/remove/",
        {"removed_at": FRIDAY, "ended_by": "failure"},
        key="k-2",
    )

    assert response.status_code == 200


def test_every_bad_member_is_named_at_once(as_storeroom):
    response = post(
        as_storeroom, INSTALLATIONS, {"position": "NOWHERE", "item": "NOTHING", "installed_at": "yesterday"}
    )

    assert response.status_code == 400
    assert set(errors(response)) == {"/position", "/item", "/installed_at"}


def test_it_says_what_was_fitted(as_storeroom):
    response = post(as_storeroom, INSTALLATIONS, body(item=None))

    assert "/item" in errors(response)


def test_history_is_not_changed(as_manager):
    unit = make.InstallationFactory()

    assert as_manager.patch(f"{INSTALLATIONS}{unit.pk}/", {"note": "x"}, HTTP_IF_MATCH="*").status_code == 405


def test_it_filters_by_place_and_by_what_still_sits_there(as_viewer):
    unit = make.InstallationFactory()
    make.InstallationFactory()

    assert names(as_viewer.get(INSTALLATIONS, {"position": unit.position.tag, "fitted": "true"}), "id") == [
        unit.pk
    ]


def test_a_viewer_fits_nothing(as_viewer):
    assert post(as_viewer, INSTALLATIONS, body()).status_code == 403
