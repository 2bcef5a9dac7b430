"""Settings that choose how demand is modelled, over the API."""

import pytest
from django.core.exceptions import ValidationError

from drives.demand.pools import load_demand_pools
from inventory.models import PlantSetting
from inventory.stocking.demand_settings import FORMS
from tests.api.records import change
from tests.drives.demand.demand_records import day
from tests.factories import PlantSettingFactory

pytestmark = pytest.mark.django_db
PATH = "/api/v1/demand-settings/"
ALL = "/api/v1/stocking/settings/"


def refused(response):
    assert response.status_code == 400, response.content
    return {row["pointer"]: row["code"] for row in response.json()["errors"]}


def test_all_are_listed_with_the_value_in_force(as_viewer):
    PlantSettingFactory(name="fewest_worn_out", value=8)
    rows = {row["name"]: row for row in as_viewer.get(ALL).json()["settings"]}
    assert rows.keys() == FORMS.keys()
    row = rows["fewest_worn_out"]
    assert (row["value"], row["shipped_value"], row["unit"]) == (8, 5, "lives")
    assert (row["least"], row["most"]) == (2, 1000)
    assert row["reason"]


@pytest.mark.parametrize("value", [1, 1001, 5.5, -5])
def test_beyond_its_range_a_value_is_refused_and_nothing_is_written(as_manager, value):
    body = {"name": "fewest_worn_out", "value": value}
    assert refused(as_manager.post(PATH, body)) == {"/value": "setting_out_of_range"}
    assert not PlantSetting.objects.exists()
    PlantSettingFactory(name="fewest_worn_out", value=8)
    answer = change(as_manager, f"{PATH}fewest_worn_out/", {"value": value})
    assert refused(answer) == {"/value": "setting_out_of_range"}
    assert PlantSetting.objects.get().value == 8
    with pytest.raises(ValidationError):
        PlantSetting(name="fewest_worn_out", value=value).full_clean()


def test_a_name_that_is_no_setting_is_refused(as_manager):
    assert "/name" in refused(as_manager.post(PATH, {"name": "warmth", "value": 3}))


def test_a_setting_is_set_once(as_manager):
    PlantSettingFactory(name="fewest_worn_out", value=8)
    assert as_manager.post(PATH, {"name": "fewest_worn_out", "value": 7}).status_code == 409


def test_what_is_set_counts_in_the_next_demand():
    PlantSettingFactory(name="same_need_days", value=2)
    assert load_demand_pools(day(10)).settings.same_need_days == 2
