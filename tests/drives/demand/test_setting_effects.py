"""What a setting changes when it is halved or doubled: hand-built recommendations instead of a plant."""

import pytest

from drives.demand import setting_effects as module
from drives.demand.setting_effects import setting_effects
from inventory.models import Recommendation
from inventory.stocking.demand_settings import FORMS, SHIPPED
from tests.drives.demand.demand_records import day

pytestmark = pytest.mark.django_db


def advice(reorder_point, order_up_to, *, model="gamma_poisson", rate=1.0, order_by=None):
    dates = [{"order_by": order_by}] if order_by else []
    return Recommendation(
        reorder_point=reorder_point,
        order_up_to=order_up_to,
        model=model,
        rate_per_year=rate,
        evidence={"inspections": dates},
    )


BEFORE = {(1, 1): advice(1, 2), (2, 1): advice(0, 1, rate=3.0, order_by="2027-01-04"), (3, 1): advice(5, 6)}
AFTER = {
    (1, 1): advice(2, 5, rate=1.5),
    (2, 1): advice(0, 1, rate=4.5, model="weibull_renewal", order_by="2027-02-01"),
    (4, 1): advice(7, 8),
}


@pytest.fixture
def tried(monkeypatch):
    """Every set of settings that advice was asked for; other than the shipped ones give other advice."""
    asked = []

    def answer(as_of, settings):
        asked.append(settings)
        return BEFORE if settings == SHIPPED else AFTER

    monkeypatch.setattr(module, "_advice", answer)
    return asked


def test_each_setting_is_halved_and_doubled_within_its_range(tried):
    effects = list(setting_effects(day(0)))

    assert {effect.setting for effect in effects} == set(FORMS)
    for name, form in FORMS.items():
        shipped, values = getattr(SHIPPED, name), [one.value for one in effects if one.setting == name]
        assert all(form.least <= value <= form.most for value in values)
        assert (
            all(value in (form.least, form.most, shipped / 2, 2 * shipped) for value in values)
            or form.is_whole
        )
        assert (min(values) < shipped) == (form.least < shipped)
        assert (max(values) > shipped) == (form.most > shipped)


def test_one_setting_at_a_time_is_changed(tried):
    effects = list(setting_effects(day(0)))

    assert tried[0] == SHIPPED
    for effect, settings in zip(effects, tried[1:], strict=True):
        changed = {name for name in FORMS if getattr(settings, name) != getattr(SHIPPED, name)}
        assert (changed, getattr(settings, effect.setting)) == ({effect.setting}, effect.value)


def test_what_changes_is_counted_over_the_parts_in_both(tried):
    """By hand: of two parts in both, one has other levels and three pieces more, one another model and date; 4 to 6 a year."""
    effect = next(setting_effects(day(0)))

    assert (effect.levels_changed, effect.models_changed, effect.order_dates_changed) == (1, 1, 1)
    assert effect.order_up_to_change == 3
    assert effect.rate_change == pytest.approx(0.5)


def test_a_plant_without_demand_changes_by_nothing(monkeypatch):
    monkeypatch.setattr(module, "_advice", lambda as_of, settings: {(1, 1): advice(0, 1, rate=0.0)})

    assert {effect.rate_change for effect in setting_effects(day(0))} == {0.0}
