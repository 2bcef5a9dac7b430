import pytest

from api.answers.assortment import calculate_variety
from drives.models import Cover
from inventory.models.access_scope import AccessScope, scoped_to
from tests.drives.assortment.test_variety import general, item, own, position, three_bores_and_one_bushed
from tests.jobs import get_calculated

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/assortment/variety/"


def test_the_groups_come_with_the_bound_page_by_page(as_viewer):
    _, bushed, _ = three_bores_and_one_bushed()
    position(own(item(900)), (general(20), "with_work", 5))
    answer = get_calculated(as_viewer, ADDRESS, {"limit": 1})
    assert answer.status_code == 200, answer.content
    first = answer.json()
    assert (first["count"], first["further_groups"], first["gap"]) == (2, 0, 0.0)
    assert first["saving_per_year"] == "210.00"
    assert first["results"][0]["saving_per_year"] == "180.00"
    second = as_viewer.get(first["next"]).json()
    (group,) = second["results"]
    assert second["next"] is None
    assert [one["item"] for one in group["keep"]] == [bushed.stock_number]
    assert [
        group[name] for name in ("positions", "worst_grade", "most_minutes", "value_today", "value_after")
    ] == [3, "with_work", 22, "210.00", "60.00"]


def test_limits_are_asked_for_and_wrong_ones_refused(as_viewer):
    three_bores_and_one_bushed()
    assert get_calculated(as_viewer, ADDRESS, {"most_minutes": 21}).json()["leave"] == 2
    for wrong in ({"worst_grade": "unfit"}, {"most_minutes": "-1"}, {"most_minutes": "soon"}, {"limit": 0}):
        assert as_viewer.get(ADDRESS, wrong).status_code == 400


def test_a_caller_sees_no_group_and_no_tag_of_other_plants():
    *_, places = three_bores_and_one_bushed()
    plant = places[0].drive.equipment.area.plant_id
    with scoped_to(lambda: AccessScope(frozenset({plant}), frozenset())):
        (group,) = calculate_variety("with_work").groups
    seen = {one.tag for one in places if one.drive.equipment.area.plant_id == plant}
    assert set(group.tags) == seen
    with scoped_to(lambda: AccessScope(frozenset(), frozenset())):
        assert calculate_variety("with_work").groups == ()


def test_before_the_first_run_it_says_that_cover_is_not_known(as_viewer):
    assert not Cover.objects.exists()
    found = get_calculated(as_viewer, ADDRESS).json()
    assert (found["is_cover_known"], found["results"]) == (False, [])
