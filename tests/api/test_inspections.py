import pytest

from tests import factories as make
from tests.api.records import API, errors, names, post

pytestmark = pytest.mark.django_db
INSPECTIONS = f"{API}inspections/"
MONDAY = "2026-11-16T08:00:00+01:00"


def body(**more):
    return {"position": make.PositionFactory().tag, "at": MONDAY, "elongation_percent": 2.1} | more


def test_what_was_measured_is_kept(as_storeroom):
    shown = post(as_storeroom, INSPECTIONS, body(hooked_teeth=True)).json()

    assert (shown["elongation_percent"], shown["hooked_teeth"]) == (2.1, True)


def test_an_inspection_says_something(as_storeroom):
    response = post(as_storeroom, INSPECTIONS, body(elongation_percent=None))

    assert response.status_code == 400


@pytest.mark.parametrize("value", [21, -2, "2", True])
def test_an_impossible_elongation_is_refused(as_storeroom, value):
    assert "/elongation_percent" in errors(post(as_storeroom, INSPECTIONS, body(elongation_percent=value)))


def test_nobody_inspects_tomorrow(as_storeroom):
    response = post(as_storeroom, INSPECTIONS, body(at="2099-01-01T00:00:00Z"))

    assert response.status_code == 400
    assert "/at" in errors(response)


def test_it_filters_by_place_and_elongation(as_viewer):
    worn = make.InspectionFactory(elongation_percent="2.9")
    make.InspectionFactory(elongation_percent="0.4")

    assert names(as_viewer.get(INSPECTIONS, {"elongation_percent__gte": "2"}), "id") == [worn.pk]
    assert names(as_viewer.get(INSPECTIONS, {"position": worn.position.tag}), "id") == [worn.pk]
