from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from drives.models import Installation, Position
from tests.factories import (
    MORNING,
    AreaFactory,
    DriveFactory,
    IdlerFactory,
    InspectionFactory,
    InstallationFactory,
    PositionFactory,
)
from tests.violations import refused_by_the_database, words_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)

VIOLATIONS = [
    (DriveFactory, {"strands": 11}, "strands must be from 1 to 10."),
    (DriveFactory, {"links": 5}, "links must be from 6 to 20000."),
    (DriveFactory, {"hours_per_year": 8785}, "hours_per_year must be from 0 to 8784."),
    (DriveFactory, {"ratio_tolerance_percent": -1}, "ratio_tolerance_percent must be from 0 to 100."),
    (DriveFactory, {"fitting_minutes": 10081}, "fitting_minutes must be from 0 to 10080."),
    (DriveFactory, {"temperature_c": 1001}, "temperature_c must be from -100 to 1000."),
    (DriveFactory, {"downtime_cost_per_hour": -1}, "downtime_cost_per_hour must be 0 or more."),
    (DriveFactory, {"power_kw": 0}, "power_kw must be greater than 0"),
    (DriveFactory, {"centre_adjustment_min_mm": 11}, "centre_adjustment_min_mm must not be above"),
    (
        DriveFactory,
        {"in_use_from": date(2024, 1, 2), "in_use_until": date(2024, 1, 1)},
        "in_use_from must not be after in_use_until.",
    ),
    (DriveFactory, {"lubrication": "spit"}, "is not a valid choice"),
    (DriveFactory, {"criticality": "meh"}, "is not a valid choice"),
    (DriveFactory, {"shock": "awe"}, "is not a valid choice"),
    (PositionFactory, {"teeth": 5}, "teeth must be from 6 to 400."),
    (PositionFactory, {"shaft_diameter_mm": 0}, "shaft_diameter_mm must be greater than 0"),
    (PositionFactory, {"role": "boss"}, "is not a valid choice"),
    (PositionFactory, {"shaft_kind": "square"}, "is not a valid choice"),
    (PositionFactory, {"requirement_basis": "rumour"}, "is not a valid choice"),
    (PositionFactory, {"material": "wood"}, "is not a valid choice"),
    (PositionFactory, {"hub_style": "Z"}, "is not a valid choice"),
    (PositionFactory, {"key_standard": "none"}, "is not a valid choice"),
    (IdlerFactory, {"minimum_teeth": 401}, "minimum_teeth must be from 6 to 400."),
    (IdlerFactory, {"idler_kind": "loose"}, "is not a valid choice"),
    (
        PositionFactory,
        {"in_use_from": date(2024, 1, 2), "in_use_until": date(2024, 1, 1)},
        "in_use_from must not be after in_use_until.",
    ),
    (
        InstallationFactory,
        {"removed_at": MORNING - DAY, "ended_by": "failure"},
        "removed_at must not be before installed_at.",
    ),
    (InstallationFactory, {"removed_at": MORNING + DAY}, "An end needs both removed_at and ended_by"),
    (InstallationFactory, {"ended_by": "failure"}, "An end needs both removed_at and ended_by"),
    (InstallationFactory, {"running_hours": -1}, "running_hours must be 0 or more."),
    (InstallationFactory, {"item": None}, "Give an item or a specification."),
    (InstallationFactory, {"removed_at": MORNING, "ended_by": "boredom"}, "is not a valid choice"),
    (InstallationFactory, {"mechanism": "gremlins"}, "is not a valid choice"),
    (InstallationFactory, {"age_basis": "guess"}, "is not a valid choice"),
    (InspectionFactory, {"elongation_percent": 21}, "elongation_percent must be from -1 to 20"),
    (InspectionFactory, {"running_hours": -1}, "running_hours must be 0 or more."),
]
NAMES = [f"{factory.__name__}-{'-'.join(wrong)}-{n}" for n, (factory, wrong, _) in enumerate(VIOLATIONS)]


@pytest.mark.parametrize(("factory", "wrong", "sentence"), VIOLATIONS, ids=NAMES)
def test_the_database_refuses_a_wrong_value(factory, wrong, sentence):
    refused_by_the_database(factory(), wrong)


@pytest.mark.parametrize(("factory", "wrong", "sentence"), VIOLATIONS, ids=NAMES)
def test_a_wrong_value_is_refused_in_words(factory, wrong, sentence):
    assert sentence in words_of(factory(), wrong)


def test_one_unit_sits_at_a_position():
    position = PositionFactory()
    InstallationFactory(position=position)
    second = InstallationFactory.build(position=position, item=None, installed_at=MORNING + DAY)
    second.specification = Installation.objects.get().item.specification
    assert "A unit is fitted at this position: record its removal first." in words_of(second, {})
    with pytest.raises(IntegrityError), transaction.atomic():
        second.save()


def test_an_area_code_is_unique_in_its_plant():
    area = AreaFactory()
    area.pk, area._state.adding = None, True
    assert "This plant already has an area of that code." in words_of(area, {})


def test_what_has_history_is_protected():
    unit = InstallationFactory()
    for row in (unit.position, unit.item, unit.position.drive, unit.position.drive.equipment):
        with pytest.raises(ProtectedError):
            row.delete()


def test_a_unit_that_came_off_is_no_longer_fitted():
    InstallationFactory(removed_at=MORNING + DAY, ended_by="failure")
    fitted = InstallationFactory()
    assert list(Installation.objects.still_fitted()) == [fitted]


def test_a_position_comes_with_its_whole_place_in_one_query(django_assert_num_queries):
    PositionFactory()
    with django_assert_num_queries(1):
        position = Position.objects.with_drive().get()
        plant = position.drive.equipment.area.plant
        assert (plant.code, plant.storeroom.code, plant.machine_shop.code) == ("WEIR", "MAIN", "SHOP")


def test_units_come_with_their_parts_in_one_query(django_assert_num_queries):
    InstallationFactory()
    with django_assert_num_queries(1):
        unit = Installation.objects.with_parts().get()
        shown = unit.position.drive.tag, unit.item.stock_number
    assert all(shown)
