"""The table of settings: every one with a unit, a range and a reason."""

import pytest

from inventory.stocking.demand_settings import FORMS, SHIPPED, DemandSettings


@pytest.mark.parametrize("name", FORMS)
def test_each_has_unit_range_and_reason_and_can_be_halved_or_doubled(name):
    form = FORMS[name]
    assert form.unit
    assert form.reason.endswith(".")
    assert form.least < form.shipped < form.most
    assert form.allows(form.shipped)
    assert any(form.allows(value) for value in (form.shipped * 2, form.shipped / 2))


@pytest.mark.parametrize("name", FORMS)
def test_beyond_its_range_it_is_refused(name):
    form = FORMS[name]
    for wrong in (form.least - abs(form.least) - 1, form.most * 2 + 1):
        assert not form.allows(wrong)
        with pytest.raises(ValueError, match=f"`{name}`"):
            DemandSettings.with_own({name: wrong})


def test_what_a_plant_sets_replaces_the_start_value_alone():
    own = DemandSettings.with_own({"fewest_worn_out": 8.0, "same_need_days": 3.5})
    assert (own.fewest_worn_out, own.same_need_days) == (8, 3.5)
    assert own.own() == {"fewest_worn_out": 8, "same_need_days": 3.5}
    assert SHIPPED.own() == {}


def test_a_setting_that_counts_takes_whole_numbers():
    assert not FORMS["fewest_worn_out"].allows(5.5)
    assert FORMS["same_need_days"].allows(5.5)
    with pytest.raises(ValueError, match="`warmth` is no setting"):
        DemandSettings.with_own({"warmth": 1})
